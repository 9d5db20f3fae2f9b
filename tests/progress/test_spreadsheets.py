"""A term in the owner's spreadsheet: read back by another library, numbers as on screen, no cell that is run.

Read with openpyxl, which did not write it; the rules for cells are OWASP's on CSV injection.
"""
import csv
import datetime as dt
import io

import openpyxl
import pytest

from progress.actions.standings import rebuild_standings
from progress.papers import workbook
from screening.models import Result
from studio.models import Student
from tests import factories
from tests.progress.test_measuring import past_results

RISING = [9, 10, 12, 11, 13, 14, 14, 16, 15, 17]


@pytest.fixture
def measured(cast):
    past_results(cast, RISING)
    rebuild_standings()
    return cast


def read(answer):
    return openpyxl.load_workbook(io.BytesIO(answer.content), data_only=False)


def test_a_class_sheet_holds_the_numbers_of_the_screen(as_owner, measured):
    book = read(as_owner.get(f"/office/terms/{measured.term.pk}/workbook/"))
    heads, line = list(book["Pre-pointe A"].iter_rows(values_only=True))[:2]
    told = dict(zip(heads, line, strict=True))
    screen = as_owner.get(f"/students/{measured.ama.pk}/").content.decode()
    assert (told["student"], told["side"], told["verdict"]) == ("Ama Owiredu", "left", "gaining")
    assert f"likely {told['likely from']:.0f} to {told['likely to']:.0f}" in screen
    assert f"+{told['a week']:.1f} rises a week" in screen
    assert type(told["level"]) in (int, float) and told["as of"].date() == dt.date(2026, 3, 17)


def test_every_result_is_a_row_of_the_data_and_of_the_csv(as_owner, measured):
    book = read(as_owner.get(f"/office/terms/{measured.term.pk}/workbook/"))
    rows = list(book["Data"].iter_rows(values_only=True))
    assert rows[0] == workbook.COLUMNS and len(rows) == 11
    assert [row[5] for row in rows[1:]] == RISING
    text = as_owner.get(f"/office/terms/{measured.term.pk}/results/").content.decode("utf-8-sig")
    table = list(csv.DictReader(io.StringIO(text)))
    assert [int(row["value"]) for row in table] == [row[5] for row in rows[1:]]
    assert table[0]["date"] == "2026-01-13" and table[0]["week"] == "2"


def test_what_was_taken_back_is_in_neither(as_owner, measured):
    first = Result.objects.order_by("taken_on").first()
    factories.ResultFactory(
        screening=first.screening, student=first.student, measure=first.measure, protocol=first.protocol, side="L",
        value=None, reason_missing=Result.WITHDRAWN, taken_on=first.taken_on, supersedes=first,
        by=measured.teacher,
    )
    text = as_owner.get(f"/office/terms/{measured.term.pk}/results/").content.decode("utf-8-sig")
    assert len(text.splitlines()) == 10


@pytest.mark.parametrize("name", ["=2+5", "+1", "-1", "@sum", "\tx", "https://example.org"])
def test_no_cell_is_run_and_none_becomes_a_link(as_owner, measured, name):
    Student.objects.filter(pk=measured.ama.pk).update(name=name)
    cell = read(as_owner.get(f"/office/terms/{measured.term.pk}/workbook/"))["Data"]["B2"]
    assert cell.data_type in ("s", "inlineStr") and cell.value == name and cell.hyperlink is None
    text = as_owner.get(f"/office/terms/{measured.term.pk}/results/").content.decode("utf-8-sig")
    written = list(csv.DictReader(io.StringIO(text)))[0]["student"]
    assert written == (name if name.startswith("https") else f"'{name}")


def test_the_same_term_gives_the_same_bytes(as_owner, measured):
    address = f"/office/terms/{measured.term.pk}/workbook/"
    assert as_owner.get(address).content == as_owner.get(address).content


def test_names_of_sheets_are_what_a_workbook_takes():
    lines = [(name, ["student"], []) for name in ("A/B [1]", "a b  1 ", "x" * 40, "x" * 40)]
    made = workbook.workbook(lines, [], data_name="Data", made_on=dt.date(2026, 3, 24))
    names = openpyxl.load_workbook(io.BytesIO(made)).sheetnames
    assert len({name.lower() for name in names}) == 5 and all(len(name) <= 31 for name in names)
