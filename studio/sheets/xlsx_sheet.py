"""Bytes of an XLSX workbook into a table of text; does not know what the columns mean.

Three passes: unpack with a running count, walk the sheet's XML and count what is in it (this also finds
formulas that were never calculated), and only then let the spreadsheet library read the values.
"""

import datetime as dt
import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager

from openpyxl import Workbook, load_workbook

from studio.sheets.cells import (
    MAX_COLUMNS,
    CellTrouble,
    HeadingScore,
    Sheet,
    UnreadableFile,
    clean_cell,
    filled_cells,
    table,
    with_length_trouble,
)
from studio.sheets.xlsx_archive import damaged, unpacked_parts, walked

_SPREADSHEET_XML = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_EMPTY_SHEET = b'<worksheet xmlns="' + _SPREADSHEET_XML + b'"><sheetData/></worksheet>'
_EMPTY_TEXTS = b'<sst xmlns="' + _SPREADSHEET_XML + b'"/>'
# One more than the limit, so that a table that is too wide is seen.
_NOTHING = (None,) * (MAX_COLUMNS + 1)
NumberedRow = tuple[int, list[str], list[CellTrouble]]

_ERROR_VALUES = frozenset(
    {"#REF!", "#N/A", "#NAME?", "#VALUE!", "#DIV/0!", "#NULL!", "#NUM!", "#SPILL!", "#CALC!"}
)
# How a workbook writes a character that XML cannot hold (ECMA-376 part 1, 22.9.2.19, ST_Xstring).
_ESCAPED_CHARACTER = re.compile(r"_x([0-9A-Fa-f]{4})_")
# Beyond 15 digits a spreadsheet number is no longer exact (IEEE 754 double precision).
_EXACT_DIGITS = 15


def read_xlsx(content: bytes, heading_score: HeadingScore | None = None) -> Sheet:
    """The table on the first visible sheet that holds anything; see `studio.sheet_file.read_sheet`."""
    try:
        parts = unpacked_parts(content)
        rows = _first_filled_sheet(parts)
    except UnreadableFile:
        raise
    except Exception as error:  # the archive and spreadsheet libraries raise a dozen kinds for a damaged file
        raise damaged() from error
    return table(rows, kind="xlsx", heading_score=heading_score, cells_can_shift=False)


def _first_filled_sheet(parts: dict[str, bytes]) -> list[NumberedRow]:
    """The filled rows of the first visible sheet that has any; [] where none has.

    The library reads every sheet when it opens a workbook, so it is first given one with all sheets emptied,
    to learn their order, and then one that holds only the sheet wanted.
    """
    sheets = {name: _EMPTY_SHEET for name in parts if "/worksheets/" in name}
    texts = {name: _EMPTY_TEXTS for name in parts if name.lower().endswith("sharedstrings.xml")}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library warns of parts it leaves out; nothing here needs them
        for path in _visible_sheet_paths(parts | sheets | texts):
            walk = walked(parts[path])
            if walk.filled_rows:
                return _rows_of(path, parts | sheets | {path: parts[path]}, walk.uncalculated)
    return []


@contextmanager
def _opened(parts: dict[str, bytes]) -> Iterator[Workbook]:
    repacked = io.BytesIO()
    with zipfile.ZipFile(repacked, "w", zipfile.ZIP_STORED) as archive:
        for name, xml in parts.items():
            archive.writestr(name, xml)
    workbook = load_workbook(repacked, read_only=True, data_only=True, keep_links=False)
    try:
        yield workbook
    finally:
        workbook.close()


def _visible_sheet_paths(parts: dict[str, bytes]) -> list[str]:
    with _opened(parts) as workbook:
        return [sheet._worksheet_path for sheet in workbook.worksheets if sheet.sheet_state == "visible"]


def _rows_of(path: str, parts: dict[str, bytes], uncalculated: set[tuple[int, int]]) -> list[NumberedRow]:
    with _opened(parts) as workbook:
        worksheet = next(sheet for sheet in workbook.worksheets if sheet._worksheet_path == path)
        return list(_filled_rows(worksheet, uncalculated))


def _filled_rows(worksheet, uncalculated: set[tuple[int, int]]) -> Iterator[NumberedRow]:
    worksheet.reset_dimensions()  # a stale or lying dimension would cut the table
    values_by_row = worksheet.iter_rows(min_row=1, min_col=1, max_col=len(_NOTHING), values_only=True)
    for number, values in enumerate(values_by_row, start=1):
        columns = [c for c in range(MAX_COLUMNS) if (number, c + 1) in uncalculated] if uncalculated else []
        if not columns and values == _NOTHING:
            continue
        cells, troubles = with_length_trouble([clean_cell(_text(value)) for value in values])
        if not columns and not filled_cells(cells):
            continue
        for column, cell in enumerate(cells):
            if column in columns or cell.startswith("="):
                troubles.append(CellTrouble(column, "formula"))
            elif cell in _ERROR_VALUES:
                troubles.append(CellTrouble(column, "error_value"))
        yield number, cells, troubles


def _text(value: object) -> str:
    """A cell's value as text: dates in ISO form, whole numbers without a decimal point, nothing as ""."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(" ", "seconds")
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, int):
        return str(value) if abs(value) < 10**_EXACT_DIGITS else f"{value:e}"
    if isinstance(value, float):
        whole = value.is_integer() and abs(value) < 10**_EXACT_DIGITS
        return str(int(value)) if whole else format(value, f".{_EXACT_DIGITS}g")
    return _ESCAPED_CHARACTER.sub(lambda found: chr(int(found[1], 16)), str(value))
