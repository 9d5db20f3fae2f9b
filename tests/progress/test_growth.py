"""Growth: a pace only over 90 days or more, with its error; one gentle note; heights append."""
import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from progress.actions.growth import correct_height, record_height
from progress.models import Height
from progress.queries.growth import gentle_note, growth_of
from progress.queries.student import strand_facts, student_view
from progress.rules import growth
from progress.rules.growth import Reading, between, latest_growth, velocity_error
from studio.actions import Refused
from studio.family.queries import agreed_scopes
from studio.models import ClassGroup

JULY = dt.date(2031, 7, 7)


# Computed as 1.96 * sqrt(2) * SD / years from the published SD of one height, 0.2 to 0.3 cm (Voss et al. 1990, 1994).
@pytest.mark.parametrize(("months", "sd", "error"), [
    (1, 0.2, 6.7), (1, 0.3, 10.0), (3, 0.2, 2.2), (3, 0.3, 3.3), (6, 0.2, 1.1), (6, 0.3, 1.7), (12, 0.2, 0.55),
    (12, 0.3, 0.83),
])
def test_the_error_of_a_pace_is_the_published_one(months, sd, error):
    # Whole days, and figures printed with two digits.
    assert velocity_error(round(months * 365.25 / 12), height_sd=sd) == pytest.approx(error, rel=0.03)


def test_the_worked_example():
    """138.0 to 140.0 cm in 182 days: 4.014 cm a year, give or take 1.67 (computed by the formula)."""
    grown = between(Reading(138.0, JULY - dt.timedelta(days=182)), Reading(140.0, JULY))
    assert (round(grown.cm_a_year, 3), round(grown.error, 2)) == (4.014, 1.67)


@pytest.mark.parametrize("days", [0, 1, 30, 89])
def test_less_than_ninety_days_say_nothing(days):
    first, last = Reading(138.0, JULY - dt.timedelta(days=days)), Reading(140.0, JULY)
    with pytest.raises(ValueError):
        between(first, last)
    assert latest_growth([first, last], as_of=JULY) is None


# 0.6 cm a month, 7.2 a year (Kemper et al. 2015, young footballers): fast only where even the lower limit is.
@pytest.mark.parametrize(("cm", "is_fast"), [(3.6, False), (4.4, False), (4.5, True), (6.0, True)])
def test_fast_is_said_only_where_even_the_lower_limit_is_fast(cm, is_fast):
    grown = between(Reading(140.0, JULY - dt.timedelta(days=183)), Reading(140.0 + cm, JULY))
    assert grown.is_fast is is_fast


def test_the_pair_nearest_to_half_a_year_is_read():
    readings = [Reading(140.0 + at, JULY - dt.timedelta(days=ago)) for at, ago in enumerate((300, 190, 100, 0))]
    assert latest_growth(readings, as_of=JULY).days == 190


def test_a_height_after_the_day_asked_about_is_not_known_yet():
    readings = [Reading(140.0, JULY - dt.timedelta(days=200)), Reading(146.0, JULY)]
    assert latest_growth(readings, as_of=JULY - dt.timedelta(days=1)) is None


# Soft limits of a height and of its change a year: from memory of growth charts.
@pytest.mark.parametrize(("cm", "odd"), [(150.0, ""), (104.9, "height"), (190.5, "height"), (162.0, "change"),
                                         (139.0, "change"), (147.5, "")])
def test_what_is_asked_back(cm, odd):
    assert growth.is_unusual(Reading(cm, JULY), [Reading(147.7, JULY - dt.timedelta(days=182))]) == odd


def measured(cast, cm, days_ago):
    return record_height(
        student=cast.ama, height_cm=Decimal(cm), measured_on=cast.screening.held_on - dt.timedelta(days=days_ago),
        by=cast.teacher,
    )


def test_a_correction_is_a_new_row_and_the_old_one_stays(cast):
    first = measured(cast, "184.1", 0)
    correct_height(height=first, height_cm=Decimal("148.1"), measured_on=first.measured_on, by=cast.owner)
    assert [row.height_cm for row in Height.objects.saying()] == [Decimal("148.1")]
    assert Height.objects.count() == 2
    with pytest.raises(Refused):
        correct_height(height=first, height_cm=None, measured_on=first.measured_on, by=cast.owner)


def test_one_height_a_day_and_the_same_twice_is_one(cast):
    assert measured(cast, "148.1", 0) == measured(cast, "148.1", 0)
    with pytest.raises(Refused):
        measured(cast, "149.0", 0)


def test_growing_fast_is_one_gentle_note_on_her_page_and_never_a_verdict(as_teacher, cast):
    measured(cast, "140.0", 183)
    measured(cast, "146.0", 0)
    page = as_teacher.get(f"/students/{cast.ama.pk}/").content.decode()
    assert page.count("be kind to balance and strength scores") == 1
    assert "6.0 cm" in page and "give or take 1.7" in page


def test_growing_as_usual_says_nothing_on_her_page(as_teacher, cast):
    measured(cast, "140.0", 183)
    measured(cast, "142.5", 0)
    assert gentle_note(growth_of(cast.ama, as_of=cast.screening.held_on)) == ""
    assert "be kind" not in as_teacher.get(f"/students/{cast.ama.pk}/").content.decode()


def test_the_form_asks_an_odd_height_back_and_keeps_it_when_told_it_is_right(as_teacher, cast):
    address, typed = f"/students/{cast.ama.pk}/height/", {"height_cm": "99.0", "measured_on": "2026-03-24"}
    asked = as_teacher.post(address, typed)
    assert asked.status_code == 422 and "sure?" in asked.content.decode()
    assert as_teacher.post(address, typed | {"height_is_right": "on"}).status_code == 302
    assert Height.objects.get().height_cm == Decimal("99.0")


def test_a_height_is_a_tick_on_the_rail_of_her_chart(cast, as_teacher):
    key = "00000000-0000-4000-8000-000000000001"
    as_teacher.post(f"/barre/screenings/{cast.screening.pk}/rises/record/", {
        "key": key, "student": cast.ama.pk, "side": "L", "value": "12"})
    measured(cast, "148.0", 60)
    measured(cast, "149.2", 10)
    [facts] = strand_facts(cast.ama, [], agreed_scopes(cast.ama, timezone.now()))
    assert [float(reading.height_cm) for reading in facts.heights] == [148.0, 149.2]
    view = student_view(
        cast.ama, cast.term, classes=ClassGroup.objects.all(), today=cast.screening.held_on, now=timezone.now()
    )
    events = [event for event in view.strands[0].chart.events if event.kind == "growth"]
    assert [event.words for event in events] == ["14 March, height +1.2 cm since 23 January"]
