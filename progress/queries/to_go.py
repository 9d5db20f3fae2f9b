"""Reads who has something left in an open screening: the one meaning of "to go" on the first page and on the day's."""
import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping

from django.db.models import prefetch_related_objects

from progress.queries.resting import excused
from progress.rules.resting import Rest
from screening.models import Result, Screening
from screening.queries import agreed_results
from studio.models import Student


def to_go(
    screenings: Iterable[Screening],
    students: Mapping[int, Iterable[Student]],
    off: Mapping[int, Rest],
    *,
    now: dt.datetime,
) -> dict[int, set[int]]:
    """screening -> who has a measure of its battery without a result and without a reason, on either foot.

    students: class -> its students; off: whom nobody asks, or not for every measure. Two questions, however many.
    """
    screenings = list(screenings)
    prefetch_related_objects(screenings, "battery__entries__measure")
    there = defaultdict(set)
    rows = agreed_results(Result.objects.standing().filter(screening__in=screenings), now=now)
    for row in rows.exclude(reason_missing=Result.WITHDRAWN).values_list(
        "screening_id", "student_id", "measure_id", "side"
    ):
        there[row[0]].add(row[1:])
    left: dict[int, set[int]] = {}
    for each in screenings:
        measures = [entry.measure for entry in each.battery.entries.all()] if each.battery else []
        here = {student.pk for student in students.get(each.class_group_id, ())}
        left[each.pk] = {
            pk for measure in measures for pk in here - excused(off, measure).keys() for side in measure.sides
            if (pk, measure.pk, side) not in there[each.pk]
        }
    return left
