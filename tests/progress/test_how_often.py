"""How often to measure: worked out for the class, its weeks and holidays, and marked as simulated."""
import datetime as dt

from progress.queries.classwork.how_often import how_often
from progress.rules.how_often import RHYTHMS
from studio.models import ClassMeeting, Holiday
from tests.conftest import TODAY


def test_a_slower_rhythm_takes_longer():
    weeks = [rhythm.weeks for rhythm in RHYTHMS]
    assert weeks == sorted(weeks) and len(set(weeks)) == 3


def test_the_day_is_that_of_the_class_in_the_week_of_the_answer_and_holidays_do_not_count(cast):
    ClassMeeting.objects.create(class_group=cast.class_group, weekday=1, starts_at=dt.time(16, 30))
    cast.term.ends_on = TODAY + dt.timedelta(weeks=12)
    cast.term.save()
    told = how_often(cast.class_group, cast.term, today=TODAY)
    twice, weekly, second = told.answers
    assert (told.weeks_left, weekly.on) == (12, TODAY + dt.timedelta(weeks=weekly.weeks))
    assert twice.on < weekly.on and second.on is None
    start = TODAY + dt.timedelta(weeks=3)
    Holiday.objects.create(term=cast.term, name="half-term", starts_on=start, ends_on=start + dt.timedelta(days=3))
    later = how_often(cast.class_group, cast.term, today=TODAY)
    assert later.weeks_left == 11 and later.answers[1].on == weekly.on + dt.timedelta(weeks=1)


def test_the_programme_says_it_and_that_it_is_simulated(cast, as_teacher):
    page = " ".join(as_teacher.get(f"/classes/{cast.class_group.pk}/programme/").content.decode().split())
    assert "How often to measure" not in page
    ClassMeeting.objects.create(class_group=cast.class_group, weekday=1, starts_at=dt.time(16, 30))
    page = " ".join(as_teacher.get(f"/classes/{cast.class_group.pk}/programme/").content.decode().split())
    assert "How often to measure" in page and "half of the simulated cases" in page
    assert "after about 11 weeks, so not in this term" in page
