"""Bytes of a CSV, XLSX, XLS or ODS file into a table of text, or one clear error; not what the columns mean."""

from studio.sheets.cells import (
    MAX_BYTES,
    MAX_CELL_CHARS,
    MAX_COLUMNS,
    MAX_ROWS,
    MEGABYTE,
    CellTrouble,
    HeadingScore,
    Sheet,
    SheetRow,
    UnreadableFile,
    gettext_noop,
    texts_under,
)
from studio.sheets.csv_sheet import read_csv
from studio.sheets.several import ALL, taken_together
from studio.sheets.workbook import OLD_OFFICE, read_workbook
from studio.sheets.xlsx_archive import MAX_UNPACKED_BYTES

__all__ = [
    "ALL", "MAX_BYTES", "MAX_CELL_CHARS", "MAX_COLUMNS", "MAX_ROWS", "MAX_UNPACKED_BYTES", "CellTrouble", "Sheet",
    "SheetRow", "UnreadableFile", "read_sheet", "texts_under",
]

# First bytes of a packed workbook, and of what people bring by mistake (each format's own signature).
_ZIP, _PDF = (b"PK\x03\x04", b"PK\x05\x06"), b"%PDF"


def read_sheet(
    content: bytes, filename: str, *, heading_score: HeadingScore | None = None, wanted: str = "",
    most_rows: int = MAX_ROWS, most_bytes: int = MAX_BYTES,
) -> Sheet:
    """The table in a file.

    content: the bytes. What they are is told from the bytes; `filename` only words the error for a web page.
    most_rows, most_bytes: of a CSV file; a workbook never has more than MAX_ROWS and MAX_BYTES.
    wanted: the number of a sheet, from 0, as text, or ALL; "" takes the sheets that are alike (`sheets.several`).
    heading_score: how many of a row's cells are headings the caller knows; the best of the first rows becomes
    the heading row, so a title above it is passed over. Without it, the first row with two filled cells.

    Rows: blank ones are left out; `number` counts from 1 as a spreadsheet does, quoted line breaks apart.
    Cells: one per heading, cleaned (see `studio.sheets.cells.clean_cell`); dates of a workbook as ISO text; a
    formula as its saved result. A cell that cannot be trusted is named in the row's `troubles`.
    CSV: UTF-8 or UTF-16 with a byte order mark, UTF-8 without, Windows-1252; tab, semicolon, comma or bar.

    Raises UnreadableFile, and nothing else, for a file above MAX_BYTES, MAX_ROWS, MAX_COLUMNS or
    MAX_UNPACKED_BYTES, an empty one, one without rows below its headings, a quotation mark left open, and
    whatever is no table.

    >>> sheet = read_sheet("Name;Born\\nZoë Moss ;2014-03-25\\n".encode("cp1252"), "roster.csv")
    >>> sheet.headings, sheet.rows[0].cells, sheet.delimiter, sheet.encoding
    (('Name', 'Born'), ('Zoë Moss', '2014-03-25'), ';', 'windows-1252')
    """
    is_workbook = content.startswith((*_ZIP, OLD_OFFICE))
    limit = MAX_BYTES if is_workbook else most_bytes
    if len(content) > limit:
        raise UnreadableFile(
            gettext_noop(
                "The file is larger than %(limit)s MB. Please save only the table, without pictures."
            ),
            limit=limit // MEGABYTE,
        )
    if is_workbook:
        kind, sheets = read_workbook(content)
        return taken_together(sheets, kind=kind, heading_score=heading_score, wanted=wanted)
    if content.startswith(_PDF) or _is_web_page(content, filename):
        raise UnreadableFile(
            gettext_noop("This is a page to look at, not a table. Please save the table as CSV or .xlsx.")
        )
    return read_csv(content, heading_score, most_rows=most_rows)


def _is_web_page(content: bytes, filename: str) -> bool:
    """Some programs export a web page and call it .xls."""
    start = content[:400].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    marked = start.startswith((b"<html", b"<!doctype", b"<?xml"))
    return marked or (
        start.startswith(b"<") and filename.lower().endswith((".xls", ".xlsx", ".html", ".htm"))
    )
