"""Every list of a corpus of our own: no row is lost in silence, and each becomes what a person would say."""
import datetime as dt

import pytest

from studio.file_check import TAKEN, order_of_dates
from studio.roster_file import DATE_FIELDS, guess_columns, heading_score, read_roster
from studio.roster_plan import KnownStudent, plan_roster
from studio.sheet_file import read_sheet
from studio.sheets.rows_left_out import rows_left_out
from tests.studio.roster_files import FILES

TODAY = dt.date(2026, 3, 24)
STAGES = {"foundation": "foundation", "pre-pointe": "pre-pointe"}
CLASSES = ["Pre-pointe A", "Pre-pointe B"]
AMA = KnownStudent(1, "Ama Owiredu", "", dt.date(2014, 5, 1), "pre-pointe", None, None, "", (), frozenset({CLASSES[0]}))


def planned(file):
    sheet = read_sheet(file.content, file.filename, heading_score=heading_score)
    columns = {at: name for at, name in guess_columns(sheet.headings).items() if name}
    _found, order = order_of_dates(sheet, columns, DATE_FIELDS, "day_first")
    reading = read_roster(sheet, columns, date_order=order, stages=STAGES, today=TODAY, class_names=CLASSES)
    assert not [problem for problem in reading.problems if problem.row_number is None]
    return sheet, plan_roster(reading.rows, [AMA], class_name=CLASSES[0], class_names=CLASSES)


@pytest.mark.parametrize("name", FILES)
def test_rows_in_are_rows_taken_and_rows_left_out_with_a_reason(name):
    file = FILES[name]
    sheet, plan = planned(file)
    taken = [row for row in plan if row.outcome in TAKEN]
    left = [row for row in plan if row.outcome not in TAKEN]
    assert len(taken) + len(left) == len(sheet.rows) == file.rows
    assert all(row.reasons and all(reason.strip() for reason in row.reasons) for row in left)


@pytest.mark.parametrize("name", FILES)
def test_each_row_becomes_what_is_expected_of_it(name):
    file = FILES[name]
    outcomes = [row.outcome for row in planned(file)[1]]
    counts = [outcomes.count(each) for each in ("add", "leave", "ask", "refuse")]
    assert counts == [file.new, file.left, file.asked, file.refused]


@pytest.mark.parametrize("name", FILES)
def test_what_was_not_taken_can_be_read_again_cell_by_cell(name):
    sheet, plan = planned(FILES[name])
    cells = {row.number: row.cells for row in sheet.rows}
    left = [{"row": row.number, "cells": list(cells[row.number]), "why": " ".join(row.reasons)}
            for row in plan if row.outcome not in TAKEN]
    if left:
        again = read_sheet(rows_left_out(sheet.headings, left, heads=("row", "why")), "again.xlsx")
        width = len(sheet.headings)
        # A calculated error stays an error; everything else comes back as it was.
        assert [row.cells[:width] for row in again.rows] == [tuple(each["cells"]) for each in left]


def test_there_are_lists_of_every_kind():
    assert len(FILES) >= 60
