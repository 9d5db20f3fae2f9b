"""Reads what the class sheet draws of each student and measure: the lines of the term, the last counts, pain."""
import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from progress.drawing import strip as drawing
from progress.judging.judgement import Line
from progress.models import PainReport
from progress.queries.judged import counted
from progress.queries.look_first import WANTS_A_LOOK
from screening.models import Measure, Protocol, Result, Target
from screening.queries import Score, scores
from screening.wording import write_value
from studio.models import Student, Term
from studio.templatetags.wording import write_number

KINDS = {
    Measure.COUNT: "count", Measure.SECONDS: "seconds", Measure.GRADE: "grade", Measure.TALLY: "count",
    Measure.LENGTH: "count",
}
RISING = ("gaining", "at_target")


@dataclass(frozen=True)
class Drawn:
    """The strip of one student and measure in the sizes that pages take; empty without anything to draw."""

    small: str = ""
    large: str = ""


class TermScores:
    """Every score of a term's class that is judged, and its pain, read once for all strips."""

    def __init__(self, students: Sequence[Student], measures: Sequence[Measure], term: Term | None, told: set[int]):
        self.term = term
        self._scores: dict[tuple[int, int, str], list[Score]] = defaultdict(list)
        self._pain: dict[tuple[int, int | None], list[dt.date]] = defaultdict(list)
        self._protocols: dict[int, Protocol] = {}
        if term is None:
            return
        rows = counted(Result.objects.filter(
            student__in=students, measure__in=measures, taken_on__gte=term.starts_on, taken_on__lte=term.ends_on
        ))
        for score in sorted(scores(rows, measures=measures), key=lambda s: (s.on, s.result_id)):
            self._scores[score.student_id, score.measure_id, score.side].append(score)
        self._protocols = {protocol.pk: protocol for protocol in Protocol.objects.filter(measure__in=measures)}
        hurt = PainReport.objects.meant().filter(
            student__in=told, reported_on__gte=term.starts_on, reported_on__lte=term.ends_on
        )
        for student_id, measure_id, on in hurt.values_list("student_id", "measure_id", "reported_on"):
            self._pain[student_id, measure_id].append(on)

    def of(self, student: Student, measure: Measure, side: str) -> list[Score]:
        return self._scores[student.pk, measure.pk, side]

    def last(self, student: Student, measure: Measure, side: str) -> Score | None:
        return next(reversed(self.of(student, measure, side)), None)

    def written(self, score: Score, measure: Measure) -> str:
        """A last count as it was counted: "14", "9.4", "30+", "clean"; the unit stands in the head."""
        if measure.kind == Measure.GRADE:
            return write_value(score.value, measure, self._protocols[score.protocol_id])
        text = write_number(score.value, measure.decimals)
        return f"{text}+" if score.capped else text

    def share(self, on: dt.date) -> float:
        """Where a day stands between the first and the last of the term, from 0 to 1."""
        return (on - self.term.starts_on).days / max(1, (self.term.ends_on - self.term.starts_on).days)

    def strip(
        self, student: Student, measure: Measure, lines: Mapping[str, Line], target: Target | None, *, is_off: bool
    ) -> Drawn:
        if self.term is None:
            return Drawn()
        sides = tuple(self._side(student, measure, side, lines.get(side), is_off) for side in measure.sides)
        if not any(side.line or side.points or side.last is not None for side in sides):
            return Drawn()
        pain = (*self._pain[student.pk, measure.pk], *(self._pain[student.pk, None] if is_off else ()))
        strip = drawing.Strip(
            KINDS[measure.kind], sides, None if target is None or target.value is None else float(target.value),
            tuple(sorted({self.share(on) for on in pain})),
        )
        return Drawn(drawing.svg(strip, size="small"), drawing.svg(strip, size="large"))

    def _side(self, student: Student, measure: Measure, side: str, line: Line | None, is_off: bool):
        mine = self.of(student, measure, side)
        held = set(line.held_back) if line is not None else set()
        good = [score for score in mine if score.result_id not in held]
        last = float(good[-1].value) if good and mine[-1].result_id not in held else None
        if line is None or line.verdict == "too_early":
            points = tuple((self.share(score.on), float(score.value)) for score in good)
            return drawing.StripSide(side, last=last, points=points)
        until = good[-1].on if is_off and good else None
        knots = [k for k in line.knots if not k.stale and self.term.starts_on <= k.on <= self.term.ends_on]
        newest = knots[-1].protocol if knots else None
        drawn = tuple(
            (self.share(k.on), k.level) for k in knots if k.protocol == newest and (until is None or k.on <= until)
        )
        ink = "quiet" if is_off else "needs_look" if line.verdict in WANTS_A_LOOK else (
            "rising" if line.verdict in RISING else "quiet")
        return drawing.StripSide(side, drawn, ink, last)


def rail(term: Term | None, today: dt.date, *, size: str) -> str:
    """The term's weeks over the strips, once for each measure."""
    if term is None:
        return ""
    holidays = [(term.week_number(each.starts_on), term.week_number(each.ends_on)) for each in _long(term)]
    now = term.week_number(today) if term.starts_on <= today <= term.ends_on else None
    return drawing.rail(weeks=term.week_count, now=now, holidays=holidays, size=size)


def _long(term: Term) -> Iterable:
    return (each for each in term.holidays.all() if (each.ends_on - each.starts_on).days >= 4)
