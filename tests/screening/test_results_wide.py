"""A table with a column for each test: which headings are tests, and what becomes of every cell."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from screening.results_file import guess_columns, heading_score, read_results
from screening.results_wide import MAX_RESULTS, long_sheet
from studio.sheet_file import CellTrouble, Sheet, SheetRow, UnreadableFile, read_sheet

TODAY = date(2031, 3, 20)
MEASURES = {"Single-leg rise": "single-leg-rise", "Knee to wall": "knee-to-wall"}


def test_a_column_for_each_test_becomes_a_row_for_each_result():
    text = (
        "Dancer,Date,Knee to wall (L),Right knee to wall 2,Single-leg rise left foot try 3,Mood\n"
        "Ada Moss,2031-03-04,11,12.5,,good\nBo Lind,2031-03-04,-,absent,at least 20,\n"
    )
    wide = long_sheet(read_sheet(text.encode(), "results.csv", heading_score=heading_score), MEASURES)
    reading = read_results(
        wide, guess_columns(wide.headings), date_order="iso", measures=MEASURES, today=TODAY,
    )
    told = [(r.number, r.student_name, r.measure, r.side, r.attempt, r.value, r.reason_missing) for r in reading.rows]
    assert told == [
        (2, "Ada Moss", "knee-to-wall", "L", 1, Decimal(11), ""),
        (2, "Ada Moss", "knee-to-wall", "R", 2, Decimal("12.5"), ""),
        (3, "Bo Lind", "knee-to-wall", "R", 2, None, "absent"),
        (3, "Bo Lind", "single-leg-rise", "L", 3, Decimal(20), ""),
    ]
    assert not reading.problems and reading.rows[3].capped and "Mood" in wide.headings


def test_a_table_of_one_result_a_row_stays_as_it_is():
    sheet = read_sheet(b"student,measure,value,date,knee to wall\nAda,rise,4,2031-03-04,x\n", "results.csv")
    assert long_sheet(sheet, MEASURES) is sheet


def test_a_column_of_feet_is_of_those_tests_that_name_none():
    row = SheetRow(2, ("Ada Moss", "left", "9", "12"))
    wide = long_sheet(Sheet(("Dancer", "Foot", "Single-leg rise", "Knee to wall right"), (row,), "csv"), MEASURES)
    assert [each.cells[1:] for each in wide.rows] == [
        ("single leg rise", "left", "", "9"), ("knee to wall", "R", "", "12"),
    ]


def test_what_is_wrong_in_a_cell_is_refused_for_its_own_result_only():
    row = SheetRow(2, ("Ada Moss", "2031-03-04", "9", "=1"), (CellTrouble(3, "formula"),))
    sheet = Sheet(("Dancer", "Date", "Knee to wall L", "Knee to wall R"), (row,), "csv")
    wide = long_sheet(sheet, MEASURES)
    rows = read_results(wide, guess_columns(wide.headings), date_order="iso", measures=MEASURES, today=TODAY).rows
    assert [(each.side, bool(each.problems)) for each in rows] == [("L", False), ("R", True)]


def test_more_results_than_a_file_may_have_rows_are_refused():
    rows = tuple(SheetRow(at, ("Ada", "1", "2")) for at in range(MAX_RESULTS))
    with pytest.raises(UnreadableFile, match="20000 results"):
        long_sheet(Sheet(("Dancer", "Knee to wall L", "Knee to wall R"), rows, "csv"), MEASURES)


@given(st.lists(st.text(max_size=30), max_size=8), st.lists(st.text(max_size=12), max_size=8))
def test_no_heading_and_no_cell_breaks_it(headings, cells):
    row = SheetRow(2, (*cells, *[""] * 8)[: len(headings)])
    long_sheet(Sheet(tuple(headings), (row,), "csv"), MEASURES)
