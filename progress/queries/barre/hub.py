"""Reads the way in to the barre: today's classes by the clock, then other classes with a screening that is open."""
import datetime as dt
from dataclasses import dataclass, field

from progress.queries.resting import left_out
from progress.queries.to_go import to_go, to_go_words, who_is_left
from screening.models import Measure, Screening
from studio.models import ClassGroup, User
from studio.permissions import reachable_classes
from studio.queries import classes_of_day, roster, term_on


@dataclass
class OpenDay:
    """An open screening with the measures that have a sheet, and how many students have something left in it."""

    screening: Screening
    measures: list[Measure]
    left_words: str = ""


@dataclass
class ClassAtTheBarre:
    """A class with its open screenings, the newest first; `starts_at` where it meets today."""

    class_group: ClassGroup
    starts_at: dt.time | None = None
    days: list[OpenDay] = field(default_factory=list)


def classes_at_the_barre(user: User, today: dt.date) -> list[ClassAtTheBarre]:
    groups = reachable_classes(user)
    found = {
        row.class_group.pk: ClassAtTheBarre(row.class_group, row.starts_at)
        for row in classes_of_day(groups, term_on(today), today)
    }
    opened = Screening.objects.filter(class_group__in=groups, closed_at__isnull=True).order_by("-held_on", "-pk")
    for screening in opened.select_related("class_group", "term").prefetch_related("battery__entries__measure"):
        row = found.setdefault(screening.class_group_id, ClassAtTheBarre(screening.class_group))
        entries = screening.battery.entries.all() if screening.battery else ()
        row.days.append(OpenDay(screening, [entry.measure for entry in entries]))
    return list(found.values())


def say_what_is_left(classes: list[ClassAtTheBarre], *, now: dt.datetime) -> None:
    """Says on each open screening how many of its class have something left in it."""
    days = [day for row in classes for day in row.days]
    students = {
        day.screening.class_group_id: [
            each.student for each in roster(day.screening.class_group, day.screening.term, day.screening.held_on)
        ]
        for day in days
    }
    off = left_out({student.pk for here in students.values() for student in here}, now=now)
    left = to_go([day.screening for day in days], students, off, now=now)
    for day in days:
        day.left_words = to_go_words(len(who_is_left(left[day.screening.pk])))
