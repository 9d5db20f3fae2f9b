"""Reads what a term came to in the whole studio: who was measured, what the lines say, what was seen to, who came.

A fixed number of questions to the database, whatever the number of classes.
"""
import datetime as dt
import statistics
from collections import Counter, defaultdict
from dataclasses import dataclass

from django.utils.translation import gettext as _

from progress.judging.line_record import read_stall
from progress.models import Attendance, FollowUp
from progress.queries import agreed_follow_ups
from progress.queries.finished_terms import stalls_in, standings_in
from progress.words import verdict
from progress.words.speech import voice_for
from screening.models import Measure, Result
from screening.queries import judged_measures
from studio.family.queries import consented
from studio.models import ClassGroup, Consent, Enrolment, Student, Term

# What needs somebody stands last, as the bar reads from left to right.
VERDICTS = ("at_target", "gaining", "not_clear", "too_early", "slipping", "stalled", "dropped")


@dataclass(frozen=True)
class StrandCount:
    """How many lines of one measure in one class have each verdict, in the order of VERDICTS."""

    measure: str
    counts: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class ClassOverview:
    """One class. `missing`: (student, what of the class's measures is missing); `withheld`: how many did not agree."""

    name: str
    students: int
    complete: int
    missing: tuple[tuple[str, str], ...]
    withheld: int
    strands: tuple[StrandCount, ...]
    questions: tuple[str, ...]
    came: int
    asked_to_come: int


@dataclass(frozen=True)
class FollowUpCount:
    """Follow-ups of one kind. `days`: the middle of how long they were open before they were closed, or None."""

    words: str
    opened: int
    closed: int
    still_open: int
    days: float | None
    longest: int | None


@dataclass(frozen=True)
class TermOverview:
    classes: tuple[ClassOverview, ...]
    follow_ups: tuple[FollowUpCount, ...]
    as_of: dt.date | None


def term_overview(term: Term, *, today: dt.date, now: dt.datetime) -> TermOverview:
    """The term up to that day; of one that is over, what was judged when it ended."""
    day = min(today, term.ends_on)
    groups: dict[ClassGroup, dict[int, Student]] = defaultdict(dict)
    enrolled = Enrolment.objects.on(day).filter(term=term).select_related("student", "class_group")
    for enrolment in enrolled.order_by("class_group__name", "student__name", "student__pk"):
        groups[enrolment.class_group][enrolment.student_id] = enrolment.student
    agreed = consented({pk for students in groups.values() for pk in students}, Consent.MEASUREMENTS, now)
    standings = [
        (row.student_id, row.measure_id, row.verdict, row.as_of) for row in standings_in(term, agreed, until=day)
    ]
    seen, asked = _seen(term, day)
    measures, stalls, came = judged_measures(), _stalls(term, day), _came(term, day)
    return TermOverview(
        classes=tuple(
            _class(group, students, agreed, measures, standings, seen, asked[group.pk], stalls.get(group.pk, ()),
                   came[group.pk])
            for group, students in groups.items()
        ),
        follow_ups=_follow_ups(term, day, now=now), as_of=max((on for *_line, on in standings), default=None),
    )


def _seen(term: Term, day: dt.date) -> tuple[set[tuple[int, int, str]], dict[int, set[int]]]:
    """Which (student, measure, side) have a value in the term, and which measures each class was asked for."""
    rows = Result.objects.in_force().filter(
        value__isnull=False, taken_on__gte=term.starts_on, taken_on__lte=day
    ).values_list("student_id", "measure_id", "side", "screening__class_group").distinct()
    asked: dict[int, set[int]] = defaultdict(set)
    seen = set()
    for student, measure, side, group in rows:
        seen.add((student, measure, side))
        asked[group].add(measure)
    return seen, asked


def _stalls(term: Term, day: dt.date) -> dict[int, tuple[str, ...]]:
    """What each class shares, as the question that its sheet asks."""
    voice, names = voice_for(term), {measure.key: str(measure) for measure in judged_measures()}
    return {
        class_id: tuple(verdict.class_question(read_stall(stall), voice=voice, names=names) for stall in stalls)
        for class_id, stalls in stalls_in(term, until=day).items()
    }


def _came(term: Term, day: dt.date) -> dict[int, list[bool]]:
    rows = Attendance.objects.in_force().filter(
        log__held_on__gte=term.starts_on, log__held_on__lte=day, is_present__isnull=False
    ).values_list("log__class_group", "is_present")
    came: dict[int, list[bool]] = defaultdict(list)
    for group, is_present in rows:
        came[group].append(is_present)
    return came


def _class(group, students, agreed, measures, standings, seen, asked, questions, came) -> ClassOverview:
    wanted = [measure for measure in measures if measure.pk in asked]
    here = {pk: student for pk, student in students.items() if pk in agreed}
    lacking = {pk: _lacking(pk, wanted, seen) for pk in here}
    return ClassOverview(
        name=group.name, students=len(students), withheld=len(students) - len(here),
        complete=sum(not words for words in lacking.values()) if wanted else 0,
        missing=tuple((here[pk].name, words) for pk, words in lacking.items() if words),
        strands=tuple(_strand(measure, here, standings) for measure in wanted), questions=questions,
        came=sum(came), asked_to_come=len(came),
    )


def _lacking(student: int, wanted: list[Measure], seen: set[tuple[int, int, str]]) -> str:
    lacks = [m for m in wanted if any((student, m.pk, side) not in seen for side in m.sides)]
    if wanted and len(lacks) == len(wanted) > 1:
        return _("everything")
    return ", ".join(_(measure.short_name) for measure in lacks)


def _strand(measure: Measure, here, standings) -> StrandCount:
    found = Counter(
        verdict for student, judged, verdict, _on in standings if judged == measure.pk and student in here
    )
    return StrandCount(str(measure), tuple((key, found[key]) for key in VERDICTS))


def _follow_ups(term: Term, day: dt.date, *, now: dt.datetime) -> tuple[FollowUpCount, ...]:
    rows = agreed_follow_ups(FollowUp.objects.filter(
        opened_on__gte=term.starts_on, opened_on__lte=day), at=now)
    by_kind: dict[str, list[tuple[dt.date, dt.date | None]]] = defaultdict(list)
    for kind, opened, closed in rows.values_list("kind", "opened_on", "closed_on"):
        by_kind[kind].append((opened, closed if closed and closed <= day else None))
    return tuple(_count(str(words), by_kind[kind]) for kind, words in FollowUp.KINDS if by_kind[kind])


def _count(words: str, rows: list[tuple[dt.date, dt.date | None]]) -> FollowUpCount:
    days = [(closed - opened).days for opened, closed in rows if closed]
    return FollowUpCount(
        words, len(rows), len(days), len(rows) - len(days), statistics.median(days) if days else None,
        max(days, default=None),
    )
