"""What was tapped before the closing counts, however late the network comes; only what was tapped after it is asked."""
import datetime as dt
import uuid

import pytest
from django.urls import reverse

from progress.actions import measuring
from progress.judging.line_record import read_line
from progress.models import Standing
from screening.models import Result
from tests.progress.test_measuring import past_results


@pytest.fixture
def closed(cast, time_machine):
    """Closed at five by a colleague; it is ten minutes past now."""
    measuring.close_screening(screening=cast.screening, closed_on=cast.screening.held_on, by=cast.owner)
    time_machine.shift(dt.timedelta(minutes=10))


@pytest.fixture
def send(as_teacher, cast):
    def post(name, minutes_ago, **fields):
        return as_teacher.post(
            reverse(f"progress:{name}", args=[cast.screening.pk, "rises"]),
            {"key": uuid.uuid4(), "student": cast.ama.pk, "side": "L"} | fields,
            headers={"X-Outbox": "yes", "X-Outbox-Age": str(60 * minutes_ago)},
        )
    return post


def test_what_was_tapped_before_the_closing_is_taken_after_it_and_judged(send, cast, closed):
    past_results(cast, [8, 9, 9, 11])
    answer = send("record-result", 12, value="12")
    assert answer.status_code == 200
    assert send("record-result", 11, value="13", corrects_key=answer.json()["key"]).status_code == 200
    assert send("record-missing", 15, student=cast.bettina.pk, reason="absent").status_code == 200
    assert Result.objects.saying().get(student=cast.ama, screening=cast.screening).value == 13
    assert Standing.objects.get(student=cast.ama, side="L").as_of == cast.screening.held_on
    assert read_line(Standing.objects.get(student=cast.ama, side="L").line).results == 5


def test_what_was_tapped_after_the_closing_is_asked(send, cast, closed):
    for name, about in (("record-result", {"value": "12"}), ("record-missing", {"reason": "absent"})):
        answer = send(name, 9, **about)
        assert (answer.status_code, bool(answer.json()["reopen"])) == (422, True)
    assert not Result.objects.exists()


def test_the_closer_reads_how_many_results_arrived_after_closing(send, cast, closed, as_teacher):
    page = reverse("progress:screening", args=[cast.screening.pk])
    assert "after closing" not in as_teacher.get(page).content.decode()
    first = send("record-result", 12, value="12").json()["key"]
    send("record-result", 12, value="9", student=cast.bettina.pk)
    assert "2 results arrived after closing." in as_teacher.get(page).content.decode()
    send("take-back", 11, of=first)
    assert "1 result arrived after closing." in as_teacher.get(page).content.decode()


def test_no_tablet_can_say_that_it_tapped_before_a_week_ago(send, cast):
    send("record-result", 60 * 24 * 30, value="12")
    row = Result.objects.get()
    assert row.received_at - row.tapped_at == dt.timedelta(days=7)
