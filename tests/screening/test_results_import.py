"""Past results brought in, by the pages and by the command: what is asked, previewed, written and judged."""
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.urls import reverse

from progress.actions.day import ClassDay, take_back
from progress.actions.standings import rebuild_standings
from progress.models import Standing
from screening.models import Result, Screening
from tests import factories
from tests.progress.test_measuring import record

HEADINGS = "Student,Test,Side,Attempt,Value,Date"
AMA = "Ama Owiredu,rises,left,1,14,2026-03-10"
BETTINA = "Bettina Krall,balance,right,2,at least 30 s,2026-03-10"


def table(*lines):
    return "\n".join((HEADINGS, *lines)) + "\n"


FILE = table(AMA, BETTINA)


def bring(client, cast, content, filename="results.csv"):
    content = content.encode() if isinstance(content, str) else content
    data = {"file": SimpleUploadedFile(filename, content), "class_group": cast.class_group.pk}
    return client.post(reverse("progress:bring-results"), data, follow=True)


def answer(client, preview, **answers):
    return client.post(reverse("progress:check-results", args=[preview.context["draft"].pk]), answers, follow=True)


def confirm(client, preview):
    draft, check = preview.context["draft"], preview.context["check"]
    return client.post(reverse("progress:confirm-results", args=[draft.pk]), {"digest": check.digest}, follow=True)


def outcomes(preview):
    return [row.outcome for row in preview.context["check"].plan]


def reasons(preview):
    return " ".join(reason for row in preview.context["check"].plan for reason in (*row.reasons, *row.warnings))


def everything():
    results = Result.objects.order_by("pk").values_list("pk", "student", "value", "reason_missing", "supersedes")
    return list(results), list(Screening.objects.order_by("pk").values_list("pk", "held_on", "closed_at"))


def test_results_of_a_day_become_one_closed_screening_with_who_and_when(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, FILE))
    made = Screening.objects.get(is_imported=True)
    assert (str(made.held_on), made.term, made.is_open, made.opened_by) == ("2026-03-10", cast.term, False, cast.owner)
    rows = made.results.order_by("pk").values_list("student", "measure", "side", "attempt", "value", "reached_cap")
    assert list(rows) == [
        (cast.ama.pk, cast.rises.pk, "L", 1, 14, False), (cast.bettina.pk, cast.balance.pk, "R", 2, 30, True),
    ]


@pytest.mark.parametrize("content", [
    FILE.replace(",", ";").encode("cp1252"), FILE.replace(",", "\t").encode(), b"\xef\xbb\xbf" + FILE.encode(),
    "\n".join(",".join(reversed(line.split(","))) for line in FILE.splitlines()).encode(),
])
def test_the_same_results_come_out_of_every_kind_of_file(as_owner, cast, content):
    confirm(as_owner, bring(as_owner, cast, content))
    assert list(Result.objects.order_by("student__name").values_list("value", flat=True)) == [14, 30]


def test_results_brought_in_are_judged_at_once(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, FILE))
    stored = sorted(Standing.objects.values_list("student__name", "measure__key", "side", "verdict"))
    assert stored == [
        ("Ama Owiredu", "rises", "L", "too_early"), ("Bettina Krall", "passe-balance", "R", "too_early"),
    ]
    rebuild_standings()
    assert sorted(Standing.objects.values_list("student__name", "measure__key", "side", "verdict")) == stored


def test_the_same_file_twice_changes_nothing(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, FILE))
    before, preview = everything(), bring(as_owner, cast, FILE)
    assert outcomes(preview) == ["same", "same"]
    assert "Nothing to bring in." in preview.content.decode()
    confirm(as_owner, preview)
    assert everything() == before


def test_another_value_for_the_same_attempt_corrects_it_and_keeps_the_old_row(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, FILE))
    preview = bring(as_owner, cast, table(AMA.replace(",14,", ",15,"), BETTINA))
    assert outcomes(preview) == ["change", "same"]
    confirm(as_owner, preview)
    assert Result.objects.in_force().get(student=cast.ama).value == 15
    assert Result.objects.get(student=cast.ama, supersedes=None).value == 14


def test_a_result_from_the_barre_is_met_and_not_doubled(as_owner, cast):
    record(cast, 14)
    preview = bring(as_owner, cast, table(AMA.replace("2026-03-10", "2026-03-24")))
    assert outcomes(preview) == ["same"]


def test_a_result_that_was_taken_back_can_come_in_again(as_owner, cast):
    confirm(as_owner, bring(as_owner, cast, table(AMA)))
    there = Result.objects.get()
    take_back(key=uuid.uuid4(), of=there.origin, day=ClassDay.of(there.screening), by=cast.owner)
    preview = bring(as_owner, cast, table(AMA))
    assert outcomes(preview) == ["change"]
    assert "taken back" in preview.content.decode()
    confirm(as_owner, preview)
    assert Result.objects.in_force().get().value == 14


@pytest.mark.parametrize("line, sentence", [
    ("Quirin Nobody,rises,left,1,14,2026-03-10", "Nobody of this name was ever in Pre-pointe A."),
    ("Ama Owiredu,plank,left,1,14,2026-03-10", "“plank” is not a measure here."),
    ("Ama Owiredu,rises,,1,14,2026-03-10", "Say which foot: left or right."),
    ("Ama Owiredu,rises,left,1,999,2026-03-10", "999 is not possible: from 0 to 200."),
    ("Ama Owiredu,rises,left,1,14.5,2026-03-10", "14.5 has too many decimal places."),
    ("Ama Owiredu,rises,left,1,-3,2026-03-10", "-3 is not possible: from 0 to 200."),
    ("Ama Owiredu,rises,left,1,NaN,2026-03-10", "“NaN” is not a value we can read."),
    ("Ama Owiredu,rises,left,1,1e3,2026-03-10", "“1e3” is not a value we can read."),
    ("Ama Owiredu,rises,left,1,clean,2026-03-10", "“clean” is no value of this measure."),
    ("Ama Owiredu,rises,left,9,14,2026-03-10", "“9” is not a whole number from 1 to 5."),
    ("Ama Owiredu,rises,left,1,14,2026-03-25", "is in the future"),
    ("Ama Owiredu,rises,left,1,14,1900-01-01", "is too long ago"),
    ("Ama Owiredu,rises,left,1,14,", "The date is missing."),
    (",rises,left,1,14,2026-03-10", "The name is missing."),
])
def test_what_cannot_be_is_refused_with_its_reason_and_never_written(as_owner, cast, line, sentence):
    preview = bring(as_owner, cast, table(line, BETTINA))
    assert outcomes(preview) == ["refuse", "add"]
    assert sentence in reasons(preview)
    confirm(as_owner, preview)
    assert Result.objects.get().student == cast.bettina


def test_the_same_attempt_twice_in_one_file_is_taken_once(as_owner, cast):
    preview = bring(as_owner, cast, table(AMA, AMA.replace(",14,", ",15,")))
    assert outcomes(preview) == ["add", "refuse"]
    confirm(as_owner, preview)
    assert Result.objects.get().value == 14


def test_an_unusual_value_is_pointed_at(as_owner, cast):
    preview = bring(as_owner, cast, table(AMA.replace(",14,", ",120,")))
    assert outcomes(preview) == ["add"]
    assert "Unusual: please look at it once more." in preview.content.decode()


def test_a_result_is_measured_by_whom_the_file_says_login_or_not(as_owner, cast):
    """Not by whoever brought the file in, though it is on record who that was."""
    lines = [f"{HEADINGS},Assessor", f"{AMA},Davit Meskhi", f"{BETTINA},Kim Who"]
    preview = bring(as_owner, cast, "\n".join(lines))
    assert "Nobody with a login is called “Kim Who”" in preview.content.decode()
    confirm(as_owner, preview)
    by_ama, by_bettina = (Result.objects.get(student=child) for child in (cast.ama, cast.bettina))
    assert (by_ama.by, by_ama.measured_by) == (cast.teacher, "Davit Meskhi")
    assert (by_bettina.by, by_bettina.measured_by) == (cast.owner, "Kim Who")
    page = as_owner.get(reverse("progress:results", args=[cast.bettina.pk])).content.decode()
    assert "Kim Who" in page and "brought in by Ottoline Brack" in page


def test_dates_that_can_be_read_both_ways_are_asked_about_first(as_owner, cast):
    before = everything()
    preview = bring(as_owner, cast, table(AMA.replace("2026-03-10", "03/02/2026"), BETTINA))
    assert "Which comes first in the dates?" in preview.content.decode()
    assert outcomes(preview) == ["refuse", "add"]
    assert "Bring these in" not in preview.content.decode()
    confirm(as_owner, preview)
    assert everything() == before
    confirm(as_owner, answer(as_owner, preview, order="month_first"))
    assert str(Result.objects.get(student=cast.ama).taken_on) == "2026-03-02"
    assert str(Result.objects.get(student=cast.bettina).taken_on) == "2026-03-10"


def test_a_failure_in_the_middle_of_writing_leaves_nothing_written(as_owner, cast, monkeypatch):
    preview, before = bring(as_owner, cast, FILE), everything()
    real = Result.objects.create

    def fails_for_the_second(**values):
        if values["student"] == cast.bettina:
            assert Result.objects.filter(student=cast.ama).exists()
            raise RuntimeError("the disk is full")
        return real(**values)

    monkeypatch.setattr(Result.objects, "create", fails_for_the_second)
    with pytest.raises(RuntimeError, match="the disk is full"):
        confirm(as_owner, preview)
    assert everything() == before


def test_a_result_entered_meanwhile_brings_the_new_preview_and_writes_nothing(as_owner, cast):
    preview = bring(as_owner, cast, table(AMA.replace("2026-03-10", "2026-03-24")))
    record(cast, 12)
    before, again = everything(), confirm(as_owner, preview)
    assert "The studio changed since this preview" in again.content.decode()
    assert outcomes(again) == ["change"]
    assert everything() == before


def test_a_student_of_two_with_one_name_is_told_by_the_birth_date(as_owner, cast):
    twin = factories.StudentFactory(name="Ama Owiredu", birth_on="2013-02-02")
    factories.EnrolmentFactory(student=twin, class_group=cast.class_group, term=cast.term)
    assert outcomes(bring(as_owner, cast, table(AMA))) == ["ask"]
    confirm(as_owner, bring(as_owner, cast, f"{HEADINGS},Born\n{AMA},2013-02-02\n"))
    assert Result.objects.get().student == twin


def test_a_column_that_is_needed_is_asked_for_by_its_name(as_owner, cast):
    words = bring(as_owner, cast, FILE.replace("Test", "Blob").replace("Value", "Blib")).content.decode()
    assert "Measure: Choose the column for this field. It is needed." in words
    assert "Value: Choose the column for this field. It is needed." in words


def test_the_page_says_what_the_measures_are_called(as_owner, cast):
    words = as_owner.get(reverse("progress:bring-results")).content.decode()
    assert "Rises, one foot (rises)" in words and "Passé balance (balance)" in words


def test_other_columns_chosen_meanwhile_are_not_confirmed_unseen(as_owner, cast):
    """The same value of the other foot would be written."""
    preview = bring(as_owner, cast, f"{HEADINGS},Other\n{AMA},right\n")
    columns = dict(enumerate(("student", "measure", "", "attempt", "value", "date", "side")))
    answer(as_owner, preview, **{f"column-{at}": name for at, name in columns.items()})
    again = confirm(as_owner, preview)
    assert "The studio changed since this preview" in again.content.decode()
    assert not Result.objects.exists()


# --- the command ---------------------------------------------------------------------------------


@pytest.fixture
def command(cast, tmp_path, capsys):
    def run(content, *options, group="Pre-pointe A"):
        path = tmp_path / "results.csv"
        if content is not None:
            path.write_text(content)
        call_command("import_results", str(path), "--class", group, *options)
        return capsys.readouterr().out

    return run


def test_the_command_writes_what_the_pages_would(command, cast):
    out = command(FILE)
    assert "2 new, 0 changed, 0 left alone, 0 refused." in out
    assert Result.objects.get(student=cast.ama).value == 14
    assert Standing.objects.count() == 2


def test_a_dry_run_shows_everything_and_writes_nothing(command, cast):
    before = everything()
    out = command(FILE, "--dry-run")
    assert "row 2: Ama Owiredu" in out
    assert "Nothing was written." in out
    assert everything() == before


@pytest.mark.parametrize("content, group, sentence", [
    (None, "Pre-pointe A", "cannot be read: No such file or directory."),
    (FILE, "Tap", "There is no class called 'Tap'."),
    ("", "Pre-pointe A", "The file is empty."),
    (FILE.replace("2026-03-10", "03/02/2026"), "Pre-pointe A", "Say --dates day-first or --dates month-first."),
    (table(AMA, "Nele Vance,rises,left,1,9,2026-03-10"), "Pre-pointe A", "Rows are refused, so nothing was written."),
])
def test_the_command_stops_with_one_sentence_and_writes_nothing(command, cast, content, group, sentence):
    before = everything()
    with pytest.raises(CommandError) as stopped:
        command(content, group=group)
    assert sentence in str(stopped.value)
    assert everything() == before


def test_a_table_with_a_column_for_each_test_is_shown_result_by_result(as_owner, cast):
    preview = bring(as_owner, cast, (
        "Student;Date;Rises left;Rises right;Balance left\n"
        "Ama Owiredu;2026-03-10;14;15;9.5\nBettina Krall;2026-03-10;11;;\n"
    ))
    assert outcomes(preview) == ["add"] * 4
    confirm(as_owner, preview)
    rows = Result.objects.order_by("pk").values_list("student__name", "measure__key", "side", "value")
    assert [(*row[:3], float(row[3])) for row in rows] == [
        ("Ama Owiredu", "rises", "L", 14), ("Ama Owiredu", "rises", "R", 15),
        ("Ama Owiredu", "passe-balance", "L", 9.5), ("Bettina Krall", "rises", "L", 11),
    ]
