"""Reads by which day a plateau that begins now would show in a class, by how often it is measured."""
import datetime as dt
from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from progress.rules.how_often import RHYTHMS, SECOND, TWICE, WEEKLY, answer_day, weeks_left
from studio.models import ClassGroup, Term

WORDS = {TWICE.key: _("Twice a week"), WEEKLY.key: _("Weekly"), SECOND.key: _("Every second week")}


@dataclass(frozen=True)
class Answer:
    """One rhythm. `on`: None where the term is over before."""

    words: str
    weeks: int
    on: dt.date | None


@dataclass(frozen=True)
class HowOften:
    weeks_left: int
    answers: tuple[Answer, ...]


def how_often(group: ClassGroup, term: Term, *, today: dt.date) -> HowOften | None:
    """For each rhythm the day by which half of simulated plateaus are said; None where no class is to come."""
    weekdays = set(group.meetings.values_list("weekday", flat=True))
    holidays = [(holiday.starts_on, holiday.ends_on) for holiday in term.holidays.all()]
    first = max(today + dt.timedelta(days=1), term.starts_on)
    days = [
        day for day in (first + dt.timedelta(days=n) for n in range((term.ends_on - first).days + 1))
        if day.weekday() in weekdays and not any(start <= day <= end for start, end in holidays)
    ]
    if not days:
        return None
    return HowOften(
        weeks_left(days), tuple(Answer(str(WORDS[each.key]), each.weeks, answer_day(each, days)) for each in RHYTHMS))
