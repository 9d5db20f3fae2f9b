"""Bytes of an XLSX, XLS or ODS workbook into rows of text, sheet by sheet; does not know what the columns mean.

What is packed is unpacked with a running count and looked through first (`xlsx_archive`; this also finds formulas that
were never calculated and results that are errors). Then a process of its own lets the spreadsheet library read the
values, with a limit on memory and time (`workbook_child`), so that no file can take the studio down with it.
"""

import io
import json
import subprocess
import sys
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree.ElementTree import ParseError

from defusedxml.ElementTree import fromstring

from studio.sheets.cells import (
    HEADING_SEARCH_ROWS,
    MAX_COLUMNS,
    MAX_ROWS,
    CellTrouble,
    UnreadableFile,
    clean_cell,
    filled_cells,
    gettext_noop,
    too_many_rows,
    with_length_trouble,
)
from studio.sheets.workbook_child import PROTECTED
from studio.sheets.xlsx_archive import SheetWalk, damaged, unpacked_parts, walked

OLD_OFFICE = b"\xd0\xcf\x11\xe0"
# The reading itself takes a part of a second; a machine that is busy with other things gets its time.
_MAX_SECONDS = 60
_CHILD = Path(__file__).with_name("workbook_child.py")
_ODS_TYPE = "application/vnd.oasis.opendocument.spreadsheet"
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"

_ERROR_VALUES = frozenset(
    {"#REF!", "#N/A", "#NAME?", "#VALUE!", "#DIV/0!", "#NULL!", "#NUM!", "#SPILL!", "#CALC!"}
)
NumberedRow = tuple[int, list[str], list[CellTrouble]]


@dataclass(frozen=True)
class SheetRows:
    """The filled rows of one visible sheet, or why it cannot be taken."""

    name: str
    rows: list[NumberedRow] = field(default_factory=list)
    trouble: UnreadableFile | None = None


def read_workbook(content: bytes) -> tuple[str, list[SheetRows]]:
    """("xlsx", "xls" or "ods", the visible sheets that hold anything); UnreadableFile where it is no workbook."""
    if content.startswith(OLD_OFFICE):
        return "xls", [_sheet(each, SheetWalk()) for each in _in_its_own_process(content, _not_readable())]
    try:
        parts = unpacked_parts(content)
        walks, troubles = _walks(parts)
    except UnreadableFile:
        raise
    except Exception as error:  # the archive and XML libraries raise a dozen kinds for a damaged file
        raise damaged() from error
    kind = "ods" if "content.xml" in parts else "xlsx"
    found = _in_its_own_process(_packed(parts, kind), damaged())
    named = {each["name"] for each in found}
    sheets = [_sheet(each, walks.get(each["name"], SheetWalk()), troubles.get(each["name"])) for each in found]
    # A sheet with formulas that were never calculated, or of too many cells, may have nothing that a library reads.
    sheets += [
        _sheet({"name": name, "rows": []}, walks.get(name, SheetWalk()), troubles.get(name))
        for name in [*walks, *troubles] if name not in named
    ]
    return kind, [sheet for sheet in sheets if sheet.rows or sheet.trouble]


def _not_readable() -> UnreadableFile:
    return UnreadableFile(
        gettext_noop(
            "This spreadsheet is protected or damaged. Please save it as .xlsx or CSV, without a password."
        )
    )


def _in_its_own_process(content: bytes, refusal: UnreadableFile) -> list[dict]:
    # One row more than there may be, so that too many are seen, and one column.
    limits = (str(MAX_COLUMNS + 1), str(MAX_ROWS + HEADING_SEARCH_ROWS + 1))
    try:
        # This Python, a file of ours and two numbers; what was brought in is only read from its standard input.
        done = subprocess.run(  # noqa: S603
            [sys.executable, "-I", str(_CHILD), *limits], input=content, capture_output=True, timeout=_MAX_SECONDS,
            check=False, env={},
        )
    except subprocess.TimeoutExpired as error:
        raise refusal from error
    if done.returncode != 0:
        raise _not_readable() if done.returncode == PROTECTED else refusal
    return json.loads(done.stdout)


def _packed(parts: Mapping[str, bytes], kind: str) -> bytes:
    """The parts that were looked through, and nothing else, as an archive."""
    page = io.BytesIO()
    with zipfile.ZipFile(page, "w", zipfile.ZIP_STORED) as archive:
        if kind == "ods":
            archive.writestr("mimetype", _ODS_TYPE)
        for name, xml in parts.items():
            archive.writestr(name, xml)
    return page.getvalue()


def _walks(parts: Mapping[str, bytes]) -> tuple[dict[str, SheetWalk], dict[str, UnreadableFile]]:
    """(sheet's name -> what a look at its XML found, sheet's name -> why it is too much) of the visible sheets."""
    walks: dict[str, SheetWalk] = {}
    troubles: dict[str, UnreadableFile] = {}
    for name, path in _sheet_paths(parts):
        try:
            walks[name] = walked(parts[path])
        except UnreadableFile as trouble:
            if str(trouble) == str(damaged()):
                raise
            troubles[name] = trouble
    return walks, troubles


def _sheet_paths(parts: Mapping[str, bytes]) -> list[tuple[str, str]]:
    """(name, part) of each visible sheet of an XLSX, in order; [] for an OpenDocument."""
    if "content.xml" in parts:
        return []
    try:
        relations = fromstring(parts["xl/_rels/workbook.xml.rels"])
        book = fromstring(parts["xl/workbook.xml"])
    except (KeyError, ParseError) as error:
        raise damaged() from error
    targets = {each.get("Id"): each.get("Target", "").lstrip("/") for each in relations}
    found = []
    for sheet in book.iter():
        if not sheet.tag.endswith("}sheet") or sheet.get("state", "visible") != "visible":
            continue
        target = targets.get(sheet.get(_RELATION), "")
        path = target if target in parts else f"xl/{target}"
        if path in parts and "/worksheets/" in path:
            found.append((sheet.get("name", ""), path))
    return found


def _sheet(read: Mapping, walk: SheetWalk, trouble: UnreadableFile | None = None) -> SheetRows:
    """A sheet's rows, cleaned, each with what cannot be trusted in it."""
    if trouble is not None:
        return SheetRows(read["name"], trouble=trouble)
    by_number = {number: cells for number, cells in read["rows"]}
    marked = walk.uncalculated | walk.errors
    wanted = sorted(by_number.keys() | {row for row, column in marked if column <= MAX_COLUMNS})
    if len(wanted) > MAX_ROWS + HEADING_SEARCH_ROWS:
        return SheetRows(read["name"], trouble=too_many_rows())
    rows = []
    for number in wanted:
        kept, troubles = with_length_trouble([clean_cell(cell) for cell in by_number.get(number, [])])
        width = max([len(kept), *(column for row, column in marked if row == number and column <= MAX_COLUMNS)])
        kept += [""] * (width - len(kept))
        troubles += [trouble for at, cell in enumerate(kept) if (trouble := _trouble(number, at, cell, walk))]
        if troubles or filled_cells(kept):
            rows.append((number, kept, troubles))
    return SheetRows(read["name"], rows)


def _trouble(number: int, at: int, cell: str, walk: SheetWalk) -> CellTrouble | None:
    if (number, at + 1) in walk.uncalculated or cell.startswith("="):
        return CellTrouble(at, "formula")
    return CellTrouble(at, "error_value") if (number, at + 1) in walk.errors or cell in _ERROR_VALUES else None
