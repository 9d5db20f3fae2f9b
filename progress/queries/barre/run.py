"""Reads what a group run needs of a measuring day: the line in its groups, what was tapped, which foot goes first."""
import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import dataclass

from django.urls import reverse
from django.utils.formats import get_format
from django.utils.translation import gettext as _

from progress.queries.barre.news import results_of, stamp
from progress.queries.barre.out import Out, out_of
from progress.queries.resting import excused, left_out, measure_work, rest_words
from progress.queries.to_go import to_go_words
from progress.words.run import run_words
from screening.models import Measure, Protocol, Result, Screening
from studio.family.queries import consented
from studio.models import Consent, Student, User
from studio.queries import barre_names, barre_order, groups_of

# Reliable counts of heel rises use 30 rises a minute, which is 60 beats; used where a protocol names no pace.
USUAL_BEATS = 60
# Each builds on the ones before it.
SCRIPTS = tuple(f"js/run/{name}.js" for name in ("beat", "clock", "facts", "steps", "tiles", "page"))


@dataclass(frozen=True)
class RunChild:
    student: Student
    name: str


@dataclass(frozen=True)
class RunView:
    """The page of a run. `plan`: everything its script needs, as JSON."""

    measure: Measure
    protocol: Protocol
    groups: tuple[tuple[RunChild, ...], ...]
    beats: int | None
    first: str
    is_one: bool
    measures: tuple[Measure, ...]
    faults: tuple[tuple[str, str], ...]
    plan: str
    to_go: str
    out: dict
    scripts: tuple[str, ...] = SCRIPTS


def first_side(screening: Screening, measure: Measure) -> str:
    """The foot that goes first today: as begun, else the other one than in the class's last screening, else left."""
    if not measure.has_sides:
        return ""
    rows = Result.objects.filter(screening__class_group=screening.class_group_id, measure=measure, is_first_side=True)
    earlier = rows.filter(taken_on__lte=screening.held_on).order_by("-taken_on", "-pk")
    today, side = screening.pk, "R"
    for screening_id, began in earlier.values_list("screening_id", "side")[:1]:
        if screening_id == today:
            return began
        side = began
    return "L" if side == "R" else "R"


def run_view(
    screening: Screening,
    measure: Measure,
    students: Sequence[Student],
    *,
    by: User,
    is_one: bool = False,
    now: dt.datetime,
) -> RunView:
    """`students`: the day's students in the person's reach; each who is in the class that day stands in the order."""
    reach = {student.pk for student in students}
    order = barre_order(screening.class_group, screening.term, screening.held_on)
    here = [each.student for each in order if each.student_id in reach]
    names = barre_names(students)
    size = 1 if is_one else screening.class_group.group_size
    groups, at = [], 0
    for length in groups_of(len(here), size):
        groups.append(tuple(RunChild(student, names[student.pk]) for student in here[at:at + length]))
        at += length
    protocol = measure.protocols.order_by("-version").first()
    beats = (protocol.beats_per_minute or USUAL_BEATS) if measure.kind == Measure.COUNT else None
    first = first_side(screening, measure)
    out = out_of(screening.class_group, students, screening.held_on, now=now)
    plan = _plan(screening, measure, protocol, groups, by, out, now=now) | {
        "beats": beats, "one": is_one, "sides": [first, *(side for side in measure.sides if side != first)],
        "paths": _paths(screening, measure, is_one=is_one),
    }
    return RunView(
        measure=measure, protocol=protocol, groups=tuple(groups), beats=beats, first=first, is_one=is_one,
        measures=runnable(screening), faults=tuple((fault, _(fault)) for fault in protocol.faults),
        plan=json.dumps(plan), to_go=to_go_words(_left(plan, measure, out)), out=out.told,
    )


def _left(plan: dict, measure: Measure, out: Out) -> int:
    """How many of the children of a run are to go: asked, and neither a result nor a reason on some foot."""
    standing = [row for row in plan["rows"] if not row["superseded"] and row["reason_missing"] != Result.WITHDRAWN]
    there = {(row["student"], row["side"]) for row in standing}
    asked = [child["id"] for child in plan["children"] if not child["rests"] and child["id"] not in out.told["absent"]]
    return sum(any((pk, side) not in there for side in measure.sides) for pk in asked)


def runnable(screening: Screening) -> tuple[Measure, ...]:
    """The measures of the day that are counted or timed for a whole group."""
    entries = screening.battery.entries.select_related("measure") if screening.battery else ()
    return tuple(e.measure for e in entries if e.measure.is_runnable)


def _plan(
    screening: Screening, measure: Measure, protocol: Protocol, groups, by: User, out: Out, *, now: dt.datetime
) -> dict:
    children = [(number, child) for number, group in enumerate(groups, start=1) for child in group]
    off = left_out((c.student.pk for _n, c in children), now=now)
    noted = consented((c.student.pk for _n, c in children), Consent.PAIN, now)
    rests = {pk: rest_words(rest) for pk, rest in excused(off, measure).items()}
    words = run_words(measure)
    if children and len(rests) == len(children):
        words["nobody_left"] = _("Nobody to measure.")
    return {
        "person": by.pk, "protocol": protocol.version,
        "stamp": stamp(screening, measure, out), "work": measure_work(measure), "kind": measure.kind,
        "isOpen": screening.is_open,
        "attempts": measure.attempts, "cap": None if protocol.cap is None else float(protocol.cap),
        "most": float(measure.hard_high),
        "decimals": measure.decimals, "decimalSign": get_format("DECIMAL_SEPARATOR"),
        "faults": [[fault, _(fault)] for fault in protocol.faults], "words": words,
        "children": [
            {"id": child.student.pk, "name": child.name, "group": number, "rests": rests.get(child.student.pk, ""),
             "hasNotes": child.student.pk in noted}
            for number, child in children
        ],
        "rows": results_of(screening, measure, [child.student for _n, child in children], now=now),
    }


def _paths(screening: Screening, measure: Measure, *, is_one: bool) -> dict[str, str]:
    """Where each tap goes; the pain form's child is filled in by the page, in the place of 0."""
    here = [screening.pk, measure.key]
    way = "run&one" if is_one else "run"
    return {
        "run": reverse("progress:sheet", args=here), "record": reverse("progress:record-result", args=here),
        "missing": reverse("progress:record-missing", args=here), "news": reverse("progress:news", args=here),
        "takeBack": reverse("progress:take-back", args=here),
        "screening": reverse("progress:screening", args=[screening.pk]),
        "hurts": reverse("progress:report-pain", args=[screening.pk, 0]) + f"?measure={measure.key}&{way}",
    }
