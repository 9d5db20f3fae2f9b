"""Workbooks of several sheets: those that are alike are read together, and a person takes others on the page."""
import datetime as dt

import pytest
from django.urls import reverse

from screening.models import Result
from studio.models import Enrolment, Student
from studio.sheet_file import ALL, UnreadableFile, read_sheet
from tests.screening.test_results_import import bring as bring_results
from tests.screening.test_results_import import confirm as confirm_results
from tests.studio.roster_files import ods, sheets, xls
from tests.studio.test_roster_import import bring

HEAD = ["Name", "Born"]
NELE, OREN = ["Nele Vance", dt.date(2014, 6, 1)], ["Oren Pike", dt.date(2013, 11, 20)]
YEARS = {"Last year": [HEAD, OREN], "This year": [HEAD, NELE], "Fees": [["Month", "Paid"], ["May", 40]]}


@pytest.mark.parametrize("made", [sheets, xls, ods])
def test_sheets_that_are_alike_are_one_table_in_which_every_row_says_its_sheet(made):
    sheet = read_sheet(made(YEARS), "list.x")
    assert sheet.names == ("Last year", "This year", "Fees") and sheet.taken == (0, 1)
    assert sheet.headings == ("Name", "Born", "Sheet") and sheet.name_column == 2
    assert [(row.number, row.cells) for row in sheet.rows] == [
        (2, ("Oren Pike", "2013-11-20", "Last year")), (4, ("Nele Vance", "2014-06-01", "This year")),
    ]


def test_one_sheet_or_all_of_them_can_be_wanted():
    one = read_sheet(sheets(YEARS), "list.xlsx", wanted="1")
    assert (one.headings, len(one.rows)) == (("Name", "Born"), 1)
    every = read_sheet(sheets(YEARS), "list.xlsx", wanted=ALL)
    assert every.headings == ("Name", "Born", "Month", "Paid", "Sheet")
    assert every.rows[-1].cells == ("", "", "May", "40", "Fees")
    assert read_sheet(sheets(YEARS), "list.xlsx", wanted="9").taken == (0, 1)


def test_columns_in_another_order_come_under_their_headings():
    turned = {"Monday": [HEAD, NELE], "Tuesday": [["Born", "Name"], [OREN[1], OREN[0]]]}
    assert read_sheet(sheets(turned), "list.xlsx", wanted=ALL).rows[1].cells == ("Oren Pike", "2013-11-20", "Tuesday")


def test_a_sheet_that_is_too_much_stops_none_of_the_others():
    many = {"Everything": [["Name", "Born"], *[["x", "y"]] * 5100], "List": [HEAD, NELE]}
    assert read_sheet(sheets(many), "list.xlsx").names == ("List",)
    with pytest.raises(UnreadableFile, match="5000 rows"):
        read_sheet(sheets({"Everything": many["Everything"]}), "list.xlsx")


def test_another_sheet_is_chosen_on_the_page_and_its_columns_are_guessed_anew(as_owner, cast):
    book = sheets({"Last year": [HEAD, OREN], "This year": [["Geburtsdatum", "Name"], NELE[::-1]]})
    preview = bring(as_owner, cast, book, "list.xlsx")
    assert [row.name for row in preview.context["check"].plan] == ["Oren Pike"]
    assert "only This year" in preview.content.decode()
    path = reverse("studio:check-roster", args=[preview.context["draft"].pk])
    again = as_owner.post(path, {"sheet": "1", "column-0": "name"}, follow=True)
    assert [row.name for row in again.context["check"].plan] == ["Nele Vance"]
    for odd in ("7", "-1", "x", "9" * 40):
        assert as_owner.post(path, {"sheet": odd}, follow=True).status_code == 200


def test_a_sheet_for_each_class_brings_every_child_into_her_class(as_owner, cast):
    book = xls({cast.class_group.name: [HEAD, NELE], "Pre-pointe B": [HEAD, OREN]})
    preview = bring(as_owner, cast, book, "list.xls")
    data = {"digest": preview.context["check"].digest}
    as_owner.post(reverse("progress:confirm-roster", args=[preview.context["draft"].pk]), data)
    found = Enrolment.objects.filter(student__in=Student.objects.filter(name__in=("Nele Vance", "Oren Pike")))
    assert dict(found.values_list("student__name", "class_group__name")) == {
        "Nele Vance": cast.class_group.name, "Oren Pike": "Pre-pointe B"}


@pytest.mark.parametrize("made", [sheets, xls, ods])
def test_results_of_a_sheet_for_each_day_are_of_those_days(as_owner, cast, made):
    head = ["Student", "Rises left", "Rises right"]
    book = made({"10.03.2026": [head, ["Ama Owiredu", 12, 14]], "17.03.2026": [head, ["Ama Owiredu", 13, 15]]})
    preview = bring_results(as_owner, cast, book, "results.xlsx")
    assert preview.context["check"].columns[1] == "date"
    confirm_results(as_owner, preview)
    found = Result.objects.filter(student=cast.ama).order_by("taken_on", "side")
    assert [(row.taken_on.day, row.side, int(row.value)) for row in found] == [
        (10, "L", 12), (10, "R", 14), (17, "L", 13), (17, "R", 15)]
