"""Reads of the measuring day: what was seen, what is missing, what the catalogue says; changes nothing."""
import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import QuerySet

from screening import scoring
from screening.models import Battery, BatteryMeasure, Measure, Protocol, Result, Screening, Target
from studio.family.queries import withheld
from studio.models import ClassGroup, Consent, Student
from studio.queries import barre_names, roster


def judged_measures() -> list[Measure]:
    """The measures in which a trend is drawn, in the catalogue's order."""
    return [measure for measure in Measure.objects.all() if measure.is_judged]


def current_protocols() -> dict[int, Protocol]:
    """Measure id to its latest protocol."""
    latest: dict[int, Protocol] = {}
    for protocol in Protocol.objects.order_by("version"):
        latest[protocol.measure_id] = protocol
    return latest


def targets_by_stage() -> dict[tuple[int, int], Target]:
    """(measure id, stage id) to the target in force; a target without a value means none."""
    latest: dict[tuple[int, int], Target] = {}
    for target in Target.objects.order_by("set_on", "pk"):
        latest[target.measure_id, target.stage_id] = target
    return {key: target for key, target in latest.items() if target.value is not None}


def battery_measures(battery: Battery | None) -> list[Measure]:
    entries = BatteryMeasure.objects.filter(battery=battery).select_related("measure")
    return [entry.measure for entry in entries]


def open_screening_of(class_group: ClassGroup) -> Screening | None:
    """The class's open measuring day, the latest if there are several."""
    return class_group.screenings.filter(closed_at__isnull=True).select_related("battery").first()


@dataclass
class Cell:
    """One child, one side, one measure, one day, as the sheet shows it."""

    student: Student
    measure: Measure
    side: str
    results: list[Result] = field(default_factory=list)
    reason_missing: str = ""
    score: scoring.Score | None = None
    attempts_wanted: int = 1

    @property
    def is_empty(self) -> bool:
        return not self.results

    @property
    def is_done(self) -> bool:
        """Nothing more is asked: a reason, all attempts, or a capped one."""
        if self.reason_missing:
            return True
        return len(self.results) >= self.attempts_wanted or any(result.reached_cap for result in self.results)

    @property
    def last(self) -> Result | None:
        return self.results[-1] if self.results else None


@dataclass
class SheetRow:
    student: Student
    barre_name: str
    cells: list[Cell]


def students_of(screening: Screening) -> list[Student]:
    """The class on the screening's day, then anyone else who was measured in it, each by name."""
    enrolled = [e.student for e in roster(screening.class_group, screening.term, screening.held_on)]
    measured = Student.objects.filter(results__screening=screening).exclude(pk__in=[s.pk for s in enrolled])
    return enrolled + list(measured.distinct().order_by("name", "pk"))


def sheet(screening: Screening, measure: Measure, students: Sequence[Student], *, now: dt.datetime) -> list[SheetRow]:
    """Every child of the class with their cells for one measure."""
    cells = cells_of(screening, [measure], students, now=now)
    names = barre_names(students)
    return [
        SheetRow(student, names[student.pk], [cells[student.pk, measure.pk, side] for side in measure.sides])
        for student in students
    ]


def agreed_results(rows: QuerySet[Result], *, now: dt.datetime) -> QuerySet[Result]:
    """Those of students whose families agree to measurements now."""
    return rows.exclude(student__in=withheld(Consent.MEASUREMENTS, now))


def cells_of(
    screening: Screening, measures: Iterable[Measure], students: Iterable[Student], *, now: dt.datetime
) -> dict[tuple[int, int, str], Cell]:
    """(student, measure, side) to its cell, one query for all."""
    measures, students = list(measures), list(students)
    cells = {
        (s.pk, m.pk, side): Cell(student=s, measure=m, side=side, attempts_wanted=m.attempts)
        for s in students for m in measures for side in m.sides
    }
    rules = {m.pk: m.score_rule for m in measures}
    rows = agreed_results(screening.results.saying(), now=now)
    for result in rows.select_related("by").order_by("attempt", "pk"):
        cell = cells.get((result.student_id, result.measure_id, result.side))
        if cell is None:
            continue
        if result.reason_missing:
            cell.reason_missing = result.reason_missing
        cell.results.append(result)
    for (_student, measure_id, _side), cell in cells.items():
        values = [(r.value, r.reached_cap) for r in cell.results if r.value is not None]
        cell.score = scoring.score(values, rules[measure_id])
        if cell.score:
            cell.reason_missing = ""
            cell.results = [r for r in cell.results if r.value is not None]
    return cells


@dataclass(frozen=True)
class Score:
    """One day's score of a student, measure and side, with what the judge must know of it."""

    result_id: int
    student_id: int
    measure_id: int
    side: str
    on: dt.date
    value: Decimal
    capped: bool
    protocol_id: int
    protocol_version: int
    recorded_by_id: int | None
    is_confirmed: bool
    screening_id: int
    assessor_name: str = ""

    @property
    def assessor(self) -> int | str:
        """Tells one assessor from another, whether or not they have a login."""
        return self.assessor_name or self.recorded_by_id or 0


def scores(results: QuerySet[Result], *, measures: Iterable[Measure] | None = None) -> list[Score]:
    """Standing results reduced to one score a student, measure, side, protocol and screening.

    Days are kept apart by screening: two screenings on one day are two scores. The result named is the
    attempt that made the score (the last one for a mean). measures: all of them, where they were read already.
    """
    rules = {measure.pk: measure.score_rule for measure in measures or Measure.objects.all()}
    groups: dict[tuple, list] = defaultdict(list)
    rows = (
        results.in_force()
        .filter(value__isnull=False)
        .order_by("taken_on", "attempt", "pk")
        .values_list(
            "pk", "student_id", "measure_id", "side", "taken_on", "value", "reached_cap", "protocol_id",
            "protocol__version", "by_id", "is_confirmed", "screening_id",
            "assessor_name",
        )
    )
    for row in rows:
        groups[row[1], row[2], row[3], row[7], row[11]].append(row)
    return [_score_of(rows, rules[measure_id]) for (_s, measure_id, *_rest), rows in groups.items()]


def _score_of(rows: list[tuple], rule: str) -> Score:
    made = scoring.score([(row[5], row[6]) for row in rows], rule)
    source = rows[-1]
    if rule == "best":
        source = next(row for row in rows if (row[5], row[6]) == (made.value, made.capped))
    pk, student, measure, side, on, _value, _capped, protocol, version, by, confirmed, screening, assessor = source
    return Score(
        pk, student, measure, side, on, made.value, made.capped, protocol, version, by, confirmed, screening, assessor
    )


def results_of_student(student: Student, measure: Measure | None = None) -> QuerySet[Result]:
    """Every row about the student, newest first, corrections and their originals included."""
    rows = student.results.select_related(
        "measure", "protocol", "screening", "by", "superseded_by", "superseded_by__by"
    ).order_by("-taken_on", "measure__position", "side", "-attempt", "-pk")
    return rows.filter(measure=measure) if measure else rows
