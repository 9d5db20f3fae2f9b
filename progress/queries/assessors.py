"""Reads where two people scored the same child on the same day, and how well they agree; never a ranking."""
import math
from collections import defaultdict
from dataclasses import dataclass

from django.utils.translation import gettext as _

from progress.queries.judged import counted
from progress.rules.agreement import FEWEST_PAIRS, PairAgreement, pair_agreement
from screening.models import Measure, Result
from screening.queries import judged_measures
from studio.models import User
from studio.templatetags.wording import write_number, write_signed


@dataclass(frozen=True)
class AssessorPair:
    """Two people, in the order of their names, and what can be said of their scores in one measure."""

    measure: Measure
    first: str
    second: str
    pairs: int
    missing: int
    bias: str
    figure: str


def assessor_pairs() -> list[AssessorPair]:
    """Every two people with pairs, by measure, then by name."""
    people = dict(User.objects.values_list("pk", "name"))
    made = []
    for measure in judged_measures():
        paired = _paired(measure)
        for first, second in sorted(paired, key=lambda pair: [people[pk] for pk in pair]):
            a, b = paired[first, second]
            agreed = pair_agreement(_worked(measure, a), _worked(measure, b), grades=_grades(measure))
            made.append(AssessorPair(
                measure=measure, first=people[first], second=people[second], pairs=len(a),
                missing=max(0, FEWEST_PAIRS - len(a)), bias=_bias_words(measure, agreed, people[second]),
                figure=_figure_words(agreed),
            ))
    return made


def _paired(measure: Measure) -> dict[tuple[int, int], tuple[list[float], list[float]]]:
    """(person, person) to their scores of the same child, side and screening; each one's first attempt there."""
    cells: dict[tuple, dict[int, float]] = defaultdict(dict)
    rows = counted(Result.objects.in_force()).filter(
        measure=measure, value__isnull=False, reached_cap=False, by__isnull=False, assessor_name=""
    )
    for row in rows.order_by("attempt", "pk"):
        cells[row.screening_id, row.student_id, row.side].setdefault(row.by_id, float(row.value))
    names = dict(User.objects.values_list("pk", "name"))
    pairs: dict[tuple[int, int], tuple[list[float], list[float]]] = defaultdict(lambda: ([], []))
    for scored in cells.values():
        both = sorted(scored, key=lambda pk: (names[pk], pk))
        for at, first in enumerate(both):
            for second in both[at + 1:]:
                pairs[first, second][0].append(scored[first])
                pairs[first, second][1].append(scored[second])
    return pairs


def _grades(measure: Measure) -> int | None:
    return int(measure.hard_high) + 1 if measure.kind in (Measure.GRADE, Measure.TALLY) else None


def _worked(measure: Measure, values: list[float]) -> list[float]:
    """Seconds as natural logarithms, so that a bias is a share of the hold."""
    return [math.log(max(value, 0.5)) for value in values] if measure.kind == Measure.SECONDS else values


def _bias_words(measure: Measure, agreed: PairAgreement | None, second: str) -> str:
    if agreed is None:
        return ""
    if agreed.bias_low <= 0 <= agreed.bias_high:
        return _("no difference beyond chance")
    if measure.kind == Measure.SECONDS:
        share = write_signed(100 * (math.exp(agreed.bias) - 1))
        return _("%(name)s’s times differ by %(share)s %%") % {"name": second, "share": share}
    difference = write_signed(agreed.bias, 1)
    return _("%(name)s gives %(difference)s %(unit)s") % {
        "name": second, "difference": difference, "unit": _(measure.unit)
    }


def _figure_words(agreed: PairAgreement | None) -> str:
    if agreed is None or agreed.figure is None:
        return ""
    return write_number(agreed.figure, 2)
