"""A term as a workbook and as CSV: a sheet for each class, and every result as a row.

Pure: knows rows of plain values and the words it is handed; no Django, no database, no clock.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date, datetime

import xlsxwriter

from progress.papers.guarded import guarded

# The layout of the data, in the workbook and in the CSV; the README explains it.
COLUMNS = (
    "class", "student", "measure", "side", "attempt", "value", "at_least", "unit", "reason", "date", "week", "protocol",
    "assessor",
)  # fmt: skip
# What a workbook allows in the name of a sheet (Office Open XML), and how long it may be.
_NOT_IN_A_NAME, _LONGEST_NAME = set("[]:*?/\\"), 31


def results_csv(rows: Iterable[Mapping[str, object]]) -> str:
    """The data as CSV with a header line; texts that a spreadsheet would run get an apostrophe.

    >>> print(results_csv([{"student": "=1+1", "value": 14, "date": date(2026, 3, 24)}]).splitlines()[1])
    ,'=1+1,,,,14,,,,2026-03-24,,,
    """
    page = io.StringIO()
    sheet = csv.writer(page, lineterminator="\n")
    sheet.writerow(COLUMNS)
    for row in rows:
        sheet.writerow([_csv_cell(row.get(name)) for name in COLUMNS])
    return page.getvalue()


def _csv_cell(value: object) -> object:
    if value is None:
        return ""
    if isinstance(value, str):
        return guarded(value)
    return value.isoformat() if isinstance(value, date) else value


def workbook(
    classes: Sequence[tuple[str, Sequence[str], Sequence[Sequence[object]]]], rows: Iterable[Mapping[str, object]],
    *, data_name: str, made_on: date,
) -> bytes:
    """An XLSX file: (name, heads, lines) of each class on a sheet of its own, then the data on one that can be pivoted.

    made_on: written as the file's own date, so that the same content gives the same bytes. No text is run as a
    formula or turned into a link.
    """
    file = io.BytesIO()
    book = xlsxwriter.Workbook(file, {
        "in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False,
    })
    book.set_properties({"created": datetime(made_on.year, made_on.month, made_on.day, tzinfo=UTC)})
    head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
    day = book.add_format({"num_format": "yyyy-mm-dd", "align": "left"})
    names: set[str] = set()
    for name, heads, lines in classes:
        _sheet(book, _sheet_name(name, names), heads, lines, head, day)
    data = [[row.get(name) for name in COLUMNS] for row in rows]
    _sheet(book, _sheet_name(data_name, names), COLUMNS, data, head, day)
    book.close()
    return file.getvalue()


def _sheet(book, name: str, heads: Sequence[str], lines: Sequence[Sequence[object]], head, day) -> None:
    sheet = book.add_worksheet(name)
    sheet.write_row(0, 0, heads, head)
    for at, line in enumerate(lines, start=1):
        for column, value in enumerate(line):
            if isinstance(value, date):
                sheet.write_datetime(at, column, value, day)
            elif value is not None:
                sheet.write(at, column, value)
    sheet.freeze_panes(1, 1)
    sheet.autofilter(0, 0, max(len(lines), 1), max(len(heads) - 1, 0))
    for column, words in enumerate(heads):
        longest = max([len(str(words)), *(len(str(line[column])) for line in lines if line[column] is not None)])
        sheet.set_column(column, column, min(longest, 40) + 2)


def _sheet_name(name: str, taken: set[str]) -> str:
    """A name that a workbook takes, and that no sheet before it has."""
    plain = "".join(" " if sign in _NOT_IN_A_NAME else sign for sign in name).strip("' ")[:_LONGEST_NAME] or "-"
    chosen, number = plain, 2
    while chosen.lower() in taken:
        ending = f" {number}"
        chosen, number = plain[: _LONGEST_NAME - len(ending)] + ending, number + 1
    taken.add(chosen.lower())
    return chosen
