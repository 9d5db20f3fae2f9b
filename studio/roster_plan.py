"""What a roster file would change: rows compared with the students there are; knows no Django and no database."""
import datetime as dt
import hashlib
import unicodedata
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

from studio.roster_file import RosterRow

FIELDS = ("called", "birth_on", "stage", "training_since_year", "classes_per_week", "dominant_foot")


@dataclass(frozen=True)
class KnownGuardian:
    name: str
    email: str
    phone: str


@dataclass(frozen=True)
class KnownStudent:
    """A student as the studio has her. `classes`: names of the classes she is in this term."""

    pk: int
    name: str
    called: str
    birth_on: dt.date | None
    stage: str
    training_since_year: int | None
    classes_per_week: int | None
    dominant_foot: str
    guardians: tuple[KnownGuardian, ...] = ()
    classes: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Difference:
    """One field that would change. `field` is a name of FIELDS, "guardian" or "class"; texts are for people."""

    field: str
    before: str
    after: str


@dataclass(frozen=True)
class PlannedRow:
    """What would become of one row. `outcome` is "add", "change", "same" or "refuse"."""

    number: int
    name: str
    outcome: str
    row: RosterRow
    class_name: str
    student_pk: int | None = None
    differences: tuple[Difference, ...] = ()
    reasons: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


def fold(name: str) -> str:
    """A name for comparison: NFC, case folded, single spaces. Accents stay: Lucia is not Lucía."""
    return " ".join(unicodedata.normalize("NFC", name).casefold().split())


def plan_roster(
    rows: Sequence[RosterRow],
    known: Iterable[KnownStudent],
    *,
    class_name: str,
    class_names: Sequence[str],
    gettext: Callable[[str], str] = str,
) -> tuple[PlannedRow, ...]:
    """Every row's outcome, in the order of the file.

    A row meets a student by name and birth date; a row without birth date meets the only student of that
    name. Rows that would all meet one student are refused: whose she is, only a person can say. An empty cell
    never erases what is known. A row naming a class of its own goes there.
    """
    by_name: dict[str, list[KnownStudent]] = defaultdict(list)
    for student in known:
        by_name[fold(student.name)].append(student)
    classes = {fold(name): name for name in class_names}
    plan = [
        _plan_row(row, by_name[fold(row.name)], class_name=class_name, classes=classes, gettext=gettext) for row in rows
    ]
    met = Counter(planned.student_pk for planned in plan if planned.student_pk is not None)
    return tuple(_refuse_shared(planned, gettext) if met[planned.student_pk] > 1 else planned for planned in plan)


def _refuse_shared(planned: PlannedRow, gettext: Callable[[str], str]) -> PlannedRow:
    reason = gettext("Several rows could be the one student of this name. Enter that birth date in the studio first.")
    return replace(planned, outcome="refuse", student_pk=None, differences=(), reasons=(reason,))


def _plan_row(row, namesakes, *, class_name, classes, gettext) -> PlannedRow:
    reasons = list(row.problems)
    target = class_name
    if row.class_name:
        target = classes.get(fold(row.class_name), "")
        if not target:
            reasons.append(
                gettext("No class is called “%(name)s”. Make it first, or leave the column “class” out.")
                % {"name": row.class_name}
            )
    student, reason = _meet(row, namesakes, gettext)
    if reason:
        reasons.append(reason)
    warnings = tuple(row.warnings)
    if row.guardian_phone and not (row.guardian_name or row.guardian_email):
        warnings += (gettext("A phone number without a guardian’s name or e-mail is left out."),)
    if reasons:
        return PlannedRow(row.number, row.name, "refuse", row, target, reasons=tuple(reasons), warnings=warnings)
    if student is None:
        if namesakes:
            warnings += (gettext("Another student of this name is in the studio; this one is new."),)
        return PlannedRow(row.number, row.name, "add", row, target, warnings=warnings)
    differences = _differences(row, student, target)
    outcome = "change" if differences else "same"
    return PlannedRow(row.number, student.name, outcome, row, target, student.pk, differences, warnings=warnings)


def _meet(row, namesakes, gettext):
    if row.birth_on is None:
        if len(namesakes) > 1:
            return None, gettext("Several students have this name. A birth date is needed to tell them apart.")
        return (namesakes[0] if namesakes else None), ""
    same_day = [s for s in namesakes if s.birth_on == row.birth_on]
    if same_day:
        return same_day[0], ""
    undated = [s for s in namesakes if s.birth_on is None]
    if len(undated) > 1:
        return None, gettext("Several students have this name and no birth date. Enter theirs first.")
    return (undated[0] if undated else None), ""


def _differences(row: RosterRow, student: KnownStudent, class_name: str) -> tuple[Difference, ...]:
    found = []
    for field in FIELDS:
        new, old = getattr(row, field), getattr(student, field)
        if new not in (None, "") and new != old:
            found.append(Difference(field, "" if old is None else str(old), str(new)))
    guardian = known_guardian(row, student.guardians)
    if row.guardian_name and guardian is None:
        found.append(Difference("guardian", "", row.guardian_name))
    elif guardian is not None:
        for field, new in (("email", row.guardian_email), ("phone", row.guardian_phone)):
            if new and new != getattr(guardian, field):
                found.append(Difference("guardian", getattr(guardian, field), new))
    if class_name not in student.classes:
        found.append(Difference("class", "", class_name))
    return tuple(found)


def known_guardian(row: RosterRow, guardians: Iterable[KnownGuardian]) -> KnownGuardian | None:
    """The guardian the row means: the same name, else the same e-mail address."""
    guardians = tuple(guardians)
    for guardian in guardians:
        if row.guardian_name and fold(guardian.name) == fold(row.guardian_name):
            return guardian
    for guardian in guardians:
        if row.guardian_email and guardian.email.casefold() == row.guardian_email.casefold():
            return guardian
    return None


def digest(plan: Iterable[PlannedRow]) -> str:
    """A short mark of the whole plan, so that a confirmation is of the preview that was seen."""
    text = "\n".join(f"{p.number}|{p.outcome}|{p.student_pk}|{p.class_name}|{p.row}|{p.differences}" for p in plan)
    return hashlib.sha256(text.encode()).hexdigest()[:24]
