"""Reads what is in force for a measure: the pinned, the learned or the published value, and where it comes from."""
import datetime as dt
from dataclasses import dataclass

from progress.models import LearnedValue
from screening.models import Measure


@dataclass(frozen=True)
class InForce:
    """One value in force. `source`: "pinned", "learned" or "given"; `learned`: the latest learned row, if any.

    A learned value may make the judge more careful, never bolder: values learned from one term of lasting form and
    heavy tails nearly doubled the false alarms of the bench (8 to 15 of 100, 25 November 2026).
    """

    value: float
    given: float
    source: str
    learned: LearnedValue | None


def learned_values(*, before: dt.date | None = None) -> dict[tuple[int, str], LearnedValue]:
    """(measure id, kind) to the latest row that was learned, or learned before a day."""
    rows = LearnedValue.objects.order_by("learned_on", "pk")
    rows = rows if before is None else rows.filter(learned_on__lt=before)
    return {(row.measure_id, row.kind): row for row in rows}


def in_force(measure: Measure, kind: str, learned: dict[tuple[int, str], LearnedValue]) -> InForce:
    given = measure.typical_error if kind == LearnedValue.ERROR else measure.typical_gain
    pinned = measure.pinned_error if kind == LearnedValue.ERROR else measure.pinned_gain
    row = learned.get((measure.pk, kind))
    if pinned is not None:
        return InForce(pinned, given, "pinned", row)
    # A larger error and a smaller gain are the careful ones.
    is_careful = row is not None and (row.value > given if kind == LearnedValue.ERROR else row.value < given)
    return InForce(row.value if is_careful else given, given, "learned" if is_careful else "given", row)
