"""Facts of invented students for the judge: one measure of each kind, a class on Tuesdays."""

from collections.abc import Sequence
from datetime import date, timedelta

from progress.judging.judgement import ClassJudgement, MeasureFacts, ResultFact, judge_class

TUESDAY = date(2031, 1, 7)
MEASURES = {
    "rises": MeasureFacts("rises", "count", 2.4, 3.0, 0.65),
    "balance": MeasureFacts("balance", "hold", 0.32, 0.40, 0.06),
    "landing": MeasureFacts("landing", "grade", 0.5, 0.6, 0.11, 0.0, 2.0),
}
# Fourteen weeks of rises, wobble included.
GAINS = [10, 12, 11, 13, 13, 15, 14, 17, 16, 18, 18, 19, 21, 20]
STANDS = [8, 10, 13, 14, 17, 16, 18, 16, 17, 15, 17, 16, 16, 15]
SLIPS = [18, 20, 19, 21, 20, 18, 18, 16, 17, 15, 14, 13, 13, 11]


def facts(
    values: Sequence[float | None],
    *,
    student: str = "Dunya",
    measure: str = "rises",
    side: str = "L",
    first_on: date = TUESDAY,
    **more: object,
) -> list[ResultFact]:
    """One result a week, None for a week without; `more` goes into every fact."""
    return [
        ResultFact(
            (student, measure, side, week), student, measure, side, first_on + timedelta(days=7 * week), value, **more
        )
        for week, value in enumerate(values)
        if value is not None
    ]


def judged(results: list[ResultFact], *, targets: dict | None = None, as_of: date | None = None) -> ClassJudgement:
    """The judgement on the last day with a result."""
    day = as_of or max(fact.on for fact in results)
    return judge_class(results, measures=MEASURES, targets=targets or {}, as_of=day)


def one_line(results: list[ResultFact], **more: object):
    """The only line of a judgement."""
    (line,) = judged(results, **more).lines.values()
    return line
