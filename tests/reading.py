"""Reads an answer as a person would: the text of a page, of what is printed, of a spreadsheet, of an archive."""
import io
import re
import subprocess
import zipfile

import openpyxl

from progress.views.papers.spreadsheets import XLSX


def words_of(answer) -> str:
    """The text of an answer; of a PDF what poppler's pdftotext reads in it, of a workbook its cells."""
    content = b"".join(answer.streaming_content) if answer.streaming else answer.content
    # A form's token is random and may spell a name as short as Ama.
    return re.sub(r"\b[A-Za-z0-9]{64}\b", "", _text(content, answer.headers.get("Content-Type")))


def _text(content: bytes, kind: str | None) -> str:
    if kind == "application/zip":
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            return "\n".join(_text(archive.read(name), None) for name in archive.namelist())
    if kind == XLSX:
        sheets = openpyxl.load_workbook(io.BytesIO(content)).worksheets
        return "\n".join(str(cell) for sheet in sheets for row in sheet.iter_rows(values_only=True) for cell in row)
    if content.startswith(b"%PDF"):
        return subprocess.run(["pdftotext", "-", "-"], input=content, check=True, capture_output=True).stdout.decode()
    return content.decode()
