"""The ledger of taps takes every row over: a studio's, and the history of a day on which everything was put right."""
import datetime as dt
import uuid
from decimal import Decimal

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.models import F
from django.utils import timezone

from progress.actions.day import ClassDay, take_back
from progress.actions.demo import fill_in_demo
from progress.models import Attendance, Height, LogEntry, PainAnswer
from progress.queries.barre.sheet import last_entry
from screening.models import Measure, Result, Screening
from studio.models import User

pytestmark = pytest.mark.django_db(transaction=True)
BEFORE = [("screening", "0007_poses"), ("progress", "0014_poses")]
MODELS = Result, Attendance, LogEntry, Height, PainAnswer


def migrate(targets):
    executor = MigrationExecutor(connection)
    executor.migrate(targets)
    return executor.loader.project_state(targets).apps


@pytest.fixture
def now():
    """Forward again, whatever the test does."""
    latest = [key for key in MigrationExecutor(connection).loader.graph.leaf_nodes() if key[0] in dict(BEFORE)]
    yield lambda: migrate(latest)
    migrate(latest)


def test_every_row_of_a_whole_studio_is_carried_over(now):
    call_command("first_start", "--empty", verbosity=0)
    fill_in_demo(today=dt.date(2026, 3, 24))
    stood = {model: (model.objects.count(), sorted(model.objects.in_force().values_list("pk"))) for model in MODELS}
    migrate(BEFORE)
    now()
    for model, (count, standing) in stood.items():
        assert model.objects.count() == count > 0
        assert sorted(model.objects.in_force().values_list("pk")) == standing
        assert not model.objects.exclude(tapped_at=F("received_at")).exists()
        assert not model.objects.exclude(origin=F("key")).exists()
        assert model.objects.values("pk").count() == model.objects.values("key").distinct().count()


class Old:
    """Writes rows as they were before, in their order."""

    def __init__(self, apps, cast):
        self.apps, self.cast = apps, cast

    def result(self, value=None, *, reason="", before=None, key=None, measure=None, side="L", attempt=1, **more):
        return self.apps.get_model("screening", "Result").objects.create(
            uuid=key or uuid.uuid4(), screening_id=self.cast.screening.pk, student_id=self.cast.ama.pk,
            measure_id=(measure or self.cast.rises).pk, protocol_id=(measure or self.cast.rises).protocols.get().pk,
            side=side, attempt=attempt, value=value, reason_missing=reason, taken_on=self.cast.screening.held_on,
            recorded_by_id=self.cast.teacher.pk, supersedes=before, **more,
        ).uuid

    def row(self, key):
        return self.apps.get_model("screening", "Result").objects.get(uuid=key)

    def chain(self, *values, **where):
        """Each in the place of the one before it; None is taken back."""
        keys = []
        for value in values:
            before = self.row(keys[-1]) if keys else None
            keys.append(self.result(value, reason="withdrawn" if value is None else "", before=before, **where))
        return keys


def origins(keys):
    """By the place in the chain: whose words each row carries."""
    found = dict(Result.objects.filter(key__in=keys).values_list("key", "origin"))
    return [keys.index(found[key]) for key in keys]


def test_a_row_that_stood_for_an_earlier_one_carries_its_words(cast, now):
    old = Old(migrate(BEFORE), cast)
    undone = old.chain(14, 15, 14)
    to_nothing = old.chain(9, 10, 9, None, side="R")
    twice = old.chain(20, 21, 20, 22, 20, attempt=2)
    confirmed = old.chain(Decimal("7"), Decimal("7"), attempt=3)
    at_least = [old.result(8, attempt=4, reached_cap=True)]
    at_least.append(old.result(8, attempt=4, before=old.row(at_least[0])))
    now()
    assert (origins(undone), origins(to_nothing), origins(twice)) == ([0, 1, 0], [0, 1, 0, 3], [0, 1, 0, 3, 0])
    assert (origins(confirmed), origins(at_least)) == ([0, 0], [0, 1])


def test_one_reason_for_many_feet_is_one_tap_however_its_keys_were_made(cast, now):
    old = Old(migrate(BEFORE), cast)
    tap = uuid.uuid4()
    of_balance, of_landing = (uuid.uuid5(tap, each.key) for each in (cast.balance, cast.landing))
    keys = [old.result(reason="absent", key=tap), old.result(reason="absent", key=uuid.uuid5(tap, "R"), side="R")]
    for measure, key in ((cast.balance, of_balance), (cast.landing, of_landing)):
        keys.append(old.result(reason="absent", key=key, measure=measure))
        keys.append(old.result(reason="absent", key=uuid.uuid5(key, "R"), measure=measure, side="R"))
    now()
    assert set(Result.objects.values_list("origin", flat=True)) == {tap}
    take_back(key=uuid.uuid4(), of=keys[-1], day=ClassDay.of(cast.screening), by=cast.teacher)
    assert not Result.objects.saying().exists() and Result.objects.count() == 12


def test_undo_goes_on_where_it_was(cast, now):
    old = Old(migrate(BEFORE), cast)
    first, second, _again = old.chain(14, 15, 14)
    now()
    rises, davit = Measure.objects.get(key="rises"), User.objects.get(username="davit")
    undo = last_entry(Screening.objects.get(), rises, davit, now=timezone.now())
    assert undo.key == first and second != first
    take_back(key=uuid.uuid4(), of=undo.origin, day=ClassDay.of(cast.screening), by=cast.teacher)
    assert not Result.objects.saying().exists()


def test_who_was_here_by_doing_something_keeps_that_when_the_tap_is_taken_back(cast, now):
    apps = migrate(BEFORE)
    log = apps.get_model("progress", "ClassLog").objects.create(
        class_group_id=cast.class_group.pk, held_on=cast.screening.held_on, opened_by_id=cast.teacher.pk
    )
    rows, tap, said = apps.get_model("progress", "Attendance").objects, uuid.uuid4(), uuid.uuid4()
    rows.create(log=log, student_id=cast.ama.pk, is_present=True, tap=tap, origin=uuid.uuid4(), by_id=cast.teacher.pk)
    rows.create(log=log, student_id=cast.bettina.pk, is_present=True, tap=said, origin=said, by_id=cast.teacher.pk)
    now()
    assert not Attendance.objects.filter(key=tap).exists()
    assert Attendance.objects.get(key=said).origin == said
    assert Attendance.objects.last_of(cast.teacher).student_id == cast.bettina.pk


def test_answers_to_a_report_stand_one_for_the_other(cast, now):
    apps = migrate(BEFORE)
    report = apps.get_model("progress", "PainReport").objects.create(
        student_id=cast.ama.pk, asks="stop", reported_on=cast.screening.held_on, reported_by_id=cast.teacher.pk
    )
    for kind in ("teacher", "reopened", "owner"):
        apps.get_model("progress", "PainAnswer").objects.create(
            report=report, kind=kind, note=kind, answered_by_id=cast.owner.pk
        )
    now()
    assert [(row.kind, row.supersedes.kind if row.supersedes else "") for row in PainAnswer.objects.all()] == [
        ("teacher", ""), ("reopened", "teacher"), ("owner", "reopened")]
    assert PainAnswer.objects.saying().get().kind == "owner"
