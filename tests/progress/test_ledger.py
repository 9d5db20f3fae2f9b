"""The ledger of taps: what stands, what Undo offers, and what a taking back brings back, whatever was tapped before."""
import datetime as dt
import json
import random
import uuid
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone
from hypothesis import HealthCheck, given, settings

from progress.actions import day as days
from progress.actions import measuring
from progress.actions.day import ClassDay
from progress.models import Attendance
from progress.queries.barre.sheet import last_entry
from screening.actions import Entry
from screening.models import Result
from studio.actions import Refused
from studio.ledger import Conflict
from tests.histories import HISTORY, PUT_RIGHT, SAY, Player, random_steps
from tests.ledger_player import LedgerPlayer, folds_alike


# Ten thousand take minutes: `python -m tests.bench.ledger_histories` plays as many as it is told, on either database.
@settings(max_examples=300, deadline=None, suppress_health_check=list(HealthCheck))
@given(steps=HISTORY)
def test_whatever_two_tablets_tap_the_ledger_says_what_the_few_lines_say(steps, cast):
    player = LedgerPlayer(cast.ama, cast.screening.held_on, (cast.owner, cast.teacher))
    player.play(steps)
    player.check()


def test_the_script_of_the_tablet_says_the_same_at_every_look(cast):
    told = []
    for seed in range(60):
        player = LedgerPlayer(cast.ama, cast.screening.held_on, (cast.owner, cast.teacher))
        player.play(random_steps(random.Random(seed)))
        told.append(player.told())
    assert sum(bool(look["taps"]) for each in told for look in each["looks"]) > 100
    assert folds_alike(told) == ""


class SheetPlayer(Player):
    """The same through the doors of the barre: what waits on a tablet comes in one post, hours late or not."""

    def __init__(self, client, cast):
        super().__init__(lambda number, tapped: self.posts[number].append(tapped))
        self.client, self.cast, self.people, self.posts = client, cast, (cast.teacher, cast.owner), ([], [])
        self.places = {}

    def send(self, number):
        super().send(number)
        where, taps = [self.cast.screening.pk, "rises"], []
        for tapped in self.posts[number]:
            if tapped.what == SAY:
                self.places |= dict.fromkeys(tapped.places, tapped.key)
            name = "record-result" if tapped.what in (SAY, PUT_RIGHT) else "take-back"
            fields = {"key": str(tapped.key), "student": str(self.cast.ama.pk), "side": "L"}
            fields |= {"value": str(tapped.value - 90)} if tapped.value else {"of": str(tapped.of)}
            fields |= {"corrects_key": str(tapped.of)} if tapped.what == PUT_RIGHT else {}
            taps.append({"path": reverse(f"progress:{name}", args=where), "fields": fields, "age": 3600})
        self.posts[number].clear()
        if not taps:
            return
        self.client.force_login(self.people[number], backend="django.contrib.auth.backends.ModelBackend")
        answer = self.client.post(
            reverse("progress:taps"), data=json.dumps({"taps": taps}), content_type="application/json",
            headers={"X-Outbox": "yes"},
        )
        assert {each["status"] for each in answer.json()["answers"]} <= {200, 422}


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(steps=HISTORY)
def test_the_sheet_keeps_what_its_tablets_tapped(steps, cast, client):
    # What the example before left: past the model, which keeps every row.
    Result.objects.all()._raw_delete("default")
    player = SheetPlayer(client, cast)
    # A sheet's tap speaks of one foot.
    player.play([(what, number, pick or 1, value) for what, number, pick, value in steps])
    stood = {words: player.values[words] - 90 for words in player.stands.now.values() if words}
    assert dict(Result.objects.saying().values_list("origin", "value")) == stood
    for number, person in enumerate(player.people):
        offered = last_entry(cast.screening, cast.rises, person, now=timezone.now())
        assert (offered.key if offered else None) == player.undo(number)


def record(cast, value, *, student=None, at=None, by=None):
    return measuring.record_result(
        key=uuid.uuid4(), screening=cast.screening, student=student or cast.ama, measure=cast.rises, side="L",
        entry=Entry(value=Decimal(value), tapped_at=at), by=by or cast.teacher,
    )


def put_right(cast, result, value, by=None):
    entry = Entry(value=Decimal(value))
    return measuring.correct_result(key=uuid.uuid4(), result=result, entry=entry, by=by or cast.teacher)


def undo(cast, by=None):
    """What Undo offers on the sheet is taken back."""
    offered = last_entry(cast.screening, cast.rises, by or cast.teacher, now=timezone.now())
    return take_back(cast, offered.origin)


def take_back(cast, of):
    return days.take_back(key=uuid.uuid4(), of=of, day=ClassDay.of(cast.screening), by=cast.teacher)


def standing(cast):
    return [row.value for row in Result.objects.saying().filter(student=cast.ama).order_by("attempt")]


def test_a_count_put_right_to_what_it_was_before_is_not_lost_by_one_undo(cast):
    first = record(cast, 14)
    again = put_right(cast, put_right(cast, first, 15), 14)
    assert again.origin == again.key
    undo(cast)
    assert standing(cast) == [15]
    undo(cast)
    assert standing(cast) == [14]
    undo(cast)
    assert standing(cast) == [] and last_entry(cast.screening, cast.rises, cast.teacher, now=timezone.now()) is None


def test_the_page_without_script_offers_the_undo_of_what_stands_again(cast, as_teacher):
    first = record(cast, 14)
    put_right(cast, first, 15)
    undo(cast)
    sheet = as_teacher.get(reverse("progress:sheet", args=[cast.screening.pk, "rises"]))
    assert sheet.context["view"].undo == first
    as_teacher.post(reverse("progress:take-back", args=[cast.screening.pk, "rises"]),
                    {"key": str(uuid.uuid4()), "of": str(first.key)})
    assert standing(cast) == []


def test_a_taking_back_is_taken_back_in_its_turn(cast):
    first = record(cast, 14)
    second = put_right(cast, first, 15)
    [back] = take_back(cast, second.key)
    [forth] = take_back(cast, back.key)
    assert (forth.origin, standing(cast)) == (second.key, [15])
    [gone] = take_back(cast, record(cast, 9).key)
    take_back(cast, gone.key)
    assert standing(cast) == [15, 9]


def test_what_another_person_put_right_is_hers_to_take_back(cast):
    first = record(cast, 14)
    put_right(cast, first, 15, by=cast.owner)
    assert last_entry(cast.screening, cast.rises, cast.teacher, now=timezone.now()) is None
    with pytest.raises(Refused):
        take_back(cast, first.key)
    undo(cast, by=cast.owner)
    assert last_entry(cast.screening, cast.rises, cast.teacher, now=timezone.now()) == first


def test_two_who_take_the_same_correction_back_are_both_right(cast):
    second = put_right(cast, record(cast, 14), 15)
    assert [row.value for row in take_back(cast, second.key)] == [14]
    assert [row.value for row in take_back(cast, second.key)] == [14]
    assert Result.objects.count() == 3


def test_one_key_takes_back_one_tap_and_no_other(cast):
    first, second = record(cast, 14), record(cast, 15)
    key, day = uuid.uuid4(), ClassDay.of(cast.screening)
    [gone] = days.take_back(key=key, of=second.key, day=day, by=cast.teacher)
    assert days.take_back(key=key, of=second.key, day=day, by=cast.teacher) == [gone]
    with pytest.raises(Conflict):
        days.take_back(key=key, of=first.key, day=day, by=cast.teacher)
    assert standing(cast) == [14]


def test_a_tap_keeps_its_own_hour_and_that_of_its_coming(cast):
    tapped = timezone.now() - dt.timedelta(hours=3)
    row = record(cast, 14, at=tapped)
    assert (row.tapped_at, row.received_at) == (tapped, timezone.now())
    assert record(cast, 15).tapped_at == timezone.now()
    assert not Attendance.objects.exists()
