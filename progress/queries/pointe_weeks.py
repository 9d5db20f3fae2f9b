"""Reads the first weeks on pointe: the steps in force, where each student of a class stands, minutes week by week."""
import datetime as dt
import json
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from django.conf import settings

from progress.models import PointeLadder, PointeStep, PointeTime
from progress.queries.resting import rests
from progress.queries.way_back import is_on_pointe
from progress.rules.pointe_weeks import ASKED_WEEKS, is_asked, minutes_by_week, week_of
from progress.rules.resting import Rest
from studio.family.queries import consented
from studio.models import ClassGroup, Consent, Student, Term
from studio.queries import roster


@cache
def _first_steps() -> tuple[dict, ...]:
    script = json.loads((settings.BASE_DIR / "fixtures" / "pointe_ladder.json").read_text(encoding="utf-8"))
    return tuple(script["steps"])


def pointe_ladder() -> PointeLadder:
    """The owner's newest steps; until there are any, those of the fixture, not kept yet."""
    return PointeLadder.objects.last() or PointeLadder(steps=[dict(step) for step in _first_steps()])


def latest_steps(student_ids: Iterable[int]) -> dict[int, PointeStep]:
    """Where each student stands who was ever put on a step."""
    rows = PointeStep.objects.filter(student__in=student_ids).select_related("ladder", "by").order_by("pk")
    return {row.student_id: row for row in rows}


def times_in_force(student_ids: Iterable[int]) -> dict[int, dict[dt.date, PointeTime]]:
    """A student's last row of each day, by the student's key and the day."""
    found: dict[int, dict[dt.date, PointeTime]] = {}
    for row in PointeTime.objects.filter(student__in=student_ids).select_related("by").order_by("held_on", "pk"):
        found.setdefault(row.student_id, {})[row.held_on] = row
    return found


@dataclass(frozen=True)
class PointeRow:
    """One student. `week`: of the first eight, 0 before the first class and after them; `rest`: no pointe work now.

    is_asked: about heel and big toe, which the family's consent to pain notes allows.
    """

    student: Student
    step: PointeStep | None
    week: int
    is_asked: bool
    rest: Rest | None
    today: PointeTime | None
    minutes_this_week: int


def class_rows(class_group: ClassGroup, term: Term | None, *, today: dt.date, now: dt.datetime) -> list[PointeRow]:
    """Students of the class who are on pointe, or on a step, and whose families agree to measurements; by name."""
    students = [enrolment.student for enrolment in roster(class_group, term, today)]
    agreed = consented([student.pk for student in students], Consent.MEASUREMENTS, now)
    steps, times = latest_steps(agreed), times_in_force(agreed)
    here = [each for each in students if each.pk in agreed and (each.pk in steps or is_on_pointe(each))]
    keys = [each.pk for each in here]
    resting, tells_pain = rests(keys, now=now), consented(keys, Consent.PAIN, now)
    return [
        _row(each, steps.get(each.pk), times.get(each.pk, {}), resting.get(each.pk), today, each.pk in tells_pain)
        for each in here
    ]


def _row(
    student: Student, step: PointeStep | None, times: dict[dt.date, PointeTime], rest: Rest | None, today: dt.date,
    may_ask: bool,
) -> PointeRow:
    began_on = min((on for on, row in times.items() if row.minutes), default=None)
    week = week_of(began_on, today) if began_on else 0
    monday = today - dt.timedelta(days=today.weekday())
    return PointeRow(
        student, step, week if week <= ASKED_WEEKS else 0, may_ask and is_asked(began_on, today), rest,
        times.get(today), sum(row.minutes for on, row in times.items() if monday <= on <= today),
    )


@dataclass(frozen=True)
class PointeStory:
    """One student's weeks: the row of today, the ladder, every step so far, every class, minutes by week."""

    row: PointeRow
    tells_pain: bool
    ladder: PointeLadder
    steps: tuple[PointeStep, ...]
    times: tuple[PointeTime, ...]
    weeks: tuple[tuple[dt.date, int], ...]


def pointe_story(student: Student, *, today: dt.date, now: dt.datetime) -> PointeStory:
    """The caller asked for consent to measurements; what was said of pain is told with consent to pain notes only."""
    steps = tuple(student.pointe_steps.select_related("ladder", "by").order_by("-pk"))
    times = times_in_force([student.pk]).get(student.pk, {})
    tells_pain = bool(consented([student.pk], Consent.PAIN, now))
    rest = rests([student.pk], now=now).get(student.pk)
    row = _row(student, steps[0] if steps else None, times, rest, today, tells_pain)
    weeks = minutes_by_week((on, each.minutes) for on, each in times.items())
    return PointeStory(row, tells_pain, pointe_ladder(), steps, tuple(reversed(times.values())), tuple(weeks))
