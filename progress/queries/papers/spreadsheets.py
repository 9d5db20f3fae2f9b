"""Reads a term for spreadsheets: each class with its lines, and every standing result as a row; formats nothing."""
import datetime as dt
from collections.abc import Iterator

from django.utils.translation import gettext as _

from progress.judging.line_record import read_line
from progress.models import Standing, TermStanding
from progress.queries.finished_terms import standings_in
from progress.words.speech import side_word, verdict_word
from screening.models import Measure, Result
from screening.queries import agreed_results, judged_measures
from studio.family.queries import consented
from studio.models import ClassGroup, Consent, Enrolment, Student, Term

ClassLines = tuple[str, list[str], list[list[object]]]


def term_rows(term: Term, *, now: dt.datetime) -> Iterator[dict[str, object]]:
    """Every result of the term that stands, or the reason why there is none; by class, student, measure, day."""
    rows = (
        agreed_results(Result.objects.in_force(), now=now)
        .filter(taken_on__gte=term.starts_on, taken_on__lte=term.ends_on)
        .exclude(reason_missing=Result.WITHDRAWN)
        .select_related("student", "measure", "protocol", "screening__class_group", "by")
        .order_by("screening__class_group__name", "student__name", "student", "measure__position", "taken_on", "side",
                  "attempt", "pk")
    )
    for result in rows.iterator(chunk_size=1000):
        yield _in_columns(result, term.week_on(result.taken_on))


def student_rows(student: Student) -> Iterator[dict[str, object]]:
    """Every result of one student that stands, whatever the term."""
    rows = student.results.in_force().exclude(reason_missing=Result.WITHDRAWN)
    for result in rows.select_related("student", "measure", "protocol", "screening__class_group", "by"):
        yield _in_columns(result, None)


def _in_columns(result: Result, week: int | None) -> dict[str, object]:
    return {
        "class": result.screening.class_group.name, "student": result.student.name, "measure": str(result.measure),
        "side": side_word(result.side), "attempt": result.attempt, "value": _plain(result.value),
        "at_least": _("yes") if result.reached_cap else None, "unit": _(result.measure.unit) or None,
        "reason": str(result.get_reason_missing_display()) or None, "date": result.taken_on,
        "week": week, "protocol": result.protocol.short_name,
        "assessor": result.measured_by or None,
    }


def _plain(value) -> int | float | None:
    return None if value is None else int(value) if value == int(value) else float(value)


def class_lines(term: Term, *, now: dt.datetime) -> list[ClassLines]:
    """(class, heads, lines): a line for each student, measure and side with its level, pace and verdict.

    Of a term that is over: what was judged when it ended.
    """
    enrolled = Enrolment.objects.filter(term=term).for_a_day_at_least().select_related("student", "class_group")
    groups: dict[ClassGroup, dict[int, Student]] = {}
    for enrolment in enrolled.order_by("class_group__name", "student__name", "student__pk"):
        groups.setdefault(enrolment.class_group, {})[enrolment.student_id] = enrolment.student
    measures = {measure.pk: measure for measure in judged_measures()}
    agreed = consented({pk for students in groups.values() for pk in students}, Consent.MEASUREMENTS, now)
    standings = [s for s in standings_in(term, agreed, until=term.ends_on) if s.measure_id in measures]
    by_student: dict[int, list[Standing | TermStanding]] = {}
    for standing in standings:
        by_student.setdefault(standing.student_id, []).append(standing)
    return [
        (group.name, _heads(), [
            _line(student, measures[standing.measure_id], standing)
            for student in students.values() for standing in by_student.get(student.pk, ())
        ])
        for group, students in groups.items()
    ]


def _heads() -> list[str]:
    return [
        _("student"), _("measure"), _("side"), _("level"), _("likely from"), _("likely to"), _("unit"), _("a week"),
        _("a week from"), _("a week to"), _("verdict"), _("results"), _("as of"),
    ]


def _line(student: Student, measure: Measure, standing: Standing | TermStanding) -> list[object]:
    line = read_line(standing.line)
    says = line.verdict != "too_early"
    places = 1 if measure.kind in (Measure.GRADE, Measure.TALLY) else 0
    pace = {"count": 1, "hold": 0, "grade": 2}[line.scale]
    as_of: dt.date = standing.as_of
    return [
        student.name, str(measure), side_word(standing.side),
        *(_rounded(value, places) if says else None for value in (line.level, line.level_low80, line.level_high80)),
        _(measure.unit),
        *(_rounded(value, pace) if says else None for value in (line.rate, line.rate_low80, line.rate_high80)),
        verdict_word(line.verdict), line.results, as_of,
    ]


def _rounded(value: float | None, places: int) -> float | None:
    """Rounded as every page writes it, and never a minus before a zero."""
    return None if value is None else float(f"{value:.{places}f}") + 0.0
