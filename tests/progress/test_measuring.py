"""Recording at the barre: one transaction for the result, the standing and the follow-up."""
import datetime as dt
import uuid
from decimal import Decimal

import pytest
from django.utils import timezone

from progress.actions import day, measuring
from progress.actions.day import ClassDay
from progress.actions.pain import report_pain
from progress.actions.standings import rebuild_standings
from progress.judging.line_record import read_line
from progress.models import FollowUp, Standing
from progress.queries.barre.sheet import last_entry
from screening.actions import Entry
from screening.models import Protocol, Result, Screening
from studio.actions import Refused
from studio.ledger import Conflict
from studio.models import ClassMeeting
from tests import factories


def record(cast, value, *, student=None, side="L", key=None, measure=None, screening=None):
    return measuring.record_result(
        key=key or uuid.uuid4(), screening=screening or cast.screening, student=student or cast.ama,
        measure=measure or cast.rises, side=side, entry=Entry(value=Decimal(value)), by=cast.teacher,
    )


def past_results(cast, values, *, student=None, side="L", measure=None):
    """Weekly results before today, oldest first, the last one a week ago."""
    measure = measure or cast.rises
    protocol = Protocol.objects.get(measure=measure, version=1)
    for back, value in zip(range(len(values), 0, -1), values, strict=True):
        day = cast.screening.held_on - dt.timedelta(weeks=back)
        screening = factories.ScreeningFactory(
            class_group=cast.class_group, term=cast.term, battery=cast.battery, held_on=day, opened_by=cast.teacher
        )
        factories.ResultFactory(
            screening=screening, student=student or cast.ama, measure=measure, protocol=protocol, side=side,
            value=value, taken_on=day, by=cast.teacher,
        )


def test_the_same_key_twice_stores_one_result(cast):
    key = uuid.uuid4()
    first = record(cast, 14, key=key)
    assert record(cast, 14, key=key) == first
    assert Result.objects.count() == 1


def test_the_same_key_with_another_value_is_a_conflict_and_the_first_stays(cast):
    key = uuid.uuid4()
    record(cast, 14, key=key)
    with pytest.raises(Conflict):
        record(cast, 15, key=key)
    assert Result.objects.get().value == 14


def test_why_there_is_no_result_changes_nothing_of_what_is_judged(cast):
    past_results(cast, [8, 9, 9, 11, 12, 11])
    past_results(cast, [8, 8, 10, 11, 13, 12], side="R")
    rebuild_standings()

    def judged():
        return list(Standing.objects.order_by("pk").values_list("side", "as_of", "verdict", "measure_again", "line"))

    before = judged()
    measuring.record_missing(
        key=uuid.uuid4(), screening=cast.screening, student=cast.ama, measure=cast.rises,
        entry=Entry(reason_missing="absent"), by=cast.teacher,
    )
    assert judged() == before
    rebuild_standings()
    assert [row[2:] for row in judged()] == [row[2:] for row in before] and len(before) == 2


def test_two_tablets_on_one_child_make_two_attempts(cast):
    record(cast, 14)
    record(cast, 16)
    assert list(Result.objects.values_list("attempt", "value")) == [(1, 14), (2, 16)]


def test_a_correction_keeps_the_old_row_and_counts_instead_of_it(cast):
    wrong = record(cast, 41)
    measuring.correct_result(key=uuid.uuid4(), result=wrong, entry=Entry(value=Decimal(14)), by=cast.owner)
    assert Result.objects.count() == 2
    assert Result.objects.in_force().get().value == 14
    assert read_line(Standing.objects.get(student=cast.ama, side="L").line).results == 1


def test_correcting_a_corrected_result_is_refused(cast):
    wrong = record(cast, 41)
    measuring.correct_result(key=uuid.uuid4(), result=wrong, entry=Entry(value=Decimal(14)), by=cast.owner)
    with pytest.raises(Refused):
        measuring.correct_result(key=uuid.uuid4(), result=wrong, entry=Entry(value=Decimal(15)), by=cast.owner)


def test_undo_of_a_correction_brings_back_what_stood_before(cast):
    first = record(cast, 14)
    corrected = measuring.correct_result(key=uuid.uuid4(), result=first, entry=Entry(value=Decimal(9)), by=cast.teacher)
    take_back(cast, corrected)
    assert Result.objects.in_force().get().value == 14


def test_undo_of_a_first_entry_leaves_no_standing(cast):
    take_back(cast, record(cast, 14))
    assert not Standing.objects.exists()


def test_a_closed_screening_takes_no_new_result(cast):
    measuring.close_screening(screening=cast.screening, closed_on=cast.screening.held_on, by=cast.teacher)
    with pytest.raises(Refused):
        record(cast, 14)


def test_a_child_of_another_class_cannot_be_recorded_here(cast):
    with pytest.raises(Refused):
        record(cast, 14, student=cast.out_of_reach)


def test_a_hold_at_the_cap_is_stored_as_at_least(cast):
    result = record(cast, 41, measure=cast.balance)
    assert (result.value, result.reached_cap) == (30, True)


def test_a_clear_stall_opens_one_follow_up_and_not_a_second_one(cast):
    past_results(cast, [6, 7, 8, 8, 9, 10, 11, 12, 12, 12, 11, 12, 11, 12, 11, 11])
    record(cast, 11)
    assert Standing.objects.get(student=cast.ama).verdict == "stalled"
    assert FollowUp.objects.get().kind == FollowUp.NO_GAIN
    record(cast, 11)
    assert FollowUp.objects.count() == 1


def test_stored_standings_equal_rebuilt_ones(cast):
    past_results(cast, [8, 10, 11, 12, 13, 13, 12])
    past_results(cast, [10, 11, 13, 12, 15], student=cast.bettina, side="R")
    record(cast, 14, student=cast.bettina, side="R")
    record(cast, 12)
    columns = ["student_id", "measure_id", "side", "as_of", "verdict", "measure_again", "line"]
    stored = sorted(Standing.objects.values_list(*columns), key=str)
    rebuild_standings()
    assert sorted(Standing.objects.values_list(*columns), key=str) == stored


def test_closing_names_who_is_missing_and_follows_up_who_was_not_seen_for_weeks(cast):
    record(cast, 14, side="L")
    record(cast, 15, side="R")
    missing = measuring.close_screening(screening=cast.screening, closed_on=cast.screening.held_on, by=cast.teacher)
    assert set(missing) == {cast.ama, cast.bettina}
    assert cast.rises not in missing[cast.ama]
    assert FollowUp.objects.get().student == cast.bettina


def test_a_new_result_answers_not_measured_lately_by_itself(cast):
    measuring.close_screening(screening=cast.screening, closed_on=cast.screening.held_on, by=cast.teacher)
    later = factories.ScreeningFactory(
        class_group=cast.class_group, term=cast.term, battery=cast.battery, opened_by=cast.teacher
    )
    record(cast, 14, screening=later)
    follow_up = FollowUp.objects.get(student=cast.ama)
    assert not follow_up.is_open
    assert follow_up.closed_by == cast.teacher


@pytest.mark.parametrize(("days", "is_asked"), [(22, True), (21, True), (20, False)])
def test_a_child_is_followed_up_three_weeks_after_the_last_result_and_no_day_earlier(cast, days, is_asked):
    protocol = Protocol.objects.get(measure=cast.rises, version=1)
    factories.ResultFactory(
        screening=cast.screening, student=cast.ama, measure=cast.rises, protocol=protocol, side="L", value=12,
        taken_on=cast.screening.held_on - dt.timedelta(days=days), by=cast.teacher,
    )
    measuring.close_screening(screening=cast.screening, closed_on=cast.screening.held_on, by=cast.teacher)
    assert FollowUp.objects.filter(student=cast.ama, kind=FollowUp.NOT_MEASURED).exists() == is_asked


@pytest.mark.parametrize(("days", "is_asked"), [(22, True), (21, True), (20, False), (3, False)])
def test_a_child_without_results_is_followed_up_three_weeks_after_joining_and_no_day_earlier(cast, days, is_asked):
    cast.bettina.enrolments.update(joined_on=cast.screening.held_on - dt.timedelta(days=days))
    measuring.close_screening(screening=cast.screening, closed_on=cast.screening.held_on, by=cast.teacher)
    assert FollowUp.objects.filter(student=cast.ama).exists()
    assert FollowUp.objects.filter(student=cast.bettina).exists() == is_asked


def test_a_child_marked_absent_every_time_is_followed_up_all_the_same(cast):
    for side in "LR":
        measuring.record_result(
            key=uuid.uuid4(), screening=cast.screening, student=cast.ama, measure=cast.rises, side=side,
            entry=Entry(reason_missing="absent"), by=cast.teacher,
        )
    measuring.close_screening(screening=cast.screening, closed_on=cast.screening.held_on, by=cast.teacher)
    assert FollowUp.objects.filter(student=cast.ama).exists()


def test_results_of_a_past_year_ask_nobody_to_act(cast):
    past_results(cast, [6, 7, 8, 8, 9, 10, 11, 12, 12, 12, 11, 12, 11, 12, 11, 11], student=cast.out_of_reach)
    rebuild_standings()
    assert Standing.objects.get(student=cast.out_of_reach).verdict == "stalled"
    assert not FollowUp.objects.exists()


def test_undo_offers_the_taps_one_after_the_other(cast):
    first = record(cast, 14)
    corrected = measuring.correct_result(key=uuid.uuid4(), result=first, entry=Entry(value=Decimal(9)), by=cast.teacher)
    assert last_entry(cast.screening, cast.rises, cast.teacher, now=timezone.now()) == corrected
    take_back(cast, corrected)
    assert last_entry(cast.screening, cast.rises, cast.teacher, now=timezone.now()) == first
    take_back(cast, first)
    assert last_entry(cast.screening, cast.rises, cast.teacher, now=timezone.now()) is None


def correct(cast, result, value, **more):
    return measuring.correct_result(
        key=uuid.uuid4(), result=result, entry=Entry(value=Decimal(value), **more), by=cast.teacher
    )


def take_back(cast, result):
    """Undo of the tap whose words this row carries; gives what stands in its cell since."""
    rows = day.take_back(key=uuid.uuid4(), of=result.origin, day=ClassDay.of(result.screening), by=cast.teacher)
    here = [row for row in rows if isinstance(row, Result)]
    return next(row for row in here if (row.measure_id, row.side) == (result.measure_id, result.side))


def test_taps_are_taken_back_one_by_one_to_the_first(cast):
    first = record(cast, 9)
    second = correct(cast, first, 10, fault="wobble")
    third = correct(cast, second, 11, fault="wobble")
    assert take_back(cast, third).value == 10
    assert (take_back(cast, second).value, Result.objects.in_force().get().fault) == (9, "")
    assert take_back(cast, first).reason_missing == Result.WITHDRAWN


def test_a_tap_that_was_put_right_since_is_not_taken_back_under_it(cast):
    first = record(cast, 9)
    correct(cast, first, 10)
    with pytest.raises(Refused):
        take_back(cast, first)
    assert Result.objects.in_force().get().value == 10


def test_at_least_survives_a_correction_that_is_taken_back(cast):
    first = measuring.record_result(
        key=uuid.uuid4(), screening=cast.screening, student=cast.ama, measure=cast.rises, side="L",
        entry=Entry(value=Decimal(20), at_least=True), by=cast.teacher,
    )
    assert take_back(cast, correct(cast, first, 19)).reached_cap


def test_a_correction_keeps_which_foot_went_first(cast):
    first = measuring.record_result(
        key=uuid.uuid4(), screening=cast.screening, student=cast.ama, measure=cast.rises, side="L",
        entry=Entry(value=Decimal(20), is_first_side=True), by=cast.teacher,
    )
    assert correct(cast, first, 19).is_first_side is True


def test_whom_to_measure_again_is_named_once_under_each_measure(cast, client):
    past_results(cast, [8, 10, 11, 12])
    past_results(cast, [10, 11, 13, 12], student=cast.bettina)
    rebuild_standings()
    Standing.objects.update(measure_again=True)
    client.force_login(cast.teacher)
    page = " ".join(client.get(f"/classes/{cast.class_group.pk}/").content.decode().split())
    assert "<b>Ama and Bettina</b> rises, two more results, on another day, may settle it" in page


def test_whoever_rests_from_rising_is_not_named_among_those_to_measure_again(cast, client):
    past_results(cast, [8, 10, 11, 12])
    past_results(cast, [10, 11, 13, 12], student=cast.bettina)
    rebuild_standings()
    Standing.objects.update(measure_again=True)
    ClassMeeting.objects.create(class_group=cast.class_group, weekday=1, starts_at=dt.time(16, 30))
    Screening.objects.update(closed_at=timezone.now())
    report_pain(
        key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=cast.screening, measure=cast.rises,
        places=["L-achilles"], feels=["sharp"], intensity=None, stopped="", note="",
        reported_on=cast.screening.held_on, by=cast.teacher,
    )
    client.force_login(cast.teacher)
    sheet = " ".join(client.get(f"/classes/{cast.class_group.pk}/").content.decode().split())
    assert "<b>Bettina</b> rises, two more results" in sheet
    assert "Measure Bettina again: two more results" in client.get("/").content.decode()


def test_who_is_missing_stands_in_the_order_of_the_class(cast, as_teacher):
    for side in ("L", "R"):
        record(cast, 9, side=side)
    missing = as_teacher.get(f"/barre/screenings/{cast.screening.pk}/").context["day"].missing
    assert [student for student, _measures in missing] == [cast.ama, cast.bettina]
