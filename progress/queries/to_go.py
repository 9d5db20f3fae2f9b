"""Reads who has something left in an open screening: the one meaning of "to go", and its words, on every page."""
import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping

from django.db.models import prefetch_related_objects
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from progress.queries.resting import excused
from progress.rules.resting import Rest
from screening.models import Result, Screening
from screening.queries import agreed_results
from studio.models import Student

Left = dict[int, set[int]]


def to_go(
    screenings: Iterable[Screening], students: Mapping[int, Iterable[Student]], off: Mapping[int, Rest], *,
    now: dt.datetime,
) -> dict[int, Left]:
    """screening -> measure of its battery -> who has neither a result nor a reason in it, on either foot.

    students: class -> its students; off: whom nobody asks, or not for every measure. Two questions, however many.
    """
    screenings = list(screenings)
    prefetch_related_objects(screenings, "battery__entries__measure")
    there = defaultdict(set)
    rows = agreed_results(Result.objects.saying().filter(screening__in=screenings), now=now)
    for row in rows.values_list("screening_id", "student_id", "measure_id", "side"):
        there[row[0]].add(row[1:])
    left: dict[int, Left] = {}
    for each in screenings:
        measures = [entry.measure for entry in each.battery.entries.all()] if each.battery else []
        here = {student.pk for student in students.get(each.class_group_id, ())}
        left[each.pk] = {
            measure.pk: {
                pk for pk in here - excused(off, measure).keys() for side in measure.sides
                if (pk, measure.pk, side) not in there[each.pk]
            }
            for measure in measures
        }
    return left


def who_is_left(left: Left) -> set[int]:
    """Who has something left in any measure."""
    return set().union(*left.values())


def to_go_words(count: int) -> str:
    """ "8 to go"."""
    if not count:
        return _("nobody left to measure")
    return ngettext("%(n)s to go", "%(n)s to go", count) % {"n": count}
