"""Many taps in one post: each is answered by itself, in its order, and a poisoned one holds up nobody."""
import json
import uuid
from decimal import Decimal

import pytest
from django.db import connection
from django.urls import reverse

from progress.actions import measuring, together
from progress.actions.standings import rebuild_standings
from progress.models import Attendance, LogEntry, PainReport, Standing
from progress.views.barre.taps import MOST_BYTES, MOST_TAPS
from screening.models import Result
from studio.audit.models import AuditRow
from tests.progress.test_despite_rest import hurts


def tap(cast, value, *, student=None, key=None, age=0, **more):
    path = reverse("progress:record-result", args=[cast.screening.pk, "rises"])
    fields = {"key": str(key or uuid.uuid4()), "student": str((student or cast.ama).pk), "side": "L", "value": value}
    return {"path": path, "fields": fields | more, "age": age}


@pytest.fixture
def send(as_teacher, cast):
    def post(*taps, person=None, body=None):
        return as_teacher.post(
            reverse("progress:taps"), data=body or json.dumps({"taps": taps}), content_type="application/json",
            headers={"X-Outbox": "yes", "X-Outbox-Person": str((person or cast.teacher).pk)},
        )
    return post


def test_each_is_answered_as_it_would_have_been_alone(send, cast):
    first, second = tap(cast, "14"), tap(cast, "9", student=cast.bettina)
    put_right = tap(cast, "15", corrects_key=first["fields"]["key"])
    odd, strange = tap(cast, "99999"), tap(cast, "9", student=cast.out_of_reach)
    answers = send(first, odd, second, strange, put_right, first).json()["answers"]
    assert [each["status"] for each in answers] == [200, 422, 200, 404, 200, 200]
    assert [each["key"] for each in answers] == [
        each["fields"]["key"] for each in (first, odd, second, strange, put_right, first)]
    assert answers[0]["told"]["result"]["value"] == "14" and answers[1]["told"]["why"]
    assert sorted(Result.objects.saying().values_list("value", flat=True)) == [9, 15]


def test_a_poisoned_tap_holds_up_nobody(send, cast, monkeypatch, caplog):
    store = measuring.record_result

    def fails_at_thirteen(**about):
        row = store(**about)
        if about["entry"].value == Decimal(13):
            raise RuntimeError("poison")
        return row

    monkeypatch.setattr(measuring, "record_result", fails_at_thirteen)
    answers = send(tap(cast, "12"), tap(cast, "13"), tap(cast, "14")).json()["answers"]
    assert [(each["status"], bool(each["told"])) for each in answers] == [(200, True), (500, False), (200, True)]
    assert "poison" in caplog.text


def test_all_that_a_tablet_keeps_may_come_together(send, cast):
    log = [cast.class_group.pk]
    on = str(cast.screening.held_on)
    hurts = reverse("progress:report-pain", args=[cast.screening.pk, cast.ama.pk]) + "?measure=rises"
    answers = send(
        {"path": reverse("progress:log-attendance", args=log), "age": 3,
         "fields": {"key": str(uuid.uuid4()), "on": on, "present": [str(cast.ama.pk), str(cast.bettina.pk)]}},
        {"path": reverse("progress:log-change", args=log), "age": 2, "fields": {
            "key": str(uuid.uuid4()), "on": on, "exercise": "rises-one-foot", "student": str(cast.bettina.pk),
            "change": "control:lost"}},
        {"path": hurts, "age": 1, "fields": {
            "key": str(uuid.uuid4()), "region": ["L-achilles"], "feels": ["sharp"], "stopped": ""}},
    ).json()["answers"]
    assert [each["status"] for each in answers] == [200, 200, 200]
    assert Attendance.objects.saying().count() == 2 and LogEntry.objects.count() == 1
    assert PainReport.objects.get().measure == cast.rises


def test_every_tap_of_a_batch_is_a_change_of_its_own_to_the_audit(send, cast):
    before = AuditRow.objects.count()
    send(tap(cast, "12"), tap(cast, "9", student=cast.bettina), tap(cast, "9", student=cast.out_of_reach))
    rows = list(AuditRow.objects.order_by("pk"))[before:]
    assert [(row.page, row.outcome) for row in rows] == [
        ("progress:record-result", AuditRow.CHANGED), ("progress:record-result", AuditRow.CHANGED),
        ("progress:record-result", AuditRow.REFUSED)]


@pytest.mark.parametrize("path", [
    "/barre/taps/", "/follow-ups/", "/account/log-out/", "/barre/no-such-room/", "//elsewhere.example/barre/", "",
])
def test_only_what_is_tapped_at_the_barre_goes_in(send, cast, path):
    [answer] = send({"path": path, "fields": {"key": "k"}, "age": 0}).json()["answers"]
    assert answer == {"key": "k", "status": 404, "told": None}


def test_too_much_at_once_is_halved_by_the_tablet(send, cast):
    many = [tap(cast, "14") for _n in range(MOST_TAPS + 1)]
    assert send(*many).status_code == 413
    assert send(tap(cast, "14", note="x" * MOST_BYTES)).status_code == 413
    assert not Result.objects.exists()


@pytest.mark.parametrize("body", [
    "", "[]", "{}", '{"taps": 3}', '{"taps": [3]}', '{"taps": [{"path": "/barre/"}]}', "x",
])
def test_what_cannot_be_read_stores_nothing(send, body):
    assert send(body=body or " ").status_code == 422


def test_a_batch_of_somebody_else_waits_for_her(send, cast):
    answer = send(tap(cast, "14"), person=cast.other_teacher)
    assert (answer.status_code, answer.json()["is_held"]) == (401, True)
    assert not Result.objects.exists()


def standing():
    return sorted(Standing.objects.values_list("student_id", "measure_id", "side", "as_of", "verdict", "line"), key=str)


def test_what_comes_together_is_judged_once_and_as_if_everything_were_judged_anew(send, cast, monkeypatch):
    judged = []
    refresh = together.refresh_standings
    monkeypatch.setattr(together, "refresh_standings", lambda **about: judged.append(about) or refresh(**about))
    first, second = tap(cast, "14"), tap(cast, "9", student=cast.bettina)
    undo = {"path": reverse("progress:take-back", args=[cast.screening.pk, "rises"]), "age": 0,
            "fields": {"key": str(uuid.uuid4()), "of": second["fields"]["key"]}}
    put_right = tap(cast, "15", corrects_key=first["fields"]["key"])
    answers = send(first, second, put_right, undo, tap(cast, "99999")).json()["answers"]
    assert [each["status"] for each in answers] == [200, 200, 200, 200, 422]
    assert judged == [{"class_ids": {cast.class_group.pk}, "since": cast.screening.held_on}]
    there = standing()
    rebuild_standings()
    assert there == standing() and {row[0] for row in there} == {cast.ama.pk}


def test_where_judging_together_fails_each_goes_in_alone(send, cast, monkeypatch, caplog):
    refresh, tried = together.refresh_standings, []

    def fails_once(**about):
        tried.append(Result.objects.count())
        if len(tried) == 1:
            raise RuntimeError("not judged")
        refresh(**about)

    monkeypatch.setattr(together, "refresh_standings", fails_once)
    answers = send(tap(cast, "12"), tap(cast, "13", student=cast.bettina)).json()["answers"]
    assert [each["status"] for each in answers] == [200, 200] and "one by one" in caplog.text
    assert tried == [2, 1, 2] and Result.objects.count() == 2 and Standing.objects.count() == 2


def test_what_the_database_refuses_beside_a_tap_loses_none(send, cast, monkeypatch, caplog):
    """The audit's row is such a thing: what fails there is only logged."""
    def fails(*_rows):
        with connection.cursor() as cursor:
            cursor.execute("select nothing from nowhere")

    monkeypatch.setattr(type(AuditRow.objects), "bulk_create", fails)
    path = reverse("progress:record-missing", args=[cast.screening.pk, "rises"])
    answers = send(*(
        {"path": path, "age": 0, "fields": {"key": str(uuid.uuid4()), "student": str(each.pk), "reason": "declined"}}
        for each in (cast.ama, cast.bettina)
    )).json()["answers"]
    assert [each["status"] for each in answers] == [200, 200] and "one by one" not in caplog.text
    assert set(Result.objects.values_list("student", flat=True)) == {cast.ama.pk, cast.bettina.pk}


def test_whoever_rests_is_asked_about_in_a_batch_as_alone(send, cast):
    rested = tap(cast, "12", student=cast.bettina)
    hurts(cast, student=cast.bettina)
    answers = send(tap(cast, "12"), rested, tap(cast, "13")).json()["answers"]
    assert [each["status"] for each in answers] == [200, 422, 200] and answers[1]["told"]["asks_rest"]
