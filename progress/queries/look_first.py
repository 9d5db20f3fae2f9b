"""Reads whom a teacher should look at first in a class, and why in a few words: pain first, then what is lost."""
import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Case, IntegerField, Value, When
from django.urls import reverse
from django.utils.translation import gettext as _

from progress.judging.line_record import read_line
from progress.models import FollowUp, Standing
from progress.queries import agreed_follow_ups
from progress.rules.resting import Rest
from progress.rules.suggestions import is_shared_stall
from progress.words.speech import side_word, verdict_word
from screening.models import Measure
from studio.models import Student
from studio.queries import barre_names

# What wants a look, the most urgent first.
WANTS_A_LOOK = ("dropped", "slipping", "stalled")
# More names than these are no answer to "whom do I look at".
MOST_NAMED = 3


@dataclass(frozen=True)
class LookAt:
    """A name with its reason, and where the reason is explained. `is_pain`: with its bar."""

    student: Student
    name: str
    reason: str
    link: str
    is_pain: bool


def look_first(
    students: Sequence[Student], standings: Mapping[tuple[int, int, str], Standing], measures: Iterable[Measure],
    resting: Mapping[int, Rest], *, now: dt.datetime,
) -> tuple[LookAt, ...]:
    """Everybody who wants a look, the most urgent first; one question."""
    pain, names, shared = _open_pain(students, now=now), barre_names(students), shared_stalls(standings.values())
    found = [
        LookAt(s, names[s.pk], resting[s.pk].words if s.pk in resting else _("ask how it is"),
               reverse("progress:follow-up", args=[pain[s.pk]]), is_pain=True)
        for s in sorted((s for s in students if s.pk in pain), key=lambda s: list(pain).index(s.pk))
    ]
    for verdict in WANTS_A_LOOK:
        found += [
            _from_line(student, names[student.pk], verdict, measure, sides) for student in students
            if student.pk not in pain and not any(each.student == student for each in found)
            for measure, sides in [_first_measure(student, verdict, standings, measures, shared)] if measure is not None
        ]
    return tuple(found)


def _open_pain(students: Sequence[Student], *, now: dt.datetime) -> dict[int, int]:
    """student -> the most urgent open follow-up about pain, in the order of urgency."""
    rank = Case(*(When(kind=kind, then=Value(at)) for at, kind in enumerate(FollowUp.ABOUT_PAIN)),
                output_field=IntegerField())
    rows = FollowUp.objects.filter(student__in=students, kind__in=FollowUp.ABOUT_PAIN, closed_at__isnull=True)
    rows = agreed_follow_ups(rows, at=now).annotate(rank=rank).order_by("rank", "due_on", "pk")
    found: dict[int, int] = {}
    for student_id, pk in rows.values_list("student_id", "pk"):
        found.setdefault(student_id, pk)
    return found


def shared_stalls(standings: Iterable[Standing]) -> set[int]:
    """The measures in which so many of a class stand still at once that it is said of the class and of nobody."""
    measured, stalled = defaultdict(set), defaultdict(set)
    for row in standings:
        measured[row.measure_id].add(row.student_id)
        if row.verdict == "stalled":
            stalled[row.measure_id].add(row.student_id)
    return {key for key, students in measured.items() if is_shared_stall(len(stalled[key]), len(students))}


def _first_measure(
    student: Student, verdict: str, standings, measures, shared: set[int]
) -> tuple[Measure | None, list[str]]:
    for measure in measures:
        sides = [
            side for side in measure.sides
            if (row := standings.get((student.pk, measure.pk, side))) is not None and row.verdict == verdict
            and not (verdict == "stalled" and (read_line(row.line).with_class or measure.pk in shared))
        ]
        if sides:
            return measure, sides
    return None, []


def _from_line(student: Student, name: str, verdict: str, measure: Measure, sides: list[str]) -> LookAt:
    which = side_word(sides[0]) if len(sides) == 1 and sides[0] else ""
    reason = " ".join(word for word in (which, _(measure.short_name), verdict_word(verdict)) if word)
    link = reverse("progress:student", args=[student.pk]) + f"#strand-{measure.key}"
    return LookAt(student, name, reason, link, is_pain=False)
