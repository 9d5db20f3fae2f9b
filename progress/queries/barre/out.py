"""Reads who leaves out what and who is absent, as every tablet at the barre is told of it."""
import datetime as dt
import hashlib
import json
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.utils.translation import gettext as _

from progress.models import Attendance, PainReport
from progress.queries.resting import left_out, rest_words
from progress.rules.resting import PERMITS, UNLOADED, Rest
from studio.family.queries import consented
from studio.models import ClassGroup, Consent, Student
from studio.queries import barre_order, term_on

# Everything that an exercise or a measure can ask of the foot.
_WORK = sorted({UNLOADED}.union(*PERMITS.values()))
# For so long a tablet may keep a report that it sent before it hears of it.
_HEARD_WITHIN = dt.timedelta(days=1)


@dataclass(frozen=True)
class Out:
    """One class on one day. `students`: by key what each leaves out, and in which words. `reports`: those known."""

    class_id: int
    on: dt.date
    students: dict[str, dict[str, Any]]
    absent: list[int]
    as_of: dt.datetime = field(compare=False)
    reports: list[str] = field(compare=False)

    @property
    def stamp(self) -> str:
        """Changes with every report, answer, step, follow-up, absence and consent that changes what is told."""
        told = json.dumps([str(self.on), self.students, self.absent], sort_keys=True)
        return hashlib.sha256(told.encode()).hexdigest()[:12]

    @property
    def told(self) -> dict[str, Any]:
        return {
            "class": self.class_id, "day": str(self.on), "students": self.students, "absent": self.absent,
            "asOf": round(self.as_of.timestamp() * 1000), "words": {"rests": _("no rises for now")},
            "reports": self.reports,
        }


def out_of(class_group: ClassGroup, students: Iterable[Student], on: dt.date, *, now: dt.datetime) -> Out:
    [found] = outs_of([(class_group, on, list(students))], now=now)
    return found


def outs_of(days: Sequence[tuple[ClassGroup, dt.date, list[Student]]], *, now: dt.datetime) -> list[Out]:
    """The same for many classes; it asks no more often than for one."""
    ids = {student.pk for _group, _on, students in days for student in students}
    # Read before who rests: a report that comes in between is in the rests and not yet among those known.
    reports = _reports(ids, now)
    off = left_out(ids, now=now)
    withdrawn = ids - consented(ids, Consent.MEASUREMENTS, now) if any(not r.is_told for r in off.values()) else set()
    absent = _absent({(group.pk, on) for group, on, _students in days})
    return [
        Out(
            group.pk, on, {str(s.pk): _told(off[s.pk], s.pk in withdrawn) for s in students if s.pk in off},
            sorted(absent.get((group.pk, on), set()) & {s.pk for s in students}), now,
            [key for s in students for key in reports.get(s.pk, [])],
        )
        for group, on, students in days
    ]


def _reports(ids: Collection[int], now: dt.datetime) -> dict[int, list[str]]:
    """The keys of the latest reports of each, those taken back among them."""
    found: dict[int, list[str]] = {}
    rows = PainReport.objects.filter(student__in=ids, reported_at__gte=now - _HEARD_WITHIN)
    for student, key in rows.values_list("student", "uuid"):
        found.setdefault(student, []).append(str(key))
    return found


def _told(rest: Rest, is_withdrawn: bool) -> dict[str, Any]:
    return {
        "words": rest_words(rest), "forbids": [work for work in _WORK if rest.forbids(work)],
        "isTold": rest.is_told, "isWithdrawn": is_withdrawn,
    }


def _absent(days: Collection[tuple[int, dt.date]]) -> dict[tuple[int, dt.date], set[int]]:
    """Who is absent in a class of a day, as its one attendance says."""
    found: dict[tuple[int, dt.date], set[int]] = {}
    rows = Attendance.objects.in_force().filter(
        is_present=False, log__class_group__in={pk for pk, _on in days}, log__held_on__in={on for _pk, on in days}
    )
    for group, on, student in rows.values_list("log__class_group", "log__held_on", "student"):
        found.setdefault((group, on), set()).add(student)
    return found


def class_out(
    class_group: ClassGroup, on: dt.date, reach: Collection[int]
) -> tuple[ClassGroup, dt.date, list[Student]]:
    """A class of a day with its students in reach, for `outs_of`."""
    enrolled = barre_order(class_group, term_on(on), on)
    return class_group, on, [each.student for each in enrolled if each.student_id in reach]
