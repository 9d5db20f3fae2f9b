"""The demo has its stories to find, on any day it is loaded."""
import datetime as dt
import json
import lzma

import pytest
from django.core.management import call_command
from django.utils import timezone

from progress.actions.demo import FILE, fill_in_demo, term_names
from progress.drawing import charts
from progress.models import ClassLog, ClassStanding, FollowUp, FollowUpNote, PainAnswer, PainReport, Standing
from progress.queries import resting_students
from progress.queries.student import student_view
from screening.models import Result
from studio.models import ClassGroup, ClassMeeting, Enrolment, Student, Term
from tests import demo_file
from tests.progress.test_chart_labels import covered

NOON = dt.datetime(2026, 3, 24, 12, tzinfo=dt.UTC)


@pytest.mark.django_db
def test_every_story_of_the_script_can_be_found():
    call_command("first_start", "--empty", verbosity=0)
    fill_in_demo(today=dt.date(2026, 3, 24))
    rows = Standing.objects.select_related("student", "measure")
    verdicts = {(row.student.name.split()[0], row.measure.key, row.side): row.verdict for row in rows}
    assert verdicts["Dunya", "rises", "L"] == "stalled"
    assert verdicts["Dunya", "rises", "R"] == "gaining"
    assert verdicts["Inés", "rises", "L"] == "slipping"
    assert {verdicts["Greta", "passe-balance", side] for side in "LR"} <= {"stalled", "slipping"}
    assert verdicts["Freya", "rises", "L"] == "at_target"
    assert verdicts["Noor", "rises", "L"] == "too_early"
    assert ClassStanding.objects.get(class_group__name="Pre-pointe A").stalls[0]["measure"] == "passe-balance"
    assert FollowUp.objects.filter(kind=FollowUp.SIDES_APART, student__name="Jaya Pillar").exists()
    assert rows.get(student__name="Leilani Kahale", measure__key="rises", side="R").line["h"]
    hana = PainReport.objects.filter(student__name="Hana Okabe").first()
    assert resting_students([hana.student_id], now=timezone.now())
    first_on = PainReport.objects.filter(student=hana.student_id).earliest("reported_on").reported_on
    assert not Result.objects.filter(student=hana.student_id, measure__loads_foot=True, taken_on__gt=first_on).exists()
    assert PainAnswer.objects.get(kind=PainAnswer.CLINICIAN).report.student.name == "Oluchi Nwabara"


@pytest.mark.parametrize("weeks", range(53))
def test_on_any_day_of_the_year_the_two_terms_have_names_of_their_own(weeks):
    before, now = term_names(dt.date(2026, 1, 5) + dt.timedelta(weeks=weeks))
    assert before != now and before.split()[0] != now.split()[0]


@pytest.mark.django_db
def test_the_demo_is_whole_in_the_middle_of_january():
    call_command("first_start", "--empty", verbosity=0)
    fill_in_demo(today=dt.date(2027, 1, 13))
    assert [term.name for term in Term.objects.order_by("starts_on")] == ["Summer term 2026", "Autumn term 2026"]
    assert ClassStanding.objects.get(class_group__name="Pre-pointe A").stalls[0]["measure"] == "passe-balance"


@pytest.mark.parametrize("day", [dt.date(2026, 3, 23 + on) for on in range(7)], ids="{:%A}".format)
def test_on_any_day_of_the_week_the_demo_ends_today(db, monkeypatch, time_machine, day):
    """Its classes meet today, its terms begin on Mondays, and nothing has happened that is still to come."""
    monkeypatch.setattr("progress.actions.demo.rebuild_standings", lambda **_: 0)
    time_machine.move_to(dt.datetime.combine(day, dt.time(17), dt.UTC), tick=False)
    call_command("first_start", "--empty", verbosity=0)
    fill_in_demo(today=day)
    assert ClassMeeting.objects.filter(weekday=day.weekday()).count() == 3
    assert {term.starts_on.weekday() for term in Term.objects.all()} == {0}
    assert Result.objects.latest("taken_on").taken_on == PainReport.objects.latest("reported_on").reported_on == day
    assert ClassLog.objects.latest("held_on").held_on < day
    running = Term.objects.latest("starts_on")
    assert running.week_number(day) == 12
    assert not Enrolment.objects.filter(joined_on__lt=running.starts_on, term=running).exists()
    note = FollowUpNote.objects.get(text__startswith="Due by", follow_up__student__name="Hana Okabe")
    assert f"Due by {day.day} March." in note.text


@pytest.mark.django_db
def test_the_demo_as_it_is_loaded_is_written_back_as_the_same_file(monkeypatch, time_machine):
    """So a column that the file lacks, or a migration that it has not seen, is noticed here."""
    monkeypatch.setattr("progress.actions.demo.rebuild_standings", lambda **_: 0)
    told = json.loads(lzma.decompress(FILE.read_bytes()))
    day = dt.date.fromisoformat(told["as_of"])
    # Late enough for all that happened that evening.
    time_machine.move_to(dt.datetime.combine(day, dt.time(23), dt.UTC), tick=False)
    call_command("first_start", "--empty", verbosity=0)
    fill_in_demo(today=day)
    assert demo_file.told() == told




@pytest.mark.django_db
def test_no_words_cover_a_result_in_any_chart_of_the_demo():
    call_command("first_start", "--empty", verbosity=0)
    fill_in_demo(today=NOON.date())
    term, drawn = Term.objects.latest("starts_on"), 0
    for child in Student.objects.all():
        view = student_view(child, term, classes=ClassGroup.objects.all(), today=NOON.date(), now=NOON)
        for strand in view.strands:
            drawn += 1
            for size in charts.SIZES:
                assert covered(strand.chart, size) == [], (child.name, str(strand.measure), size)
    assert drawn > 90
