"""Reads the way in to the barre: today's classes by the clock, then other classes with a screening that is open."""
import datetime as dt
from dataclasses import dataclass, field

from screening.models import Measure, Screening
from studio.models import ClassGroup, User
from studio.permissions import reachable_classes
from studio.queries import classes_of_day, term_on


@dataclass
class OpenDay:
    """An open screening with the measures that have a sheet."""

    screening: Screening
    measures: list[Measure]


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
    for screening in opened.select_related("class_group").prefetch_related("battery__entries__measure"):
        row = found.setdefault(screening.class_group_id, ClassAtTheBarre(screening.class_group))
        entries = screening.battery.entries.all() if screening.battery else ()
        row.days.append(OpenDay(screening, [entry.measure for entry in entries]))
    return list(found.values())
