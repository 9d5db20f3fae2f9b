"""Tables into roster rows: headings, dates, names, namesakes, and each reason why a row is refused."""

import csv
import io
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.roster_file import FIELDS, guess_columns, heading_score, read_roster
from studio.sheet_file import MAX_ROWS, Sheet, SheetRow, UnreadableFile, read_sheet

TODAY = date(2031, 3, 20)
STAGES = {"Foundation": "foundation", "Pre-pointe": "pre_pointe"}
HEADINGS = "name,born,stage,since,classes per week,foot,guardian,email,phone,class,known as"
ADA = "Ada Moss,2019-03-25,Foundation,2025,2,left,Jo Moss,jo@example.org,+44 20 7946 0000,Tuesday,Addie"


def read(text, *, date_order="iso", **how):
    sheet = read_sheet(text.encode(), "roster.csv", heading_score=heading_score)
    return read_roster(
        sheet, guess_columns(sheet.headings), date_order=date_order, stages=STAGES, today=TODAY, **how
    )


def one_row(born="2019-03-25", name="Ada Moss", *, date_order="iso"):
    sheet = Sheet(("name", "born"), (SheetRow(2, (name, born)),), "csv")
    reading = read_roster(
        sheet, {0: "name", 1: "birth_on"}, date_order=date_order, stages=STAGES, today=TODAY
    )
    return reading.rows[0]


def refusal_of(heading, text):
    line = io.StringIO()
    csv.writer(line).writerow(["Ada Moss", text])
    (row,) = read(f"name,{heading}\n{line.getvalue()}").rows
    return " ".join(row.problems)


def test_a_full_row_is_read_field_by_field():
    (row,) = read(f"{HEADINGS}\n{ADA}\n").rows
    assert (row.name, row.called, row.birth_on, row.stage) == (
        "Ada Moss",
        "Addie",
        date(2019, 3, 25),
        "foundation",
    )
    assert (row.training_since_year, row.classes_per_week, row.dominant_foot) == (2025, 2, "L")
    assert (row.guardian_name, row.guardian_email) == ("Jo Moss", "jo@example.org")
    assert (row.guardian_phone, row.class_name) == ("+44 20 7946 0000", "Tuesday")
    assert (row.number, row.problems, row.warnings) == (2, (), ())


def test_columns_may_stand_in_any_order():
    turned = "\n".join(",".join(reversed(line.split(","))) for line in (HEADINGS, ADA))
    assert read(turned).rows == read(f"{HEADINGS}\n{ADA}\n").rows


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("Moss, Ada", "Ada Moss"),
        ("van der Meer, Ada Lena", "Ada Lena van der Meer"),
        ("Ada Moss, Jr.", "Ada Moss, Jr."),
        ("ADA MOSS", "ADA MOSS"),
        ("  ada   o'moss-li ", "ada o'moss-li"),
        ("נועה לוי", "נועה לוי"),
        ("王小明", "王小明"),
    ],
)
def test_names_are_kept_as_typed_but_first_name_first(typed, name):
    line = io.StringIO()
    csv.writer(line).writerow([typed, "2019-03-25"])
    (row,) = read(f"name,born\n{line.getvalue()}").rows
    assert (row.name, row.problems) == (name, ())


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("", "name is missing"),
        ("x" * 300, "too long: 300 characters, at most 120"),
        ("Moss, Ada, Lena", "more than one comma"),
        ("12345", "is not a name"),
        ("@Ada", "begins like a formula"),
    ],
)
def test_a_name_that_cannot_be_one_is_refused(typed, words):
    problems = one_row(name=typed).problems
    assert len(problems) == 1 and words in problems[0]


def test_a_first_and_a_family_name_too_long_together_are_refused():
    (row,) = read(f"first name,last name,born\n{'a' * 70},{'b' * 70},2019-03-25\n").rows
    assert row.problems == ("The name is longer than 120 characters.",)
    assert len(row.name) == 120


@pytest.mark.parametrize(
    ("born", "order", "on"),
    [
        ("2019-04-03", "day_first", date(2019, 4, 3)),
        ("03/04/2019", "day_first", date(2019, 4, 3)),
        ("03/04/2019", "month_first", date(2019, 3, 4)),
        ("3.4.19", "day_first", date(2019, 4, 3)),
        ("05/05/2019", "ambiguous", date(2019, 5, 5)),
        ("25/03/2019", "mixed", date(2019, 3, 25)),
        ("3 avril 2019", "none", date(2019, 4, 3)),
        ("2019-04-03 00:00:00", "iso", date(2019, 4, 3)),
    ],
)
def test_a_birth_date_is_read_in_the_chosen_order(born, order, on):
    row = one_row(born, date_order=order)
    assert (row.birth_on, row.problems) == (on, ())


@pytest.mark.parametrize(
    ("born", "order", "words"),
    [
        ("03/04/2019", "ambiguous", "can be two dates"),
        ("03/04/19", "mixed", "can be two dates"),
        ("03/25/2019", "day_first", "does not fit the order"),
        ("3.4.28", "day_first", "leaves the year open"),
        ("30/02/2019", "day_first", "is not a date"),
        ("unknown", "iso", "is not a date"),
        ("43549", "iso", "day number of a spreadsheet"),
        ("1900-01-01", "iso", "an age of 131"),
        ("2032-01-01", "iso", "in the future"),
        ("2028-03-21", "iso", "an age of 2"),
        ("2005-03-20", "iso", "an age of 26"),
    ],
)
def test_a_birth_date_that_cannot_be_taken_says_why(born, order, words):
    row = one_row(born, date_order=order)
    assert row.birth_on is None
    assert len(row.problems) == 1 and words in row.problems[0]


@pytest.mark.parametrize(
    ("born", "warned"),
    [
        ("2028-03-20", True),
        ("2025-03-21", True),
        ("2025-03-20", False),
        ("2012-03-21", False),
        ("2012-03-20", True),
        ("2005-03-21", True),
    ],
)
def test_an_unusual_age_is_asked_about_and_taken(born, warned):
    # evidence: 3 to 25 years hard, 6 to 18 soft; the birthdays on each edge
    row = one_row(born)
    assert row.problems == () and bool(row.warnings) is warned


@pytest.mark.parametrize(
    ("heading", "text", "words"),
    [
        ("stage", "Advanced", "The stages are: Foundation, Pre-pointe"),
        ("training since", "2032", "still to come"),
        ("training since", "1999", "too long ago"),
        ("training since", "six years", "does not say one year"),
        ("classes per week", "2-3", "not a whole number from 0 to 14"),
        ("classes per week", "15", "not a whole number"),
        ("foot", "middle", "neither left nor right"),
        ("class", "+cmd|x", "begins like a formula"),
        ("known as", "a" * 41, "at most 40"),
    ],
)
def test_every_other_field_says_why_it_is_refused(heading, text, words):
    assert words in refusal_of(heading, text)


@pytest.mark.parametrize(
    ("heading", "text", "words"),
    [
        ("e-mail", "jo@example", "not an e-mail address and is not taken"),
        ("e-mail", "see reception", "not an e-mail address and is not taken"),
        ("phone", "ask Jo", "not a phone number and is not taken"),
        ("guardian", "=1+1", "holds a formula"),
        ("guardian", "12", "not a name and is not taken"),
        ("e-mail", "a@x.org b@x.org c@x.org", "“c@x.org” is not taken: a row brings two guardians at most"),
        ("phone", "020 7946 0000; 020 7946 0001", "second number 020 7946 0001 is not taken"),
    ],
)
def test_a_child_is_never_refused_for_a_parents_cell_and_what_is_not_taken_is_said(heading, text, words):
    line = io.StringIO()
    csv.writer(line).writerow(["Ada Moss", text])
    (row,) = read(f"name,{heading}\n{line.getvalue()}").rows
    assert row.problems == () and words in " ".join(row.warnings)


@pytest.mark.parametrize(
    ("text", "guardians"),
    [
        ("guardian,email\nAda Moss,Jo Moss,jo@x.org; al@x.org", [("Jo Moss", "jo@x.org", ""), ("", "al@x.org", "")]),
        ("guardian,email\nAda Moss,Jo Moss & Al Moss,jo@x.org al@x.org",
         [("Jo Moss", "jo@x.org", ""), ("Al Moss", "al@x.org", "")]),
        ("guardian,phone\nAda Moss,Jo & Al Moss,020 7946 0000", [("Jo & Al Moss", "", "020 7946 0000")]),
        ("mother,father,father e-mail\nAda Moss,Jo Moss,Al Moss,al@x.org",
         [("Jo Moss", "", ""), ("Al Moss", "al@x.org", "")]),
        ("guardian 1,guardian 2,phone,phone 2\nAda Moss,Jo Moss,Al Moss,020 7946 0000,020 7946 0001",
         [("Jo Moss", "", "020 7946 0000"), ("Al Moss", "", "020 7946 0001")]),
        ("parent first name,parent last name,parent 2,e-mail,second e-mail\nAda Moss,Jo,Moss,Al Moss,j@x.org,a@x.org",
         [("Jo Moss", "j@x.org", ""), ("Al Moss", "a@x.org", "")]),
    ],
)
def test_a_second_parent_is_read_from_a_column_or_from_the_same_cell(text, guardians):
    (row,) = read(f"name,{text}\n").rows
    assert [(g.name, g.email, g.phone) for g in row.guardians] == guardians


def test_totals_remarks_and_bands_are_seen_to_be_no_students():
    text = (
        "name,born,foot\nGrade 2,,\nAda Moss *,2019-03-25,left\n* new this term,,\nName,Born,Foot\nBen Li,2019-01-02,"
        "right\nTotal: 9,,\nIda Holt,,\n"
    )
    rows = read(text).rows
    assert [row.no_row for row in rows] == ["band", "", "note", "heading", "", "total", "perhaps"]
    assert rows[1].name == "Ada Moss"


@pytest.mark.parametrize(
    ("heading", "text"),
    [
        ("stage", "PRE POINTE"),
        ("stage", "pre_pointe"),
        ("foot", "Links"),
        ("foot", "both"),
        ("classes per week", "2.0"),
        ("training since", "Sept 2025"),
        ("phone", "(020) 7946-0000 ext 12"),
        ("e-mail", "n/a"),
        ("class", "-"),
    ],
)
def test_what_people_write_in_other_words_is_understood(heading, text):
    assert refusal_of(heading, text) == ""


def test_two_students_of_one_name_are_told_apart_by_their_birth_dates():
    reading = read("name,born\nAda Moss,2019-03-25\nada moss,2018-01-02\n")
    assert reading.problems == ()


def test_namesakes_without_a_birth_date_are_refused_and_told_of_each_other():
    reading = read("name,born\nAda Moss,\nAda Moss,2018-01-02\nLucia Li,\nLucía Li,\n")
    assert [row.problems for row in reading.rows] == [
        ("Row 3 has the same name. A birth date is needed to tell the students apart.",),
        (),
        (),
        (),
    ]


def test_the_same_student_twice_is_refused_the_second_time():
    reading = read(
        "name,born,class\nAda Moss,2019-03-25,Tuesday\nADA MOSS,2019-03-25,\nAda Moss,2019-03-25,Friday\n"
    )
    assert [row.problems for row in reading.rows] == [
        (),
        ("The same name and birth date as row 2.",),
        ("The same student as row 2, for another class. Add the second class by hand.",),
    ]


def test_a_refused_row_does_not_refuse_its_correction_further_down():
    reading = read("name,born,stage\nAda Moss,2019-03-25,Wrong\nAda Moss,2019-03-25,Foundation\n")
    assert [bool(row.problems) for row in reading.rows] == [True, False]


def test_a_row_with_shifted_cells_is_refused():
    reading = read("name,born\nMoss, Ada,2019-03-25\nBen Li,2019-03-25\n")
    assert [bool(row.problems) for row in reading.rows] == [True, False]
    assert "may have shifted" in reading.rows[0].problems[0]


def test_trouble_in_a_column_passed_over_refuses_nothing():
    assert read("name,shoe size\nAda Moss,=1+1\n").problems == ()


def test_the_order_of_day_and_month_is_a_question_until_it_is_answered():
    text = "name,born\nAda Moss,03/04/2019\n"
    assert "day or the month" in read(text, date_order="ambiguous").questions[0].message
    assert read(text, date_order="day_first").questions == ()


def test_a_workbook_that_may_have_swapped_day_and_month_is_pointed_out():
    rows = (SheetRow(2, ("Ada", "2019-03-04")), SheetRow(3, ("Ben", "25/03/2019")))
    how = {"date_order": "day_first", "stages": STAGES, "today": TODAY}
    columns = {0: "name", 1: "birth_on"}
    assert "swapped" in read_roster(Sheet(("n", "b"), rows, "xlsx"), columns, **how).questions[0].message
    assert read_roster(Sheet(("n", "b"), rows, "csv"), columns, **how).questions == ()


def test_columns_are_asked_for_when_the_name_is_not_among_them_or_one_is_chosen_twice():
    sheet = Sheet(("a", "b"), (SheetRow(2, ("Ada", "Ben")),), "csv")
    how = {"date_order": "iso", "stages": STAGES, "today": TODAY}
    assert [p.column for p in read_roster(sheet, {0: "stage"}, **how).problems] == ["name"]
    assert "Two columns" in read_roster(sheet, {0: "name", 1: "name"}, **how).problems[0].message


def test_refusals_can_be_told_in_another_language():
    reading = read("name,born\n,2019-03-25\n", gettext={"The name is missing.": "Der Name fehlt."}.get)
    assert reading.rows[0].problems == ("Der Name fehlt.",)


def test_as_many_rows_as_a_file_may_have_are_read():
    lines = [ADA.replace("Ada Moss", f"Student {n}", 1) for n in range(MAX_ROWS)]
    text = "\n".join([HEADINGS, *lines])
    reading = read(text)
    assert len(reading.rows) == MAX_ROWS and reading.problems == ()


cell = st.one_of(
    st.text(max_size=20),
    st.sampled_from(
        ["03/04/19", "=1", "Moss, Ada", "2019-03-25", "-", "99999", "٣/٤/٢٠١٩", "²", "1e5", "left", "2.0"]
    ),
)


@given(
    st.lists(st.lists(cell, min_size=13, max_size=13), min_size=1, max_size=4),
    st.sampled_from(["iso", "day_first"]),
)
@settings(max_examples=300, deadline=None)
def test_no_text_in_any_field_raises(rows, order):
    text = io.StringIO()
    csv.writer(text).writerows([FIELDS, *rows])
    try:
        reading = read(text.getvalue(), date_order=order)
    except (
        UnreadableFile,
        UnicodeEncodeError,
    ):  # nothing but blanks; a half character cannot stand in a file
        return
    assert all(len(row.name) <= 120 and row.classes_per_week in {None, *range(15)} for row in reading.rows)
