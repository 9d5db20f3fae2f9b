"""Writes rows that were not taken as a workbook in the columns of their file, to be mended and brought again."""

import io
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

import xlsxwriter

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
# One day for every file, so that the same rows make the same bytes.
_MADE = datetime(2026, 1, 1, tzinfo=UTC)


def rows_left_out(headings: Sequence[str], rows: Iterable[Mapping[str, Any]], *, heads: tuple[str, str]) -> bytes:
    """The workbook: the file's own headings, then the row's number there and the reason, under `heads`.

    rows: each with "cells", "row" and "why". Every cell is text, so nothing in it is run as a formula.
    """
    page = io.BytesIO()
    book = xlsxwriter.Workbook(page, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False})
    book.set_properties({"created": _MADE})
    sheet, bold = book.add_worksheet(), book.add_format({"bold": True})
    for column, heading in enumerate((*headings, *heads)):
        sheet.write_string(0, column, heading, bold)
    for at, row in enumerate(rows, start=1):
        cells = [*row["cells"], *[""] * (len(headings) - len(row["cells"]))]
        for column, text in enumerate((*cells, str(row["row"]), row["why"])):
            sheet.write_string(at, column, text)
    sheet.autofit()
    book.close()
    return page.getvalue()
