"""What the server answers to a tablet's outbox: JSON, never a page, and each entry once."""
import uuid
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from progress.actions import measuring
from progress.models import PainReport
from screening.actions import save_protocol
from screening.models import Result
from tests import factories

BACKEND = "django.contrib.auth.backends.ModelBackend"


@pytest.fixture
def tablet(as_teacher, cast):
    """Posts as the outbox of Davit's tablet does."""

    def send(route, *, measure="rises", person=None, client=as_teacher, **fields):
        args = [cast.screening.pk, measure] if route != "report-pain" else [cast.screening.pk, cast.ama.pk]
        headers = {"X-Outbox": "yes", "X-Outbox-Person": str((person or cast.teacher).pk)}
        return client.post(reverse(f"progress:{route}", args=args), fields, headers=headers)

    return send


def tap(cast, value="14", **more):
    return {"key": str(uuid.uuid4()), "student": cast.ama.pk, "side": "L", "value": value, **more}


def test_a_stored_result_is_told_with_its_key(tablet, cast):
    fields = tap(cast)
    answer = tablet("record-result", **fields).json()
    told = answer["result"]
    assert answer["key"] == told["key"] == fields["key"]
    assert (told["written"], told["by"], told["superseded"]) == ("14", "DM", False)


def test_the_same_entry_sent_three_times_is_answered_alike_and_stored_once(tablet, cast):
    fields = tap(cast)
    answers = [tablet("record-result", **fields).json()["result"] for _n in range(3)]
    assert answers[0] == answers[1] == answers[2]
    assert Result.objects.count() == 1


@pytest.mark.parametrize("other", [{"value": "15"}, {"side": "R"}, {"fault": "wobble"}, {"at_least": "1"}])
def test_other_contents_under_the_same_key_are_a_conflict_that_names_what_stands(tablet, cast, other):
    fields = tap(cast)
    tablet("record-result", **fields)
    answer = tablet("record-result", **{**fields, **other})
    assert (answer.status_code, answer.json()["result"]["written"]) == (409, "14")
    assert Result.objects.get().value == 14


def test_fault_and_at_least_are_stored(tablet, cast):
    tablet("record-result", **tap(cast, fault="wobble", at_least="1"))
    result = Result.objects.get()
    assert (result.fault, result.reached_cap) == ("wobble", True)


def test_an_unusual_value_asks_back_and_is_kept_when_confirmed(tablet, cast):
    fields = tap(cast, "120")
    answer = tablet("record-result", **fields)
    assert (answer.status_code, answer.json()["asks_back"]) == (422, True)
    assert tablet("record-result", **fields, confirmed="1").status_code == 200


def test_an_impossible_value_is_refused_in_words(tablet, cast):
    answer = tablet("record-result", **tap(cast, "999"))
    assert (answer.status_code, answer.json()["asks_back"]) == (422, False)
    assert "not possible" in answer.json()["why"]


def test_a_correction_names_the_entry_by_its_tablets_key(tablet, cast):
    first = tap(cast)
    tablet("record-result", **first)
    tablet("record-result", **tap(cast, "9", corrects_key=first["key"]))
    assert [row.value for row in Result.objects.in_force()] == [9]


def test_a_correction_of_nothing_is_refused_and_stores_nothing(tablet, cast):
    answer = tablet("record-result", **tap(cast, corrects_key=str(uuid.uuid4())))
    assert (answer.status_code, Result.objects.count()) == (422, 0)


def test_a_correction_cannot_be_moved_to_another_foot(tablet, cast):
    first = tap(cast)
    tablet("record-result", **first)
    answer = tablet("record-result", **tap(cast, "9", side="R", corrects_key=first["key"]))
    assert (answer.status_code, Result.objects.count()) == (404, 1)


def test_taking_back_twice_with_one_key_takes_back_once(tablet, cast):
    first, key = tap(cast), str(uuid.uuid4())
    tablet("record-result", **first)
    answers = [tablet("take-back", key=key, of=first["key"]) for _n in range(2)]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert Result.objects.in_force().get().reason_missing == Result.WITHDRAWN
    assert Result.objects.count() == 2


def test_not_today_is_stored_once_for_each_foot_however_often_it_is_sent(tablet, cast):
    fields = {"key": str(uuid.uuid4()), "student": cast.ama.pk, "reason": "not_today"}
    answers = [tablet("record-missing", **fields).json()["results"] for _n in range(2)]
    assert [row["side"] for row in answers[0]] == ["L", "R"]
    assert answers[0] == answers[1]
    assert tablet("take-back", key=str(uuid.uuid4()), of=fields["key"]).status_code == 200
    assert {row.reason_missing for row in Result.objects.in_force()} == {Result.WITHDRAWN}


def test_a_not_today_that_finds_nothing_left_to_say_is_no_error(tablet, cast):
    for side in "LR":
        tablet("record-result", **tap(cast, side=side))
    answer = tablet("record-missing", key=str(uuid.uuid4()), student=cast.ama.pk, reason="absent")
    assert (answer.status_code, answer.json()["results"]) == (200, [])


def test_a_closed_day_says_where_it_is_opened_again(tablet, cast):
    measuring.close_screening(screening=cast.screening, closed_on=cast.screening.held_on, by=cast.owner)
    told = tablet("record-result", **tap(cast)).json()
    assert "closed" in told["why"]
    assert told["reopen"] == reverse("progress:reopen-screening", args=[cast.screening.pk])


def test_only_a_first_result_may_move_to_another_open_day(tablet, cast):
    first = tap(cast)
    for fields in (first, tap(cast, "12", corrects_key=first["key"])):
        tablet("record-result", **fields)
    other = factories.ScreeningFactory(class_group=cast.class_group, term=cast.term, battery=cast.battery)
    measuring.close_screening(screening=cast.screening, closed_on=cast.screening.held_on, by=cast.owner)
    moved = {
        "first": tablet("record-result", **tap(cast)),
        "correction": tablet("record-result", **tap(cast, "9", corrects_key=first["key"])),
        "undoing": tablet("take-back", key=str(uuid.uuid4()), of=first["key"]),
        "reason": tablet("record-missing", key=str(uuid.uuid4()), student=cast.bettina.pk, reason="absent"),
    }
    days = {what: [day["path"] for day in answer.json()["others"]] for what, answer in moved.items()}
    here = reverse("progress:record-result", args=[other.pk, "rises"])
    assert days == {"first": [here], "correction": [], "undoing": [], "reason": []}
    assert all(answer.json()["reopen"] for answer in moved.values())


def test_a_result_belongs_to_the_protocol_that_stood_on_the_page_it_was_tapped_on(tablet, cast):
    save_protocol(measure=cast.rises, changes={"cap": Decimal(12), "stop_rule": "At twelve: stop."}, by=cast.owner)
    tablet("record-result", **tap(cast, protocol="1"))
    tablet("record-result", **tap(cast, protocol="2", side="R"))
    tablet("record-result", **tap(cast, student=cast.bettina.pk))
    rows = Result.objects.order_by("pk").values_list("protocol__version", "value", "reached_cap")
    assert list(rows) == [(1, 14, False), (2, 12, True), (2, 12, True)]


def test_the_same_tap_under_an_older_protocol_is_sent_twice_and_stored_once(tablet, cast):
    save_protocol(measure=cast.rises, changes={"cap": Decimal(12)}, by=cast.owner)
    fields = tap(cast, protocol="1")
    assert [tablet("record-result", **fields).status_code for _n in range(2)] == [200, 200]
    assert Result.objects.get().protocol.version == 1


@pytest.mark.parametrize("named", ["3", "first", "-1", "9" * 30])
def test_a_protocol_that_never_was_is_refused_and_nothing_stored(tablet, cast, named: str):
    answer = tablet("record-result", **tap(cast, protocol=named))
    assert (answer.status_code, Result.objects.count()) == (422, 0)


def test_a_child_who_left_is_out_of_reach_in_words(tablet, cast):
    cast.ama.enrolments.update(left_on=cast.screening.held_on)
    answer = tablet("record-result", **tap(cast))
    assert (answer.status_code, Result.objects.count()) == (404, 0)
    assert "not yours to see" in answer.json()["why"]


def test_nobodys_entry_is_answered_401_and_never_sent_to_the_entrance(tablet, cast):
    assert tablet("record-result", client=Client(), **tap(cast)).status_code == 401


def test_an_entry_of_another_person_is_held_and_not_stored_as_hers(tablet, cast):
    answer = tablet("record-result", person=cast.owner, **tap(cast))
    assert (answer.status_code, answer.json()["is_held"]) == (401, True)
    assert not Result.objects.exists()


def test_an_old_token_is_told_apart_and_a_fresh_one_is_at_hand(tablet, cast):
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.teacher, backend=BACKEND)
    answer = tablet("record-result", client=client, **tap(cast))
    assert (answer.status_code, answer.json()["stale_token"]) == (403, True)
    fresh = client.get("/barre/token/", headers={"X-Outbox": "yes"}).json()
    assert fresh["person"] == str(cast.teacher.pk)
    assert tablet("record-result", client=client, csrfmiddlewaretoken=fresh["token"], **tap(cast)).status_code == 200


def test_a_pain_report_is_kept_once_and_says_where_its_next_step_is(tablet, cast):
    fields = {"key": str(uuid.uuid4()), "region": ["L-achilles", "L-heel"], "feels": "sharp"}
    told = [tablet("report-pain", **fields).json() for _n in range(2)]
    assert told[0] == told[1]
    report = PainReport.objects.get()
    assert report.places == ["L-achilles", "L-heel"]
    assert told[0]["report"]["next_step"] == reverse("progress:pain-next-step", args=[report.pk])


def test_a_pain_report_without_a_word_is_refused_in_words(tablet, cast):
    answer = tablet("report-pain", key=str(uuid.uuid4()))
    assert answer.status_code == 422
    assert answer.json()["why"]


def test_the_other_tablet_reads_every_row_until_nothing_is_new(tablet, as_owner, cast):
    first = tap(cast)
    address = reverse("progress:news", args=[cast.screening.pk, "rises"])
    as_owner.force_login(cast.teacher, backend=BACKEND)
    tablet("record-result", **first)
    tablet("record-result", **tap(cast, "9", corrects_key=first["key"]))
    told = as_owner.get(address).json()
    assert [(row["written"], row["superseded"], row["corrects"]) for row in told["results"]] == [
        ("14", True, ""), ("9", False, first["key"])]
    assert as_owner.get(f"{address}?seen={told['stamp']}").status_code == 204
