"""Reads a printed paper back: its words, and as a screen reader every cell with its headers, every drawing's words.

By poppler and by pikepdf, which know nothing of how the file was made.
"""
import io
import re
import subprocess
from pathlib import Path

import pikepdf

_CELL = re.compile(r"^ *(TH|TD)(?: <([^>]*)>)?:?$")
_OTHER_ELEMENT = re.compile(r"^ *(TR|THead|TBody|Table|H\d|P|Document|Part)\b")


def read(tool: str, printed: bytes, tmp_path: Path) -> str:
    """What a tool of poppler says of a printed paper."""
    file = tmp_path / "printed.pdf"
    file.write_bytes(printed)
    arguments = [*tool.split(), str(file), *(["-"] if tool.startswith("pdftotext") else [])]
    return subprocess.run(arguments, check=True, capture_output=True, text=True).stdout


def cells(printed: bytes, tmp_path: Path) -> list[tuple[str, list[str]]]:
    """(words, words of its headers) of every cell that is no header, in the order of the page."""
    found: list[dict] = []
    is_in_cell = False
    for row in read("pdfinfo -struct-text", printed, tmp_path).splitlines():
        if begins := _CELL.match(row):
            found.append({"kind": begins[1], "id": begins[2], "headers": [], "words": ""})
            is_in_cell = True
        elif _OTHER_ELEMENT.match(row):
            is_in_cell = False
        elif is_in_cell and "/Headers" in row:
            found[-1]["headers"] = re.findall(r"\(([^)]*)\)", row)
        elif is_in_cell and row.strip().startswith('"'):
            found[-1]["words"] += row.strip().strip('"')
    names = {each["id"]: " ".join(each["words"].split()) for each in found if each["id"]}
    assert len(names) == sum(each["id"] is not None for each in found), "a name stands twice"
    return [
        (" ".join(each["words"].split()), [names[header] for header in each["headers"]])
        for each in found if each["kind"] == "TD"
    ]


def drawings(printed: bytes) -> list[str]:
    """The words of every drawing (PDF/UA-1, 7.3: each has some)."""
    with pikepdf.open(io.BytesIO(printed)) as whole:
        return [str(part.get("/Alt", "")) for part in whole.objects
                if isinstance(part, pikepdf.Dictionary) and part.get("/S") == pikepdf.Name.Figure]
