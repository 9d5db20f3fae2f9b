"""`manage.py judge`: what it prints, what it refuses, and that it never shows a stack trace."""

import io
import json

import pytest
from django.core.management import CommandError, call_command

from progress.judge_command.narrow_table import VERDICT_WORDS
from progress.judging.engine.ruling import VERDICTS
from tests.progress.facts_of import STANDS, facts


def run(path, **options):
    out, refused = io.StringIO(), io.StringIO()
    call_command("judge", str(path), stdout=out, stderr=refused, **options)
    return out.getvalue(), refused.getvalue()


@pytest.fixture
def term(tmp_path):
    rows = [f"Tuesday,Dunya,rises,L,{fact.on},{fact.value}" for fact in facts(STANDS)]
    path = tmp_path / "term.csv"
    path.write_text("\n".join(["class,student,measure,side,date,value", *rows, "Tuesday,Dunya,turnout,L,2031-01-07,3"]))
    return path


def test_a_term_is_printed_as_a_table_that_a_teacher_reads_across(term):
    out, _refused = run(term)
    heads, first, *_rest = out.splitlines()
    assert heads.split() == ["student", "measure", "foot", "verdict", "since", "a", "week", "why"]
    assert first.split()[:4] == ["Dunya", "rises", "left", "stalled"]
    # She rises to 17 by week 5 and stands from there on.
    assert first.split()[4] == "week" and abs(int(first.split()[5]) - 5) <= 1
    assert max(map(len, out.splitlines())) <= 100 and "p_gain" not in out


def test_weeks_stand_in_the_narrow_table_when_they_are_asked_for(term):
    assert "week 14 rises" in run(term, weekly=True)[0]


def test_everything_is_printed_when_it_is_asked_for_and_the_refused_row_is_named(term):
    out, refused = run(term, wide=True)
    assert "stalled" in out and out.startswith("class")
    assert "Row 16 left out" in refused and "turnout" in refused


def test_weekly_json_has_a_row_for_every_week(term):
    out, _ = run(term, weekly=True, format="json")
    assert [row["week"] for row in json.loads(out)] == list(range(1, 15))


def test_as_of_hides_later_results(term):
    out, _ = run(term, as_of="2031-01-21", format="json")
    assert json.loads(out)[0]["results"] == 3


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"", "empty"), (b"name,shoe\nIda,red", "not found"), (b"\x00\x00", "not a table"),
     (b"student,measure,date,value\nIda,turnout,2031-01-07,3", "No row of this file can be judged")],
)  # fmt: skip
def test_a_file_that_cannot_be_judged_ends_in_one_sentence(tmp_path, content, words):
    path = tmp_path / "bad.csv"
    path.write_bytes(content)
    with pytest.raises(CommandError) as error:
        run(path)
    assert words in str(error.value) and error.value.returncode == 1


def test_a_missing_file_a_folder_and_a_bad_day_end_in_one_sentence(tmp_path, term):
    for path, options in ((tmp_path / "none.csv", {}), (tmp_path, {}), (term, {"as_of": "yesterday"})):
        with pytest.raises(CommandError):
            run(path, **options)


def test_every_verdict_has_a_word_in_the_narrow_table():
    assert set(VERDICTS) == set(VERDICT_WORDS)
