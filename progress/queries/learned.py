"""Reads what is in force for a measure: the pinned, the learned or the published value, and where it comes from."""
import datetime as dt
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from progress.models import LearnedValue
from screening.models import Measure
from studio.templatetags.wording import full_day


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

    @property
    def source_words(self) -> str:
        """Where the value comes from."""
        return {"pinned": _("set by the owner"), "learned": _("learned")}.get(self.source) or _("as given")

    @property
    def learned_words(self) -> str:
        """From how much the studio's own value was learned, and when; "" where nothing was."""
        if self.learned is None:
            return ""
        n = self.learned.evidence
        if self.learned.kind == LearnedValue.ERROR:
            words = ngettext("%(n)s pair of results, %(day)s", "%(n)s pairs of results, %(day)s", n)
        else:
            words = ngettext("%(n)s line of finished terms, %(day)s", "%(n)s lines of finished terms, %(day)s", n)
        return words % {"n": n, "day": full_day(self.learned.learned_on)}


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
