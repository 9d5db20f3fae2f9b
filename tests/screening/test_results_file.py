"""Tables into results: values, caps, words and reasons, sides, days, and each reason for a refusal."""

import csv
import io
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.results_file import FIELDS, guess_columns, heading_score, read_results, read_value
from studio.sheet_file import MAX_ROWS, Sheet, SheetRow, UnreadableFile, read_sheet

TODAY = date(2031, 3, 20)
MEASURES = {
    "single-leg-rise": "single-leg-rise",
    "Single-leg rise": "single-leg-rise",
    "Knee to wall": "knee-to-wall",
}
HEADINGS = "student,measure,side,attempt,value,date"


def csv_text(*rows):
    text = io.StringIO()
    csv.writer(text).writerows(rows)
    return text.getvalue()


def read(text, *, date_order="iso", **how):
    sheet = read_sheet(text.encode(), "results.csv", heading_score=heading_score)
    columns = guess_columns(sheet.headings)
    return read_results(sheet, columns, date_order=date_order, measures=MEASURES, today=TODAY, **how)


def one_row(**cells):
    """One row that can be taken, but for the cells given."""
    full = {
        "student": "Ada Moss",
        "measure": "Single-leg rise",
        "side": "L",
        "value": "14",
        "date": "2031-03-01",
    }
    full |= cells
    sheet = Sheet(tuple(full), (SheetRow(2, tuple(full.values())),), "csv")
    columns = dict(enumerate(full))
    return read_results(sheet, columns, date_order="day_first", measures=MEASURES, today=TODAY).rows[0]


def test_a_full_row_is_read_field_by_field():
    row = one_row(
        attempt="2", value="4,5", birth_on="2019-03-25", class_name="Tuesday", assessor="Kim", protocol="2"
    )
    assert (row.student_name, row.birth_on, row.class_name) == ("Ada Moss", date(2019, 3, 25), "Tuesday")
    assert (row.measure, row.side, row.attempt, row.value) == ("single-leg-rise", "L", 2, Decimal("4.5"))
    assert (row.on, row.assessor, row.protocol) == (date(2031, 3, 1), "Kim", "2")
    assert (row.number, row.capped, row.value_text, row.reason_missing, row.problems) == (
        2,
        False,
        "",
        "",
        (),
    )


def test_headings_in_other_words_and_languages_are_found():
    assert list(guess_columns(["Dancer", "Test", "L/R", "Trial", "Result", "Tested on"]).values()) == list(
        FIELDS[:6]
    )
    assert list(guess_columns(["Dancer", "What", "Foot", "Attempt", "How many", "Day tested"]).values()) == list(
        FIELDS[:6]
    )
    assert list(guess_columns(["Schülerin", "Übung", "Seite", "Versuch", "Wert", "Datum"]).values()) == list(
        FIELDS[:6]
    )
    assert list(guess_columns(FIELDS).values()) == list(FIELDS)


@pytest.mark.parametrize(
    ("text", "value", "capped"),
    [
        ("14", "14", False),
        ("4,5", "4.5", False),
        ("4.50", "4.50", False),
        ("−2", "-2", False),
        ("36.2 s", "36.2", False),
        ("45°", "45", False),
        (">=45", "45", True),
        ("≥ 45 sec", "45", True),
        ("45+", "45", True),
        ("45 s+", "45", True),
        ("45+ s", "45", True),
        ("at least 45", "45", True),
        ("mindestens 4,5", "4.5", True),
    ],
)
def test_a_number_is_read_with_its_unit_its_comma_and_its_cap(text, value, capped):
    reading = read_value(text)
    assert (reading.value, reading.capped) == (Decimal(value), capped)


@pytest.mark.parametrize(
    ("text", "word", "reason"),
    [
        ("clean", "clean", ""),
        ("Lost", "lost", ""),
        ("corrected.", "corrected", ""),
        ("nearly", "nearly", ""),
        ("", "", "not_today"),
        ("Not tested", "", "not_today"),
        ("absent", "", "absent"),
        ("ABWESEND", "", "absent"),
        ("declined", "", "declined"),
        ("refusé", "", ""),
        ("pain", "", "pain"),
    ],
)
def test_a_word_is_a_grade_or_a_reason_and_never_a_number(text, word, reason):
    reading = read_value(text)
    assert (reading.value, reading.word, reading.reason_missing) == (None, word, reason)


def test_a_dash_is_a_blank_and_a_blank_is_never_zero():
    row = one_row(value="-")
    assert (row.value, row.reason_missing, row.problems) == (None, "not_today", ())


@pytest.mark.parametrize(
    "text", ["12/16", "10-12", "1,234.5", "1234", "4.567", "1e5", "1:05", "<5", "twelve", "4,5,6", "²"]
)
def test_a_value_that_could_mean_two_things_is_refused(text):
    row = one_row(value=text)
    assert row.value is None and row.reason_missing == ""
    assert len(row.problems) == 1 and "is not a value" in row.problems[0]


@pytest.mark.parametrize(
    ("written", "side"),
    [
        ("l", "L"),
        ("Left", "L"),
        ("left foot", "L"),
        ("links", "L"),
        ("gauche", "L"),
        ("Izq.", "L"),
        ("sx", "L"),
        ("R", "R"),
        ("rechts", "R"),
        ("pied droit", "R"),
        ("dcha", "R"),
        ("destra", "R"),
        ("", ""),
        ("both", ""),
    ],
)
def test_a_side_is_understood_in_five_languages(written, side):
    row = one_row(side=written)
    assert (row.side, row.problems) == (side, ())


@pytest.mark.parametrize(
    ("mark", "capped"), [("yes", True), ("x", True), ("1", True), ("no", False), ("", False)]
)
def test_the_cap_may_stand_in_a_column_of_its_own(mark, capped):
    row = one_row(value="45", capped=mark)
    assert (row.capped, row.problems) == (capped, ())


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ({"student": ""}, "name is missing"),
        ({"student": "x" * 300}, "too long: 300"),
        ({"student": "a, b, c"}, "more than one comma"),
        ({"measure": ""}, "measure is missing"),
        ({"measure": "Splits"}, "“Splits” is not a measure here"),
        ({"side": "front"}, "neither left nor right"),
        ({"attempt": "6"}, "whole number from 1 to 5"),
        ({"attempt": "0"}, "whole number from 1 to 5"),
        ({"capped": "perhaps"}, "neither yes nor no"),
        ({"date": ""}, "date is missing"),
        ({"date": "2031-03-21"}, "in the future"),
        ({"date": "1900-01-01"}, "too long ago"),
        ({"date": "03/25/2031"}, "does not fit the order"),
        ({"date": "2024-01-01", "birth_on": "2025-01-01"}, "too long ago"),
        ({"birth_on": "1990-01-01"}, "an age of 41"),
        ({"assessor": "=cmd"}, "begins like a formula"),
    ],
)
def test_every_field_says_why_it_is_refused(cells, words):
    problems = one_row(**cells).problems
    assert len(problems) == 1 and words in problems[0]


def test_a_result_of_today_is_taken_and_a_short_year_is_this_century():
    assert one_row(date="20/03/2031").on == TODAY
    assert one_row(date="20.3.31").on == TODAY
    assert "year open" in one_row(date="21.3.31").problems[0]


def test_a_measure_is_known_whatever_its_capitals_and_hyphens():
    assert one_row(measure="SINGLE LEG RISE").measure == "single-leg-rise"


def test_the_same_attempt_twice_is_refused_the_second_time():
    row = ["Ada Moss", "Knee to wall", "L", "1", "9", "2031-03-01"]
    others = [[*row[:3], "2", *row[4:]], [*row[:2], "R", *row[3:]], [*row[:5], "2031-03-02"]]
    last_first = ["Moss, Ada", *row[1:4], "9.5", row[5]]
    reading = read(csv_text(HEADINGS.split(","), row, *others, last_first))
    assert [p.message for p in reading.problems] == [
        "The same student, measure, side, attempt and day as row 2.",
    ]
    assert reading.problems[0].row_number == 6


def test_namesakes_with_two_birth_dates_have_a_result_each():
    text = csv_text(
        [*HEADINGS.split(","), "dob"],
        ["Ada Moss", "Knee to wall", "L", "1", "9", "2031-03-01", "2019-03-25"],
        ["Ada Moss", "Knee to wall", "L", "1", "9", "2031-03-01", "2018-01-02"],
    )
    assert read(text).problems == ()


def test_a_refused_row_does_not_refuse_its_correction_further_down():
    row = ["Ada Moss", "Knee to wall", "L", "1", "9", "2031-03-01"]
    reading = read(csv_text(HEADINGS.split(","), [*row[:4], "9-10", row[5]], row))
    assert [bool(row.problems) for row in reading.rows] == [True, False]


def test_without_a_needed_column_nothing_is_read_and_the_column_is_asked_for():
    reading = read("student,value,side\nAda Moss,9,L\n")
    assert reading.rows == ()
    assert [problem.column for problem in reading.problems] == ["measure", "date"]


def test_an_open_order_of_day_and_month_is_asked_and_its_rows_wait():
    reading = read(f"{HEADINGS}\nAda Moss,Knee to wall,L,1,9,03/02/2031\n", date_order="ambiguous")
    assert [question.column for question in reading.questions] == ["date"]
    assert "can be two dates" in reading.rows[0].problems[0]


def test_refusals_can_be_told_in_another_language():
    text = f"{HEADINGS}\nAda Moss,,L,1,9,2031-03-01\n"
    reading = read(text, gettext={"The measure is missing.": "Die Messung fehlt."}.get)
    assert reading.rows[0].problems == ("Die Messung fehlt.",)


def test_as_many_results_as_a_file_may_have_are_read():
    lines = [f"Student {n},Knee to wall,L,1,9.5,2031-03-01" for n in range(MAX_ROWS)]
    reading = read("\n".join([HEADINGS, *lines]))
    assert len(reading.rows) == MAX_ROWS and reading.problems == ()


cell = st.one_of(
    st.text(max_size=15),
    st.sampled_from(
        ["03/04/31", "≥", "+", ">=45", "4,5", "−", "٤", "²", "at least", "L", "0", "clean", "45 s+"]
    ),
)


@given(st.lists(st.lists(cell, min_size=11, max_size=11), min_size=1, max_size=4))
@settings(max_examples=300, deadline=None)
def test_no_text_in_any_field_raises_and_each_row_taken_has_a_value_or_a_reason(rows):
    try:
        reading = read(csv_text(FIELDS, *rows))
    except (
        UnreadableFile,
        UnicodeEncodeError,
    ):  # nothing but blanks; a half character cannot stand in a file
        return
    for row in reading.rows:
        said = [row.value is not None, bool(row.value_text), bool(row.reason_missing)]
        assert row.problems or sum(said) == 1


@given(st.text(st.sampled_from("0123456789.,-−+≥>= sleatcm°"), max_size=12))
@settings(max_examples=500, deadline=None)
def test_whatever_is_read_as_a_number_is_finite_and_small_enough_to_store(text):
    value = read_value(text).value
    assert value is None or (value.is_finite() and abs(value) < 1000 and value == round(value, 2))
