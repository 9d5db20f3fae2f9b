"""The student's page: one class of the reader's, no verdict of today in a past term, weeks only inside the term."""
import datetime as dt
import uuid
from decimal import Decimal

import pytest

from progress.actions.day import ClassDay, state_attendance
from progress.actions.standings import rebuild_standings
from progress.models import Standing, TermStanding
from screening.actions import save_protocol
from screening.models import Measure, Protocol
from tests import factories
from tests.progress.test_pain_reports import clearance, report


def weekly(cast, values, *, start, term):
    protocol = Protocol.objects.get(measure=cast.rises)
    for week, value in enumerate(values):
        day = start + dt.timedelta(weeks=week)
        screening = factories.ScreeningFactory(
            class_group=cast.class_group, term=term, battery=cast.battery, held_on=day
        )
        factories.ResultFactory(
            screening=screening, student=cast.ama, measure=cast.rises, protocol=protocol, side="L", value=value,
            taken_on=day, by=cast.teacher,
        )


@pytest.fixture
def two_terms(cast):
    before = factories.TermFactory(name="Autumn term", starts_on=dt.date(2025, 9, 8), ends_on=dt.date(2025, 12, 6))
    weekly(cast, [8, 9, 9, 10, 11, 12], start=dt.date(2025, 9, 9), term=before)
    weekly(cast, [12, 13, 14, 14, 15, 16], start=dt.date(2026, 2, 3), term=cast.term)
    rebuild_standings()
    return before


def test_a_past_term_shows_its_line_and_no_verdict_of_today(as_teacher, cast, two_terms):
    """Where nothing was kept when it ended, as in a studio that moved up from a version without."""
    TermStanding.objects.all().delete()
    page = as_teacher.get(f"/students/{cast.ama.pk}/?term={two_terms.pk}").content.decode()
    assert "This term is over." in page
    assert "How sure?" not in page and "gaining" not in page
    assert "in this term, 6 results" in page


def test_a_past_term_says_what_was_judged_when_it_ended(as_teacher, cast, two_terms):
    page = as_teacher.get(f"/students/{cast.ama.pk}/?term={two_terms.pk}").content.decode()
    assert "a week, likely" in page and "as of 14 October" in page
    assert "The term is over: this is what was judged on 14 October 2025." in page
    assert "in this term, 6 results" in page


def test_the_present_term_says_what_can_be_said(as_teacher, cast, two_terms):
    page = as_teacher.get(f"/students/{cast.ama.pk}/").content.decode()
    assert "a week, likely" in page
    assert "week 10 of 13, as of 10 March" in " ".join(page.split())


def test_before_the_first_term_no_week_is_counted(as_teacher, cast, time_machine):
    time_machine.move_to(dt.datetime(2025, 12, 20, 12, tzinfo=dt.UTC))
    page = as_teacher.get(f"/classes/{cast.class_group.pk}/").content.decode()
    assert "week" not in page.split("<table")[0].split("<main")[1].replace("classes a week", "")


def test_a_student_of_two_classes_is_headed_by_the_readers_own(as_teacher, cast):
    factories.EnrolmentFactory(
        student=cast.ama, class_group=cast.other_class, term=cast.term, joined_on=dt.date(2026, 2, 1)
    )
    page = as_teacher.get(f"/students/{cast.ama.pk}/").content.decode()
    assert "Pre-pointe A" in page
    assert "Pre-pointe B" not in page


def test_what_is_described_shows_the_score_and_not_the_last_attempt(as_teacher, cast):
    measure = Measure.objects.get(key="knee-to-wall")
    protocol = Protocol.objects.get(measure=measure)
    for attempt, value in enumerate((10, 12, 9), start=1):
        factories.ResultFactory(
            screening=cast.screening, student=cast.ama, measure=measure, protocol=protocol, side="L",
            value=Decimal(value), attempt=attempt, by=cast.teacher,
        )
    assert "12 cm" in as_teacher.get(f"/students/{cast.ama.pk}/").content.decode()


def test_seldom_measured_is_part_of_the_reason(as_teacher, cast):
    weekly(cast, [10, 11, 10, 11], start=dt.date(2026, 1, 13), term=cast.term)
    for week in range(5):
        day = dt.date(2026, 2, 10) + dt.timedelta(weeks=week)
        screening = factories.ScreeningFactory(
            class_group=cast.class_group, term=cast.term, battery=cast.battery, held_on=day
        )
        factories.ResultFactory(
            screening=screening, student=cast.bettina, measure=cast.rises, taken_on=day, by=cast.teacher,
            protocol=Protocol.objects.get(measure=cast.rises), side="L", value=12,
        )
    rebuild_standings()
    assert "Measured on 4 of 9 measuring days." in as_teacher.get(f"/students/{cast.ama.pk}/").content.decode()


@pytest.mark.parametrize(("came", "is_said"), [(3, True), (6, False)])
def test_how_seldom_she_came_is_part_of_the_reason_where_she_does_not_gain(as_teacher, cast, came, is_said):
    weekly(cast, [10, 13, 9, 12, 10, 12, 10], start=dt.date(2026, 1, 13), term=cast.term)
    rebuild_standings()
    for week in range(9):
        day = ClassDay(cast.class_group, cast.term, dt.date(2026, 1, 8) + dt.timedelta(days=5 * week))
        here, away = ([cast.ama], []) if week < came else ([], [cast.ama])
        state_attendance(key=uuid.uuid4(), day=day, present=here, absent=away, by=cast.teacher)
    page = as_teacher.get(f"/students/{cast.ama.pk}/").content.decode()
    assert ("Came to 3 of 9 classes." in page) is is_said and "too soon to say" in page


def test_a_new_protocol_is_announced_and_the_old_one_still_named(as_teacher, cast, two_terms):
    save_protocol(measure=cast.rises, changes={"short_name": "heel to a lower string"}, by=cast.owner)
    page = " ".join(as_teacher.get(f"/students/{cast.ama.pk}/").content.decode().split())
    assert "heel to the string, 60 beats; from the next screening on heel to a lower string" in page


def test_whoever_rests_from_rising_is_asked_for_no_result_and_no_harder_version(as_teacher, cast, two_terms):
    for standing in Standing.objects.filter(student=cast.ama):
        standing.line |= {"verdict": "not_clear", "measure_again": True}
        standing.save()
    address, words = f"/students/{cast.ama.pk}/", "Two more results on another day may settle it."
    assert words in as_teacher.get(address).content.decode()
    report(cast)
    assert words not in as_teacher.get(address).content.decode()


def test_a_stop_sign_stands_before_everything_and_nothing_that_rests_is_praised(as_teacher, cast, two_terms):
    report(cast, feels=("numb",))
    page = " ".join(as_teacher.get(f"/students/{cast.ama.pk}/").content.decode().split("<main")[1].split())
    order = ["Ama Owiredu", "Nothing in class now.", "Numb or tingling, left Achilles", "Open the follow-up",
             "Rises: not until the pain follow-up is closed.", "resting since 24 March"]
    at = [page.index(words) for words in order]
    assert at == sorted(at)
    assert not [word for word in ("Gaining", "gaining", "improving", "Going well", "at the target") if word in page]


def test_pain_that_is_watched_is_asked_about_first(as_teacher, cast, two_terms):
    report(cast, feels=("dull",), intensity=2)
    page = " ".join(as_teacher.get(f"/students/{cast.ama.pk}/").content.decode().split())
    at = [page.index(words) for words in ("Ask how it is.", "Dull ache, left Achilles, 2 of 10", "Rises, one foot")]
    assert at == sorted(at)


def test_on_the_way_back_the_step_and_what_the_clinician_allowed_stand_first(as_teacher, cast, two_terms):
    report(cast, feels=("numb",))
    clearance(cast, step=3, allowed="Two feet, no jumps")
    page = " ".join(as_teacher.get(f"/students/{cast.ama.pk}/").content.decode().split())
    assert "On the way back." in page and "Rises: not for now." in page
    assert "May do: rises on two feet; no jumps." in page
