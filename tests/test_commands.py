"""The commands that nobody runs twice by intention: first start, demo, standings anew, a new password."""
import datetime as dt
import hashlib
import re

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction

from progress.actions import measuring
from progress.models import ClassStanding, FollowUp, PainReport, Standing
from screening.models import Battery, Measure, Protocol, Result, Target
from studio.models import ClassGroup, Enrolment, Stage, Student, Studio, Term, User
from tests.progress.test_measuring import past_results, record

DAY = dt.date(2026, 3, 24)
PASSWORD_SHAPE = re.compile(r"^ {4}((?:[0-9a-f]{4}-){3}[0-9a-f]{4})$", re.MULTILINE)
LOGS_IN = re.compile(r"logs in as (\w+) with (\S+)$", re.MULTILINE)


@pytest.fixture
def run(db, capsys):
    def call(*words, **options):
        call_command(*words, **options)
        return capsys.readouterr().out

    return call


# --- the first start -----------------------------------------------------------------------------


def test_the_first_start_prints_the_owners_password_once_and_it_opens(run, client):
    [password] = PASSWORD_SHAPE.findall(run("first_start", "--empty"))
    assert client.post("/login/", {"username": "owner", "password": password}).status_code == 302
    assert PASSWORD_SHAPE.findall(run("first_start", "--empty")) == []
    assert User.objects.get().check_password(password)


def test_a_second_start_adds_nothing_and_keeps_what_the_owner_changed(run):
    run("first_start", "--empty")
    Stage.objects.filter(key="pre-pointe").update(name="getting ready")
    Measure.objects.filter(key="rises").update(soft_high=60)
    Target.objects.filter(measure__key="rises").update(value=11)
    rows = [Stage, Measure, Protocol, Battery, Target, User, Studio]
    before = [model.objects.count() for model in rows]
    run("first_start", "--empty")
    assert [model.objects.count() for model in rows] == before
    assert Stage.objects.get(key="pre-pointe").name == "getting ready"
    assert Measure.objects.get(key="rises").soft_high == 60
    assert set(Target.objects.filter(measure__key="rises").values_list("value", flat=True)) == {11}


def test_an_empty_start_has_no_student(run):
    run("first_start", "--empty")
    assert not Student.objects.exists()
    assert not Studio.current().is_demo


# --- the demo ------------------------------------------------------------------------------------


@pytest.fixture
def lightly(monkeypatch):
    """Without its judgement, which the same facts make the same and other tests hold to that."""
    monkeypatch.setattr("progress.actions.demo.rebuild_standings", lambda **_: 0)
    monkeypatch.setattr("progress.management.commands.first_start.judge_where_nothing_is_judged", lambda **_: 0)


def written():
    """A digest of everything the demo tells, without keys and clocks."""
    rows = [
        *Student.objects.values_list("name", "called", "birth_on", "stage__key", "classes_per_week", "dominant_foot"),
        *Enrolment.objects.values_list("student__name", "class_group__name", "term__name", "joined_on", "left_on"),
        *Result.objects.values_list("student__name", "measure__key", "side", "attempt", "taken_on", "value", "key"),
        *PainReport.objects.values_list("student__name", "feels", "intensity", "reported_on", "uuid"),
        *FollowUp.objects.values_list("student__name", "kind", "measure__key", "side", "due_on", "closed_on"),
    ]
    return hashlib.sha256("\n".join(sorted(map(str, rows))).encode()).hexdigest(), len(rows)


def test_the_demo_of_one_day_is_the_same_every_time(run, lightly):
    run("first_start", "--empty")
    digests = []
    for _twice in range(2):
        with transaction.atomic():
            run("load_demo", "--as-of", "2026-03-24")
            digests.append(written())
            transaction.set_rollback(True)
    assert digests[0] == digests[1]
    assert digests[0][1] > 5000


def test_the_first_start_fills_the_demo_in_and_says_who_else_may_log_in(run, lightly, client):
    [(username, password)] = LOGS_IN.findall(run("first_start"))
    assert client.post("/login/", {"username": username, "password": password}).status_code == 302
    assert Studio.current().is_demo
    before = written()
    assert run("first_start") == ""
    assert written() == before


@pytest.mark.parametrize("make", [
    lambda: Student.objects.create(name="Nele Vance"),
    lambda: ClassGroup.objects.create(name="Tap"),
    lambda: Term.objects.create(name="Mine", starts_on=DAY, ends_on=DAY + dt.timedelta(days=80)),
])
def test_the_demo_refuses_a_studio_that_has_something_of_its_own(run, make):
    run("first_start", "--empty")
    make()
    before = written()
    with pytest.raises(CommandError, match="only into an empty one"):
        run("load_demo", "--as-of", "2026-03-24")
    assert written() == before


def test_the_demo_before_the_first_start_is_one_sentence(run):
    with pytest.raises(CommandError, match="Start with first_start"):
        run("load_demo", "--as-of", "2026-03-24")


# --- standings -----------------------------------------------------------------------------------


def test_rebuilt_standings_equal_what_was_stored_and_follow_ups_stay(run, cast):
    past_results(cast, [8, 10, 11, 12, 13, 13, 12, 13, 12, 13, 12, 13])
    record(cast, 12)
    measuring.close_screening(screening=cast.screening, closed_on=DAY, by=cast.teacher)
    columns = ["student_id", "measure_id", "side", "as_of", "verdict", "measure_again", "line"]
    before = [sorted(map(str, Standing.objects.values_list(*columns))), list(FollowUp.objects.values()),
              list(ClassStanding.objects.values("class_group", "as_of", "stalls"))]
    Standing.objects.update(verdict="gaining", line={})
    assert "3 classes judged anew." in run("rebuild_standings")
    assert before == [sorted(map(str, Standing.objects.values_list(*columns))), list(FollowUp.objects.values()),
                      list(ClassStanding.objects.values("class_group", "as_of", "stalls"))]


# --- a new password ------------------------------------------------------------------------------


def test_a_new_password_opens_and_ends_what_the_old_one_had_opened(run, as_teacher, cast, client):
    [password] = PASSWORD_SHAPE.findall(run("new_password", "davit"))
    assert as_teacher.get("/").status_code == 302
    assert client.post("/login/", {"username": "davit", "password": password}).status_code == 302


def test_a_new_password_ends_a_lock_out(run, client, cast, settings):
    """Whoever forgot it has tried too often before she asks."""
    settings.AXES_ENABLED = True
    for n in range(settings.AXES_FAILURE_LIMIT):
        client.post("/login/", {"username": "davit", "password": f"wrong {n}"})
    [password] = PASSWORD_SHAPE.findall(run("new_password", "davit"))
    assert client.post("/login/", {"username": "davit", "password": password}).status_code == 302


def test_a_new_password_for_nobody_is_one_sentence(run):
    with pytest.raises(CommandError, match="Nobody logs in as 'ida'."):
        run("new_password", "ida")
