"""A file of results: what is read, what is refused with which reason, and the rows that come out."""

import csv
import io
import json
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from progress.judge_command.judge_file import UnreadableResults, measure_kind, read_results_file
from progress.judge_command.judge_rows import COLUMNS, judged_rows, written
from tests.progress.facts_of import GAINS, STANDS, TUESDAY, one_line
from tests.progress.facts_of import facts as facts_of_term
from tests.studio.roster_files import ods, sheets, xls

HEAD = "class,student,measure,side,date,value"


def read(*rows: str, head: str = HEAD):
    return read_results_file("\n".join([head, *rows]).encode())


def term(values: list[float], side: str = "L", student: str = "Dunya", measure: str = "rises") -> list[str]:
    return [
        f"Tuesday,{student},{measure},{side},{fact.on},{fact.value}" for fact in facts_of_term(values, student=student)
    ]


def only_reason(*rows: str, head: str = HEAD) -> str:
    (refusal,) = read(*rows, head=head).refusals
    return refusal.reason


@pytest.mark.parametrize(
    ("head", "row"),
    [
        ("class,student,measure,side,date,value", "A,Ida,rises,L,2031-01-07,12"),
        ("Group;Dancer;Test;Foot;Tested on;Score", "A;Ida;Heel rises;left;07.01.2031;12"),
        ("value\tSTUDENT NAME\tStrand\tmeasured on\tL/R\tclass name", "12\tIda\treleves\tJan 7, 2031\tLeft foot\tA"),
    ],
)
def test_headings_and_separators_are_matched_loosely(head, row):
    file = read(row, *(["A;Ida;rises;left;13.01.2031;12"] if ";" in head else []), head=head)
    fact = file.classes["A"][0]
    assert (fact.student, fact.side, fact.on, fact.value) == (("A", "Ida"), "L", date(2031, 1, 7), 12.0)
    assert file.refusals == ()


def test_unknown_columns_are_ignored_and_class_and_side_may_be_missing():
    file = read("Ida,rises,2031-01-07,12,red", head="student,measure,date,value,shoe")
    assert [fact.side for fact in file.classes[""]] == [""]


@pytest.mark.parametrize(
    ("text", "kind"),
    [("rises", "count"), ("Passé balance", "hold"), ("Balance (eyes closed)", "hold"), ("Landing control", "grade"),
     ("turnout", ""), ("", "")],
)  # fmt: skip
def test_measures_are_known_by_many_names(text, kind):
    assert measure_kind(text) == kind


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("A,Ida,turnout,L,2031-01-07,12", "not a measure known here"),
        ("A,,rises,L,2031-01-07,12", "student is missing"),
        ("A,Ida,rises,up,2031-01-07,12", "neither left nor right"),
        ("A,Ida,rises,L,soon,12", "not a date"),
        ("A,Ida,rises,L,2031-02-30,12", "not a date"),
        ("A,Ida,rises,L,03/04/2031,12", "two different days"),
        ("A,Ida,rises,L,1031-01-07,12", "far from the other dates"),
        ("A,Ida,rises,L,2061-01-07,12", "far from the other dates"),
        ("A,Ida,rises,L,9999-12-31,12", "far from the other dates"),
        ("A,Ida,rises,L,2031-01-07,many", "not a value"),
        ("A,Ida,rises,L,2031-01-07,nan", "not a value"),
        ("A,Ida,rises,L,2031-01-07,-3", "outside"),
        ("A,Ida,rises,L,2031-01-07,1e9", "outside"),
        ("A,Ida,landing,L,2031-01-07,3", "outside"),
        ("A,Ida,landing,L,2031-01-07,1.5", "not a control grade"),
        ("A,Ida", "measure is missing"),
    ],
)
def test_a_bad_row_is_refused_with_its_number_and_reason(row, words):
    file = read("A,Mei,rises,L,2031-01-14,11", row)
    assert [refusal.row for refusal in file.refusals] == [3] and words in file.refusals[0].reason
    assert len(file.classes["A"]) == 1


def test_caps_at_least_and_grade_words_are_understood():
    head = HEAD + ",cap"
    file = read(
        "A,Ida,balance,L,2031-01-07,45,45",
        "A,Ida,balance,L,2031-01-14,>=30 s,",
        "A,Ida,landing,L,2031-01-07,clean,",
        "A,Ida,balance,L,2031-01-21,50,45",
        head=head,
    )
    facts = file.classes["A"]
    assert [fact.capped for fact in facts] == [True, True, False, True]
    assert facts[2].value == 2.0 and facts[3].cap == 45.0


def test_the_last_target_by_date_counts_and_the_typical_error_is_the_median():
    head = HEAD + ",target,typical error"
    file = read("A,Ida,rises,L,2031-01-14,12,25,2.0", "A,Ida,rises,L,2031-01-07,11,20,3.0",
                "A,Ida,rises,R,2031-01-07,11,,4.0", "A,Ida,balance,R,2031-01-07,11,,30", head=head)  # fmt: skip
    assert file.targets == {(("A", "Ida"), "rises"): 25.0}
    assert file.measures["rises"].typical_error == 3.0 and file.measures["balance"].typical_error == 0.30


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"), (b"\n\n", "empty"), (b"class,student\n", "no rows"), (b"PK\x03\x04zip", "damaged"),
        (b"\x00\x01\x02\x03", "not a table"), (b"name,shoe\nIda,red\n", "not found: measure, date, value"),
        (b"\xff\xfeA", "not a table"),
    ],
)  # fmt: skip
def test_an_unreadable_file_is_refused_in_one_sentence(content, words):
    with pytest.raises(UnreadableResults) as error:
        read_results_file(content)
    assert words in str(error.value)


@settings(max_examples=150, deadline=None)
@given(
    st.one_of(
        st.binary(max_size=300),
        st.text(max_size=200).map(lambda text: (HEAD + "\n" + text).encode("utf-8", "replace")),
        st.lists(
            st.lists(
                st.sampled_from(
                    [
                        "",
                        "A",
                        "rises",
                        "balance",
                        "landing",
                        "L",
                        "2031-01-07",
                        "31.12.9999",
                        "12",
                        "\x00",
                        '"',
                        "1e308",
                        "-1",
                        "=1+1",
                        "0",
                        "200",
                        ">=30",
                        "clean",
                        "1/2/31",
                    ]
                ),
                min_size=6,
                max_size=7,
            ),
            max_size=8,
        ).map(lambda rows: "\n".join([HEAD, *(",".join(row) for row in rows)]).encode()),
    )
)
def test_any_bytes_give_rows_or_one_sentence(content):
    try:
        file = read_results_file(content)
    except UnreadableResults as why:
        assert str(why)
        return
    for form in ("csv", "json", "table"):
        assert "".join(written(judged_rows(file, as_of=None, weekly=True), form))


def test_encodings_of_spreadsheets_are_read():
    text = HEAD + "\nA,Zoë,rises,L,2031-01-07,12\n"
    for encoding in ("utf-8", "utf-8-sig", "utf-16", "cp1252"):
        assert read_results_file(text.encode(encoding)).classes["A"][0].student == ("A", "Zoë")


def rows_of(*rows: str, weekly: bool = False, as_of: date | None = None) -> list[dict]:
    return list(judged_rows(read(*rows), as_of=as_of, weekly=weekly))


def test_the_file_is_judged_by_the_studios_own_judgement():
    (row,) = rows_of(*term(STANDS))
    line = one_line(facts_of_term(STANDS))
    assert tuple(row) == COLUMNS
    assert (row["verdict"], row["results"], row["week"]) == ("stalled", 14, 14)
    assert row["rate"] == pytest.approx(line.rate, abs=1e-4) and row["p_flat"] == pytest.approx(line.p_flat, abs=1e-4)
    assert row["since_week"] == (line.since_on.toordinal() - TUESDAY.toordinal() + 1) // 7 + 1


def test_every_class_is_judged_on_its_own_last_day():
    later = [row.replace("Tuesday", "Friday").replace("2031", "2032") for row in term(GAINS[:6])]
    weeks = {row["class"]: row["week"] for row in rows_of(*term(GAINS), *later)}
    assert weeks == {"Tuesday": 14, "Friday": 6}


def test_weekly_rows_are_what_would_have_been_said_that_week():
    weekly = rows_of(*term(STANDS), *term(GAINS, side="R"), weekly=True)
    assert [row["week"] for row in weekly if row["side"] == "L"] == list(range(1, 15))
    seventh = [row for row in weekly if row["week"] == 7]
    assert seventh == rows_of(*term(STANDS), *term(GAINS, side="R"), as_of=date(2031, 2, 23))


def test_an_as_of_day_before_every_result_gives_no_rows():
    assert rows_of(*term(STANDS), as_of=date(2030, 1, 1)) == []


def test_csv_json_and_table_hold_the_same_rows():
    rows = rows_of(*term(STANDS), *term(GAINS, student="@Ida"))
    sheet = list(csv.DictReader(io.StringIO("".join(written(rows, "csv")))))
    page = json.loads("".join(written(rows, "json")))
    assert [row["verdict"] for row in sheet] == [row["verdict"] for row in page] == [row["verdict"] for row in rows]
    assert float(sheet[0]["p_gain"]) == page[0]["p_gain"] and len("".join(written(rows, "table")).splitlines()) == 3
    assert sheet[0]["student"] == "'@Ida" and page[0]["student"] == "@Ida"


def test_no_rows_are_an_empty_list_and_a_bare_heading():
    assert json.loads("".join(written([], "json"))) == []
    assert "".join(written([], "csv")).strip() == ",".join(COLUMNS)


def test_any_order_of_rows_in_a_file_gives_the_same_answer():
    rows = [*term(STANDS), *term(GAINS, side="R")]
    assert rows_of(*rows) == rows_of(*rows[::-1])


# --- whatever an import reads ---------------------------------------------------------------------


def test_three_attempts_of_a_day_are_one_result_the_best_hold_and_the_last_count():
    head = HEAD + ",attempt"
    file = read("A,Ida,balance,L,2031-01-07,11,1", "A,Ida,balance,L,2031-01-07,14,2", "A,Ida,balance,L,2031-01-07,9,3",
                "A,Ida,rises,L,2031-01-07,12,2", "A,Ida,rises,L,2031-01-07,15,1", head=head)
    assert [(fact.measure, fact.value) for fact in file.classes["A"]] == [("balance", 14.0), ("rises", 12.0)]
    assert {row["results"] for row in judged_rows(file, as_of=None, weekly=False)} == {1}


@pytest.mark.parametrize("made", [sheets, xls, ods])
def test_workbooks_with_a_column_for_each_test_and_a_sheet_for_each_day_are_judged(made):
    head = ["Dancer", "Rises left", "Balance L/R"]
    file = read_results_file(made({
        "07.01.2031": [head, ["Ida", 12, "9/11"]], "14.01.2031": [head, ["Ida", 13, "10/11"]]}), "book")
    assert [(fact.measure, fact.side, fact.on.day, fact.value) for fact in file.classes[""]] == [
        ("rises", "L", 7, 12.0), ("balance", "L", 7, 9.0), ("balance", "R", 7, 11.0),
        ("rises", "L", 14, 13.0), ("balance", "L", 14, 10.0), ("balance", "R", 14, 11.0)]


def test_grades_go_as_far_as_the_file_says():
    rows = ("A,Ida,landing,L,2031-01-07,4,5", "A,Ida,landing,L,2031-01-14,6,5", "A,Ida,control,L,2031-01-07,4,")
    file = read(*rows, head=HEAD + ",highest grade")
    assert file.measures["landing"].highest == 5.0
    assert [(fact.value, fact.capped) for fact in file.classes["A"]] == [(4.0, False)]
    assert [refusal.row for refusal in file.refusals] == [3, 4]
    assert "0 to 5" in file.refusals[0].reason and "0 to 2" in file.refusals[1].reason


def test_a_row_with_a_formula_or_a_cell_too_many_is_named_and_left_out():
    file = read("A,Ida,rises,L,2031-01-07,=6+6", "A,Ida,rises,L,2031-01-07,1,2", "A,Ida,rises,L,2031-01-14,12")
    assert [refusal.row for refusal in file.refusals] == [2, 3] and len(file.classes["A"]) == 1
