"""Learns typical errors and gains from the studio's own results, when a measuring day is closed."""
import datetime as dt
import math

from django.db import transaction

from progress.actions.carrying import Judging
from progress.actions.standings import refresh_standings
from progress.judging.engine.stories import SCALES as WORKING_SCALES
from progress.judging.learned import FinishedTerm, Repeat, learned_error, learned_gain, pair_differences
from progress.judging.line_record import read_line
from progress.models import LearnedValue, Standing
from progress.queries.judged import SCALES, counted
from progress.queries.learned import learned_values
from screening.models import Measure, Result
from screening.queries import judged_measures, scores
from studio.models import ClassGroup, Term

# A learned value that moves by less than this share changes no verdict worth telling; nothing is stored.
SMALLEST_STEP = 0.01
# A local figure is worth having from a retest of ten on (recommendation with the recomputed heel-rise errors).
FEWEST_PAIRS = 10


@transaction.atomic
def learn_values(*, learned_on: dt.date) -> list[LearnedValue]:
    """Learns every judged measure anew; where a value moved, everybody is judged with it. Gives the new rows."""
    measures = judged_measures()
    known = learned_values()
    rows = [row for measure in measures if (row := _learn_error(measure, known, learned_on)) is not None]
    rows += _learn_gains(measures, known, learned_on)
    if rows:
        LearnedValue.objects.bulk_create(rows)
        refresh_standings(class_ids=ClassGroup.objects.values_list("pk", flat=True), over_on=learned_on)
    return rows


def _moved(measure: Measure, kind: str, value: float, default: float, known) -> bool:
    before = known.get((measure.pk, kind))
    return abs(value / (before.value if before else default) - 1) >= SMALLEST_STEP


def _learn_error(measure: Measure, known, learned_on: dt.date) -> LearnedValue | None:
    scale = SCALES[measure.kind]
    differences = pair_differences(_repeats(measure, scale), scale=WORKING_SCALES[scale])
    value = learned_error(
        differences, default=measure.typical_error, rounding_variance=WORKING_SCALES[scale].rounding_variance
    )
    if len(differences) < FEWEST_PAIRS or not _moved(measure, LearnedValue.ERROR, value, measure.typical_error, known):
        return None
    return LearnedValue(
        measure=measure, kind=LearnedValue.ERROR, value=value, evidence=len(differences), learned_on=learned_on
    )


def _repeats(measure: Measure, scale: str) -> list[Repeat]:
    """Results in the working scale; capped ones and those that wait to be confirmed teach nothing."""
    held = {key for line in Standing.objects.filter(measure=measure).values_list("line", flat=True)
            for key in read_line(line).held_back}
    return [
        Repeat(
            student=row.student_id, side=row.side, assessor=row.assessor, on=row.on,
            value=math.log(max(float(row.value), 0.5)) if scale == "hold" else float(row.value),
            protocol=row.protocol_id,
        )
        for row in scores(counted(Result.objects.filter(measure=measure)))
        if not row.capped and row.result_id not in held
    ]


def _learn_gains(measures: list[Measure], known, learned_on: dt.date) -> list[LearnedValue]:
    """From finished terms only, and only when one has finished since the last time."""
    before = [row.learned_on for (_measure, kind), row in known.items() if kind == LearnedValue.GAIN]
    finished = list(Term.objects.filter(ends_on__lt=learned_on))
    if not finished or (before and max(before) > max(term.ends_on for term in finished)):
        return []
    endings: dict[str, list[FinishedTerm]] = {measure.key: [] for measure in measures}
    judging = Judging()
    for class_id in ClassGroup.objects.values_list("pk", flat=True):
        for term in finished:
            then = judging.known(class_id, before=term.ends_on + dt.timedelta(days=1))
            if not any(fact.on >= term.starts_on for fact in then.facts):
                continue
            for line in then.judged(then.as_of).lines.values():
                if line.pace_if_gaining is not None and line.verdict != "too_early":
                    endings[line.measure].append(FinishedTerm(line.p_gain, line.pace_if_gaining))
    rows = []
    for measure in measures:
        value = learned_gain(endings[measure.key], default=measure.typical_gain)
        # Stored even where it did not move: the row says that these terms have been learned from.
        if endings[measure.key]:
            rows.append(LearnedValue(
                measure=measure, kind=LearnedValue.GAIN, value=value, evidence=len(endings[measure.key]),
                learned_on=learned_on,
            ))
    return rows
