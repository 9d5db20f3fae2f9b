"""A studio of many terms: what one result changes is what judging everything anew would say, to the last digit."""
import datetime as dt
import uuid
from decimal import Decimal

import numpy as np
import pytest
from django.utils import timezone

from progress.actions import measuring
from progress.actions.erasing import erase_student
from progress.actions.standings import judge_where_nothing_is_judged, rebuild_standings, refresh_standings
from progress.judging.line_record import read_line
from progress.models import CarriedOver, ClassStanding, Standing
from progress.queries.student import student_view
from screening.actions import Entry
from screening.models import Protocol, Result
from studio.models import ClassGroup, Term
from tests import factories
from tests.conftest import TODAY
from tests.family.conftest import agree

STANDING = ("student_id", "measure_id", "side", "class_group_id", "as_of", "verdict", "measure_again", "line")
CARRIED = ("student_id", "until", "made_from", "lines")
CLASS = ("class_group_id", "as_of", "stalls")


def stored() -> list:
    return [sorted(model.objects.values_list(*columns), key=str)
            for model, columns in ((Standing, STANDING), (ClassStanding, CLASS))]


def carried() -> dict:
    return {row[:3]: row[3] for row in CarriedOver.objects.values_list(*CARRIED)}


def rebuilt() -> list:
    """What stands after everything was judged anew; nothing that was carried over for the same reasons changed."""
    before = carried()
    rebuild_standings()
    after = carried()
    assert {key: before[key] for key in before.keys() & after.keys()} == {
        key: after[key] for key in before.keys() & after.keys()}
    assert not after or before.keys() & after.keys()
    return stored()


def measure(cast, group, term, children, *, weeks: int, seed: int, measures=None) -> None:
    """Weekly results of both feet that begin where the seed says and gain a little, one in ten away."""
    chance = np.random.default_rng(seed)
    rows = []
    for week in range(weeks):
        day = term.starts_on + dt.timedelta(weeks=week, days=1)
        held = factories.ScreeningFactory(class_group=group, term=term, held_on=day, battery=cast.battery)
        for child in children:
            if chance.random() < 0.1:
                continue
            for measure in measures or (cast.rises, cast.balance):
                level = 9 + child.pk % 4 + 0.2 * week
                rows += [Result(
                    screening=held, student=child, measure=measure, side=side, taken_on=day,
                    protocol=Protocol.objects.get(measure=measure), value=max(1, round(level + chance.normal(0, 2))),
                    by=cast.teacher,
                ) for side in "LR"]
    Result.objects.bulk_create(rows)


@pytest.fixture
def years(cast):
    """Five terms before this one in two classes; one child moved up, one left after the second term."""
    cast.children = [factories.StudentFactory(stage=cast.ama.stage) for _n in range(7)]
    for child in cast.children:
        factories.EnrolmentFactory(student=child, class_group=cast.class_group, term=cast.term)
    cast.terms = [
        factories.TermFactory(name=f"Term {back}", starts_on=start, ends_on=start + dt.timedelta(weeks=12))
        for back in range(5, 0, -1) for start in [cast.term.starts_on - dt.timedelta(weeks=17 * back)]
    ]
    moved, left, *others = cast.children
    for at, term in enumerate(cast.terms):
        here = [*others, cast.ama] + ([left] if at < 2 else []) + ([moved] if at >= 2 else [])
        measure(cast, cast.class_group, term, here, weeks=11, seed=at)
        beside = [cast.other_student] + ([moved] if at < 2 else [])
        measure(cast, cast.other_class, term, beside, weeks=11, seed=50 + at)
    measure(cast, cast.class_group, cast.term, [*others, moved], weeks=9, seed=99)
    rebuild_standings()
    return cast


def record(cast, child, measure, value, *, screening=None, side="L"):
    return measuring.record_result(
        key=uuid.uuid4(), screening=screening or cast.screening, student=child, measure=measure, side=side,
        entry=Entry(value=Decimal(value)), by=cast.teacher,
    )


def test_taps_say_what_judging_everything_anew_says(years):
    for at, child in enumerate(years.children[1:5]):
        record(years, child, years.rises, 12 + at)
        record(years, child, years.balance, 9 + at, side="R")
    assert CarriedOver.objects.exists()
    before = stored()
    assert rebuilt() == before


def test_a_result_of_an_old_term_put_right_is_judged_from_there(years):
    old = Result.objects.filter(student=years.children[0], screening__term=years.terms[0], measure=years.rises).first()
    there = carried()
    measuring.correct_result(key=uuid.uuid4(), result=old, entry=Entry(value=old.value + 9), by=years.teacher)
    before = stored()
    assert carried() != there
    assert rebuilt() == before


def test_a_result_put_right_in_this_term_leaves_what_was_carried_over(years):
    kept = set(CarriedOver.objects.values_list("pk", flat=True))
    late = Result.objects.filter(student=years.children[2], screening__term=years.term, measure=years.rises).last()
    measuring.correct_result(key=uuid.uuid4(), result=late, entry=Entry(value=late.value + 3), by=years.teacher)
    assert set(CarriedOver.objects.values_list("pk", flat=True)) == kept
    before = stored()
    assert rebuilt() == before


def test_the_first_results_of_a_term_say_the_same(years):
    term = factories.TermFactory(
        name="Next term", starts_on=TODAY + dt.timedelta(weeks=4), ends_on=TODAY + dt.timedelta(weeks=16))
    held = factories.ScreeningFactory(
        class_group=years.class_group, term=term, battery=years.battery, held_on=term.starts_on)
    for child in (years.children[3], years.ama):
        record(years, child, years.rises, 13, screening=held)
        before = stored()
        assert rebuilt() == before


def test_a_tap_writes_the_lines_of_its_own_measure_only(years):
    def rows():
        return {row[:3]: row for row in Standing.objects.values_list(*STANDING)}

    record(years, years.children[1], years.rises, 12)
    before = rows()
    record(years, years.children[2], years.rises, 12)
    after = rows()
    changed = {key for key in after if {**before}.get(key) != after[key]}
    assert (years.children[2].pk, years.rises.pk, "L") in changed
    # Another measure's line changes only where it is, or is no longer, one of those to measure again.
    for key in changed:
        if key[1] != years.rises.pk:
            assert before[key][6] != after[key][6]
    assert {row[4] for row in after.values() if row[1] == years.balance.pk} != {TODAY}


def test_a_child_who_comes_back_after_years_goes_on_where_she_was(years):
    left = years.children[1]
    Result.objects.filter(student=left, screening__term=years.term).delete()
    child = next(c for c in years.children if not Result.objects.filter(student=c, screening__term=years.term).exists())
    had = Result.objects.filter(student=child, measure=years.rises, side="L").count()
    record(years, child, years.rises, 12)
    line = read_line(Standing.objects.get(student=child, measure=years.rises, side="L").line)
    assert line.results > had - 3 and line.first_on < years.term.starts_on
    before = stored()
    assert rebuilt() == before


def test_who_left_has_no_verdict_of_today_and_her_page_opens(years):
    left = years.children[1]
    agree(years, left)
    assert not Standing.objects.filter(student=left).exists()
    view = student_view(left, years.term, classes=ClassGroup.objects.all(), today=TODAY, now=timezone.now())
    assert [strand.reasons for strand in view.strands] == [(), ()]


def test_a_line_not_measured_this_term_or_the_last_is_judged_no_more(years):
    record(years, years.ama, years.landing, 1, screening=factories.ScreeningFactory(
        class_group=years.class_group, term=years.terms[2], battery=years.battery,
        held_on=years.terms[2].starts_on))
    assert not Standing.objects.filter(measure=years.landing).exists()
    before = stored()
    assert rebuilt() == before


def test_a_term_that_is_moved_judges_everybody_by_it(years):
    term = Term.objects.get(pk=years.terms[4].pk)
    term.starts_on += dt.timedelta(weeks=1)
    term.save()
    before = stored()
    assert rebuilt() == before


def test_another_value_in_force_makes_what_is_carried_anew(years):
    digests = set(CarriedOver.objects.values_list("made_from", flat=True))
    years.rises.pinned_error = 3.5
    years.rises.save()
    refresh_standings(class_ids=ClassGroup.objects.values_list("pk", flat=True))
    used = set(CarriedOver.objects.values_list("made_from", flat=True))
    assert used - digests
    before = stored()
    assert rebuilt() == before


def test_erasing_a_child_of_old_terms_judges_the_others_as_anew(years):
    erase_student(student=years.children[2], by=years.owner)
    before = stored()
    assert rebuilt() == before


def test_a_stored_line_is_short(years):
    for child in years.children:
        agree(years, child)
    longest = max(Standing.objects.values_list("line", flat=True), key=lambda line: len(str(line)))
    assert len(str(longest)) < 2000


def test_a_studio_that_moved_up_is_judged_by_the_next_start(years):
    before = stored()
    for model in (Standing, ClassStanding):
        model.objects.all().delete()
    judge_where_nothing_is_judged(today=TODAY)
    assert stored() == before
    line = Standing.objects.first()
    Standing.objects.filter(pk=line.pk).update(verdict="gaining", line={})
    judge_where_nothing_is_judged(today=TODAY)
    assert Standing.objects.get(pk=line.pk).line == {}
