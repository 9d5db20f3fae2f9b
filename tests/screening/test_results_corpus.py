"""Every file of a corpus of our own: no result is lost in silence, and each becomes what a person would say."""
import datetime as dt

import pytest

from screening.results_file import DATE_FIELDS, guess_columns, heading_score, read_results
from screening.results_wide import long_sheet
from studio.file_check import order_of_dates
from studio.sheet_file import read_sheet
from tests.screening.results_files import FILES

TODAY = dt.date(2026, 3, 24)
MEASURES = {word: word for word in ("rises", "balance", "landing")}


def read(file):
    sheet = long_sheet(read_sheet(file.content, file.filename, heading_score=heading_score), MEASURES)
    columns = {at: name for at, name in guess_columns(sheet.headings).items() if name}
    if sheet.name_column is not None:
        columns[sheet.name_column] = "date"
    _found, order = order_of_dates(sheet, columns, DATE_FIELDS, "day_first")
    return sheet, read_results(
        sheet, columns, date_order=order, measures=MEASURES, today=TODAY, measure_names=list(MEASURES))


@pytest.mark.parametrize("name", FILES)
def test_every_row_of_the_file_is_taken_or_refused_with_a_reason(name):
    file = FILES[name]
    sheet, reading = read(file)
    assert len(reading.rows) == len(sheet.rows)
    assert len({row.number for row in reading.rows}) == file.file_rows
    refused = [row for row in reading.rows if row.problems]
    assert (len(reading.rows) - len(refused), len(refused)) == (file.results, file.refused)
    assert all(reason.strip() for row in refused for reason in row.problems)


def test_there_are_files_of_every_kind():
    assert len(FILES) >= 25
