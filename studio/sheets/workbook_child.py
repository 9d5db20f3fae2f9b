"""Reads a workbook in a process of its own, which may use so much memory and time and no more; see `workbook`.

Run as a script: the workbook's bytes come in, one JSON list of sheets goes out. Whatever the file does to the reader
(cells at the far ends of a sheet, parts within parts) ends this process and nothing else.
"""

import datetime as dt
import io
import json
import math
import sys
from collections.abc import Iterator

from python_calamine import CalamineSheet, PasswordError, SheetTypeEnum, SheetVisibleEnum, load_workbook

try:
    import resource
except ImportError:  # where it is missing, the time given by the caller still holds
    resource = None

# A full list needs 60 MB. Own choice.
MEMORY_BYTES = 700_000_000
PROCESSOR_SECONDS = 20
# Beyond 15 digits a spreadsheet number is no longer exact (IEEE 754 double precision).
_EXACT_DIGITS = 15
PROTECTED = 3


def limit_this_process() -> None:
    if resource is None:
        return
    for kind, most in ((resource.RLIMIT_AS, MEMORY_BYTES), (resource.RLIMIT_CPU, PROCESSOR_SECONDS)):
        try:
            resource.setrlimit(kind, (most, most))
        except (ValueError, OSError):  # a system that does not know this limit
            continue


def text_of(value: object) -> str:
    """A cell's value as text: dates in ISO form, whole numbers without a decimal point, nothing as ""."""
    if value is None or isinstance(value, str):
        return value or ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(" ", "seconds")
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, int | float):
        if not math.isfinite(value):
            return "#NUM!"
        whole = float(value).is_integer() and abs(value) < 10**_EXACT_DIGITS
        return str(int(value)) if whole else format(value, f".{_EXACT_DIGITS}g")
    return str(value)


def filled_rows(sheet: CalamineSheet, columns: int, rows: int) -> Iterator[tuple[int, list[str]]]:
    """(number as the spreadsheet counts, cells from column A on) of the first `rows` rows that hold anything."""
    # The library begins at row 1, but at the first column that holds anything.
    left = sheet.start[1] if sheet.start else 0
    found = 0
    for number, values in enumerate(sheet.iter_rows(), start=1):
        if not any(value not in ("", None) for value in values):
            continue
        yield number, [*[""] * left, *(text_of(value) for value in values)][:columns]
        found += 1
        if found >= rows:
            return


def main(columns: int, rows: int) -> int:
    limit_this_process()
    try:
        book = load_workbook(io.BytesIO(sys.stdin.buffer.read()))
    except PasswordError:
        return PROTECTED
    seen = [
        (at, sheet.name) for at, sheet in enumerate(book.sheets_metadata)
        if sheet.typ == SheetTypeEnum.WorkSheet and sheet.visible == SheetVisibleEnum.Visible
    ]
    sheets = [
        {"name": name, "rows": list(filled_rows(book.get_sheet_by_index(at), columns, rows))} for at, name in seen
    ]
    json.dump([sheet for sheet in sheets if sheet["rows"]], sys.stdout)
    return 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2])))
