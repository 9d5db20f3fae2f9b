"""`python -m tests.bench.reading`: what checking a brought-in table costs beside a library that only reads it.

As many rows as a file may have, as CSV and as XLSX; the same bytes to the csv module and to openpyxl, which check
nothing. Ratios of one run; prints, asserts nothing.
"""
import csv
import io
import time
from collections.abc import Callable
from datetime import date

import openpyxl

from studio.roster_file import guess_columns, heading_score, read_roster
from studio.sheet_file import read_sheet
from studio.sheets.cells import MAX_ROWS

HEADINGS = ("name", "born", "stage", "since", "classes per week", "foot", "guardian", "email", "phone", "class")
TIMES = 5


def rows() -> list[tuple[str, ...]]:
    return [
        (f"Student {n}", "2019-03-25", "", "2024", "2", "left", "Jo Moss", "jo@example.org", "020 7946 0000", "Tuesday")
        for n in range(MAX_ROWS)
    ]


def as_csv() -> bytes:
    written = io.StringIO()
    csv.writer(written).writerows([HEADINGS, *rows()])
    return written.getvalue().encode()


def as_xlsx() -> bytes:
    book, written = openpyxl.Workbook(write_only=True), io.BytesIO()
    sheet = book.create_sheet()
    for row in [HEADINGS, *rows()]:
        sheet.append(row)
    book.save(written)
    return written.getvalue()


def ours(content: bytes, filename: str) -> int:
    sheet = read_sheet(content, filename, heading_score=heading_score)
    columns = guess_columns(sheet.headings)
    return len(read_roster(sheet, columns, date_order="iso", stages={}, today=date(2031, 1, 6)).rows)


def their_csv(content: bytes) -> int:
    return sum(1 for _row in csv.DictReader(io.StringIO(content.decode())))


def their_xlsx(content: bytes) -> int:
    book = openpyxl.load_workbook(io.BytesIO(content), read_only=True)
    return sum(1 for _row in book.active.iter_rows(values_only=True)) - 1


def seconds(act: Callable[[], int]) -> float:
    best = float("inf")
    for _time in range(TIMES):
        began = time.perf_counter()
        if act() != MAX_ROWS:
            raise SystemExit("not every row was read")
        best = min(best, time.perf_counter() - began)
    return best


def main() -> None:
    for name, content, theirs in [("csv", as_csv(), their_csv), ("xlsx", as_xlsx(), their_xlsx)]:
        checked = seconds(lambda content=content, name=name: ours(content, f"roster.{name}"))
        alone = seconds(lambda content=content, theirs=theirs: theirs(content))
        print(f"{MAX_ROWS} rows of {name}, read and checked: {checked / alone:.1f} times what the library alone takes "
              f"({checked * 1000:.0f} and {alone * 1000:.0f} ms)")


if __name__ == "__main__":
    main()
