"""The studio's years for its owner: shares with their uncertainty, of eight students or more, and of nobody alone."""
import datetime as dt
import re

import pytest
from django.urls import reverse
from django.utils import timezone

from progress.models import LearnedValue, Standing
from progress.queries.studio_years import studio_years
from progress.rules.shares import FEWEST, share
from studio.models import Consent
from tests.conftest import TODAY
from tests.family.conftest import agree
from tests.test_no_verdicts import verdicts
from tests.test_query_counts import fill, newcomers, weekly_screenings


def test_the_score_interval_is_wilsons():
    """Worked by hand for 8 of 10 at 95 %: 0.490 to 0.943 (Wilson 1927, from memory)."""
    found = share(8, 10, students=10)
    assert (round(found.low, 3), round(found.high, 3)) == (0.490, 0.943)
    none, every = share(0, 12, students=12), share(12, 12, students=12)
    assert (none.low, every.high) == pytest.approx((0, 1)) and none.high == pytest.approx(1 - every.low)


def test_both_feet_of_a_student_are_one_voice():
    assert share(9, 18, students=9).high > share(9, 18, students=18).high


def test_of_fewer_than_eight_students_nothing_is_shared():
    assert FEWEST == 8 and share(5, 14, students=7) is None and share(5, 14, students=8) is not None
    with pytest.raises(ValueError):
        share(3, 2, students=9)


def read(cast):
    return studio_years(today=TODAY, now=timezone.now())


@pytest.fixture
def nine(cast):
    """Ama and eight others, measured for six weeks; of each line it is said that it gains or stands still."""
    children = [cast.ama, *newcomers(cast, 8)]
    fill(cast, children, weekly_screenings(cast))
    Standing.objects.update(verdict="stalled")
    Standing.objects.filter(side="L").update(verdict="gaining")
    return children


def test_a_term_says_how_many_lines_gained_and_how_sure_that_is(cast, nine):
    [term] = read(cast).terms
    rises = term.measures[0]
    assert rises.words.startswith("9 of 18 lines; likely 23 to 77 in 100")
    assert (term.students, term.complete) == (12, 9)


def test_with_two_families_against_it_there_are_too_few_to_say(cast, nine):
    for child in nine[:2]:
        agree(cast, child, Consent.MEASUREMENTS, is_given=False)
    [term] = read(cast).terms
    assert [each.words for each in term.measures] == ["too few to say"] * len(term.measures)
    assert term.withheld == 2


def test_what_nobody_can_say_yet_is_no_part_of_the_whole(cast, nine):
    Standing.objects.filter(side="R").update(verdict="too_early")
    assert read(cast).terms[0].measures[0].words.startswith("9 of 9 lines")


def test_the_page_names_no_child_and_no_teacher_and_ranks_nothing(cast, nine, as_owner):
    LearnedValue.objects.create(measure=cast.rises, kind="error", value=2.1, evidence=44, learned_on=TODAY)
    answer = as_owner.get(reverse("progress:studio-years"))
    page = re.sub(r"<header.*?</header>", "", answer.content.decode(), flags=re.DOTALL)
    named = [person.name for person in (*nine, cast.teacher, cast.other_teacher) if person.name in page]
    assert named == [] and verdicts(answer) == []
    assert "2.10, from 44 pairs of results or lines" in page and "half of them closed within" not in page


def test_only_terms_that_have_begun_are_told_the_newest_first(cast):
    terms = type(cast.term).objects
    terms.create(name="To come", starts_on=TODAY + dt.timedelta(days=60), ends_on=TODAY + dt.timedelta(days=150))
    terms.create(name="Before", starts_on=dt.date(2025, 9, 8), ends_on=dt.date(2025, 12, 6))
    assert [year.term.name for year in read(cast).terms] == ["Spring term", "Before"]
