"""The same fact, told by twenty at once, is one: a follow-up, a tap on the log. On whatever database the suite runs."""
import datetime as dt
import threading
import uuid
from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client

from progress.actions import answering
from progress.actions.classwork import class_log
from progress.actions.classwork.programme import plan_exercise
from progress.actions.follow_ups import close_follow_up, open_follow_up
from progress.actions.pain import report_pain
from progress.models import ClassLog, Exercise, FollowUp, FollowUpNote, LogEntry, PainAnswer, PainReport
from progress.rules.dose import Dose

pytestmark = pytest.mark.django_db(transaction=True)
TWENTY = 20


def at_once(act: Callable[[int], object]) -> list[object]:
    """What twenty threads, let go together, gave or raised; each has a connection of its own."""
    gate, found = threading.Barrier(TWENTY), [None] * TWENTY

    def one(number: int) -> None:
        gate.wait()
        try:
            found[number] = act(number)
        except Exception as raised:  # noqa: BLE001 - told to the test, which fails on it
            found[number] = raised
        finally:
            connection.close()

    threads = [threading.Thread(target=one, args=(number,)) for number in range(TWENTY)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [each for each in found if isinstance(each, Exception)] == []
    return found


def tell(cast, key: uuid.UUID, days_ago: int = 0) -> PainReport:
    return report_pain(
        key=key, student=cast.ama, class_group=cast.class_group, screening=cast.screening, measure=cast.rises,
        places=["L-achilles"], feels=["sharp"], intensity=6, stopped="exercise", note="",
        reported_on=cast.screening.held_on - dt.timedelta(days=days_ago), by=cast.teacher,
    )


def test_one_report_sent_twenty_times_is_one_report_and_one_follow_up(cast):
    key = uuid.uuid4()
    assert len({row.pk for row in at_once(lambda _number: tell(cast, key))}) == 1
    assert (PainReport.objects.count(), FollowUp.objects.count()) == (1, 1)


def test_twenty_tablets_that_report_the_same_pain_open_one_follow_up(cast):
    at_once(lambda number: tell(cast, uuid.UUID(int=number)))
    assert FollowUp.objects.get().pain_reports.count() == TWENTY


def test_one_tap_posted_twenty_times_is_answered_alike_and_opens_one_follow_up(cast):
    typed = {"key": str(uuid.uuid4()), "region": "L-achilles", "feels": "sharp", "since": "today"}
    address = f"/barre/screenings/{cast.screening.pk}/hurts/{cast.ama.pk}/"

    def post(_number: int) -> tuple[int, str]:
        client = Client(headers={"X-Outbox": "yes"})
        client.force_login(cast.teacher, backend="django.contrib.auth.backends.ModelBackend")
        answer = client.post(address, typed)
        return answer.status_code, answer.content.decode()

    answers = set(at_once(post))
    assert len(answers) == 1 and answers.pop()[0] == 200
    assert FollowUp.objects.get().kind == FollowUp.STOP_SIGN


@pytest.mark.parametrize("kind", [FollowUp.NO_GAIN, FollowUp.NOT_MEASURED])
def test_a_judgement_found_by_twenty_opens_one(cast, kind):
    about = {"measure": cast.rises, "side": "L"} if kind == FollowUp.NO_GAIN else {}
    made = at_once(lambda _number: open_follow_up(
        student=cast.ama, kind=kind, class_group=cast.class_group, opened_on=cast.screening.held_on, **about))
    assert FollowUp.objects.count() == 1
    assert sum(is_new for _follow_up, is_new in made) == 1


def test_what_comes_back_for_twenty_is_opened_again_once(cast):
    about = {
        "student": cast.ama, "kind": FollowUp.NO_GAIN, "class_group": cast.class_group, "measure": cast.rises,
        "opened_on": cast.screening.held_on, "side": "L",
    }
    follow_up, _made = open_follow_up(**about)
    close_follow_up(follow_up=follow_up, note="Left first.", closed_on=cast.screening.held_on, by=cast.teacher)
    at_once(lambda _number: open_follow_up(**about))
    assert FollowUp.objects.get().is_open
    assert [note.kind for note in FollowUpNote.objects.all()] == [FollowUpNote.CLOSED, FollowUpNote.CAME_BACK]


def test_twenty_who_answer_at_once_give_one_answer(cast):
    row = tell(cast, uuid.uuid4())
    answer = answering.Answer(PainAnswer.TEACHER, "Gone after a minute.", 6)
    at_once(lambda _number: answering.answer_pain(
        follow_up=FollowUp.objects.get(), answer=answer, closed_on=cast.screening.held_on + dt.timedelta(days=1),
        by=cast.teacher))
    assert row.answers.count() == 1
    assert FollowUpNote.objects.count() == 1


# --- the class log --------------------------------------------------------------------------------------------------


@pytest.fixture
def planned(cast):
    exercise = Exercise.objects.get(key="short-foot")
    plan_exercise(
        class_group=cast.class_group, term=cast.term, exercise=exercise, dose=Dose(2, 8, 5),
        added_on=cast.screening.held_on, by=cast.teacher,
    )
    return exercise


def test_twenty_tablets_that_log_the_same_exercise_log_each_student_once(cast, planned):
    day = class_log.ClassDay(cast.class_group, cast.term, cast.screening.held_on)
    at_once(lambda number: class_log.log_as_planned(
        key=uuid.UUID(int=number + 1), day=day, exercise=planned, students=[cast.ama, cast.bettina], by=cast.teacher,
    ))
    assert ClassLog.objects.count() == 1
    assert sorted(LogEntry.objects.values_list("student", flat=True)) == sorted([cast.ama.pk, cast.bettina.pk])


def test_one_tap_on_the_log_sent_twenty_times_is_one_row(cast, planned):
    day = class_log.ClassDay(cast.class_group, cast.term, cast.screening.held_on)
    found = at_once(lambda _number: class_log.log_change(
        key=uuid.UUID(int=7), day=day, exercise=planned, student=cast.ama, change="left_out", by=cast.teacher,
    ))
    assert {row.pk for row in found} == {LogEntry.objects.get().pk}
