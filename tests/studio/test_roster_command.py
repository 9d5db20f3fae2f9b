"""A roster brought in by the command: it reads as the pages do and stops with one sentence."""
import pytest
from django.core.management import CommandError, call_command

from studio.models import Enrolment, Student
from tests.studio.test_roster_import import EITHER_WAY, ROSTER, everything, text_of


@pytest.fixture
def command(cast, tmp_path, capsys):
    def run(content, *options, group="Pre-pointe A", term="Spring term"):
        path = tmp_path / "roster.csv"
        if content is not None:
            path.write_text(content)
        call_command("import_roster", str(path), "--class", group, "--term", term, *options)
        return capsys.readouterr().out

    return run


def test_the_command_writes_what_the_pages_would(command, cast):
    out = command(ROSTER)
    assert "row 2: Nele Vance: new" in out
    assert "2 new, 0 changed, 0 left alone, 0 refused." in out
    assert Enrolment.objects.filter(class_group=cast.class_group, student__name="Nele Vance").exists()


def test_a_dry_run_shows_everything_and_writes_nothing(command, cast):
    before = everything()
    out = command(ROSTER, "--dry-run")
    assert "row 3: Oren Pike: new" in out
    assert "Nothing was written." in out
    assert everything() == before


@pytest.mark.parametrize("content, how, sentence", [
    (None, {}, "cannot be read: No such file or directory."),
    (ROSTER, {"group": "Tap"}, "There is no class called 'Tap'. There are: Lonely class, Pre-pointe A, Pre-pointe B."),
    (ROSTER, {"term": "Winter"}, "There is no term called 'Winter'. There are: Spring term."),
    ("", {}, "The file is empty."),
    ("Who,When\nNele Vance,2014-06-01\n", {}, "Choose the column for this field. It is needed."),
    (EITHER_WAY, {}, "Say --dates day-first or --dates month-first."),
    (text_of(*ROSTER.splitlines(), ",,,,,jo"), {}, "Rows are refused, so nothing was written."),
])
def test_the_command_stops_with_one_sentence_and_writes_nothing(command, cast, content, how, sentence):
    before = everything()
    with pytest.raises(CommandError) as stopped:
        command(content, **how)
    assert sentence in str(stopped.value)
    assert stopped.value.returncode == 1
    assert everything() == before


def test_the_command_takes_the_order_of_the_dates_and_leaves_refused_rows_out_when_told(command, cast):
    command(EITHER_WAY.replace("Ida Holt,", "Ida Holt,1900-01-01"), "--dates", "day-first", "--leave-out-refused")
    assert str(Student.objects.get(name="Nele Vance").birth_on) == "2014-04-03"
    assert not Student.objects.filter(name="Ida Holt").exists()
