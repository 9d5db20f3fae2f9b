"""Reads the log of one class: names and today's entries only, as the barre shows them."""
import datetime as dt
from dataclasses import dataclass

from django.db.models import Count, Max
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from progress.models import Attendance, ClassLog, Exercise, ExerciseVersion, LogEntry
from progress.queries.barre.out import Out
from progress.queries.barre.taps import told_tap
from progress.queries.classwork.exercises import dose_words, versions_by_exercise
from progress.queries.classwork.programme import Planned, planned_exercises
from progress.queries.resting import left_out
from progress.rules.dose import Dose, Practice, write_practice
from progress.rules.resting import Rest
from progress.words.speech import voice_for
from studio.family.queries import consented
from studio.models import ClassGroup, Consent, Student, Term, User
from studio.queries import barre_names

# What a tile says of a student in one exercise.
OPEN, DONE, ABSENT, RESTING, WITHOUT = "open", "done", "absent", "resting", "without"


@dataclass(frozen=True)
class Tile:
    """One student in one exercise; `practice` is what stands, or what would stand for the exercise as planned."""

    student: Student
    name: str
    state: str
    written: str
    practice: Practice
    planned: Dose
    own_dose: str = ""

    @property
    def is_as_planned(self) -> bool:
        return self.state == DONE and self.practice == Practice(self.planned)

    @property
    def faults_joined(self) -> str:
        return "|".join(self.practice.faults)


@dataclass(frozen=True)
class ExerciseLog:
    """One exercise of the class with a tile for each student. `count_words`: what is written once it is logged."""

    version: ExerciseVersion
    dose: str
    note: str
    tiles: tuple[Tile, ...]
    count_words: str

    @property
    def key(self) -> str:
        return self.version.exercise.key

    @property
    def is_begun(self) -> bool:
        return any(tile.state == DONE for tile in self.tiles)

    @property
    def open_ids(self) -> list[int]:
        return [tile.student.pk for tile in self.tiles if tile.state == OPEN]

    @property
    def dose_choices(self) -> list[tuple[str, str]]:
        """(change, words) of the doses to tap: sets up to one more than planned, and half of each set."""
        most = max((tile.planned for tile in self.tiles), default=Dose(1, 1), key=lambda dose: dose.sets)
        made = [(f"sets:{n}", ngettext("%(n)s set", "%(n)s sets", n) % {"n": n}) for n in range(1, most.sets + 2)]
        if most.reps >= 4:
            made.append((f"reps:{most.reps // 2}", _("%(n)s in a set") % {"n": most.reps // 2}))
        if most.hold_seconds and most.hold_seconds >= 4:
            made.append((f"seconds:{most.hold_seconds // 2}", _("%(n)s seconds") % {"n": most.hold_seconds // 2}))
        return made


@dataclass(frozen=True)
class Came:
    student: Student
    name: str
    is_present: bool | None


@dataclass(frozen=True)
class LogView:
    exercises: tuple[ExerciseLog, ...]
    came: tuple[Came, ...]
    came_words: str
    undo: str
    undo_words: str

    @property
    def unstated(self) -> list[int]:
        return [each.student.pk for each in self.came if each.is_present is None]


def log_view(
    class_group: ClassGroup, term: Term | None, held_on: dt.date, students: list[Student], *, by: User, now: dt.datetime
) -> LogView:
    """The whole log of one class and day, in a fixed number of queries."""
    names, versions = barre_names(students), versions_by_exercise()
    log = ClassLog.objects.filter(class_group=class_group, held_on=held_on).first()
    attended = {row.student_id: row for row in log.attendance.in_force()} if log else {}
    agreed = consented([s.pk for s in students], Consent.MEASUREMENTS, now)
    rows = list(log.entries.saying().filter(student__in=agreed).select_related("version")) if log else []
    entries = {(row.student_id, row.exercise_id): row for row in rows if not row.is_withdrawn}
    planned = planned_exercises(class_group, term, students, versions)
    known = {each.version.exercise_id for each in planned}
    # What was logged and has left the programme since stays on its day.
    logged = dict.fromkeys(row.exercise_id for row in entries.values() if row.exercise_id not in known)
    planned += [Planned(versions[pk], None, {}) for pk in logged]
    resting = left_out((s.pk for s in students), now=now)
    absent = {pk for pk, row in attended.items() if row.is_present is False}
    exercises = tuple(_exercise(each, students, names, entries, resting, absent) for each in planned)
    came = tuple(
        Came(s, names[s.pk], attended[s.pk].is_present if s.pk in attended else None) for s in students
    )
    undo, undo_words = _undo(log, names, versions, by)
    return LogView(exercises, came, came_words(came), undo, undo_words)


def _exercise(planned: Planned, students, names, entries, resting: dict[int, Rest], absent: set[int]) -> ExerciseLog:
    version = planned.version
    tiles = []
    for student in students:
        row, entry = entries.get((student.pk, version.exercise_id)), planned.entry_of(student.pk)
        dose = row.planned if row else entry.dose if entry else version.dose
        state, written = _state(row, entry, student.pk in absent, _rest_words(version, resting.get(student.pk)))
        own = dose_words(dose, version) if planned.entry and entry and entry.dose != planned.entry.dose else ""
        tiles.append(
            Tile(student, names[student.pk], state, written, row.practice if row else Practice(dose), dose, own)
        )
    entry = planned.entry
    return ExerciseLog(
        version, dose_words(entry.dose, version) if entry else _("only for some"), entry.note if entry else "",
        tuple(tiles), count_words(tiles),
    )


def _rest_words(version: ExerciseVersion, rest: Rest | None) -> str:
    """Children see the tiles: a rest is a rest, and of everything else nobody is told why."""
    if not version.is_rested_from(rest):
        return ""
    return _("rests") if rest.is_told else rest.words


def _state(row: LogEntry | None, entry, is_absent: bool, rest: str) -> tuple[str, str]:
    if is_absent:
        return ABSENT, _("absent")
    if row is not None:
        return DONE, entry_words(row)
    if rest:
        return RESTING, rest
    if entry is None:
        return WITHOUT, _("without")
    return OPEN, ""


def entry_words(row: LogEntry) -> str:
    faults = {fault: _(fault) for fault in row.faults}
    return write_practice(row.practice, row.planned, faults=faults, voice=voice_for(None))


def day_words(rows: list[LogEntry]) -> str:
    """What one student did in one class: "3 exercises as planned; Short foot: left out"."""
    differ = [row for row in rows if row.practice != Practice(row.planned)]
    words = [f"{row.version}: {entry_words(row)}" for row in differ]
    if len(rows) > len(differ):
        n = len(rows) - len(differ)
        words.insert(0, ngettext("%(n)s exercise as planned", "%(n)s exercises as planned", n) % {"n": n})
    return "; ".join(words) or _("came, nothing logged")


def count_words(tiles: list[Tile]) -> str:
    """ "14 as planned, 2 differ"."""
    as_planned = sum(tile.is_as_planned for tile in tiles)
    differ = sum(tile.state == DONE for tile in tiles) - as_planned
    words = [_("%(n)s as planned") % {"n": as_planned}]
    if differ:
        words.append(ngettext("%(n)s differs", "%(n)s differ", differ) % {"n": differ})
    return ", ".join(words)


def came_words(came: tuple[Came, ...]) -> str:
    here, absent = (sum(each.is_present is state for each in came) for state in (True, False))
    if not here:
        return ""
    return _("%(here)s here, %(absent)s absent") % {"here": here, "absent": absent}


def _undo(log: ClassLog | None, names: dict[int, str], versions, by: User) -> tuple[str, str]:
    """(key, words) of this person's latest tap whose words stand."""
    if log is None:
        return "", ""
    found = [rows.last_of(by) for rows in (log.entries.all(), log.attendance.all())]
    last = max((row for row in found if row is not None), key=lambda row: row.received_at, default=None)
    if last is None:
        return "", ""
    if isinstance(last, Attendance):
        words = _("%(name)s absent") % {"name": names.get(last.student_id, "")}
        return str(last.key), words if last.is_present is False else _("who is here")
    name = _("all") if last.change == "as_planned" else names.get(last.student_id, "")
    return str(last.key), f"{versions[last.exercise_id]}, {name}"


def stamp(class_group: ClassGroup, held_on: dt.date, out: Out) -> str:
    """Changes with every tap in the log of this day, in whatever order the taps are committed, and with who is out."""
    counts = [out.stamp]
    for model in (LogEntry, Attendance):
        rows = model.objects.filter(log__class_group=class_group, log__held_on=held_on)
        seen = rows.aggregate(rows=Count("pk"), last=Max("pk"))
        counts += [seen["rows"], seen["last"] or 0]
    return "-".join(str(count) for count in counts)


def told_tiles(view: LogView) -> list[dict]:
    """Every tile as it stands, for the other tablets."""
    came = {None: {"state": "", "written": ""}, True: {"state": "here", "written": _("here")},
            False: {"state": ABSENT, "written": _("absent")}}
    rows = [{"exercise": "", "student": each.student.pk, **came[each.is_present]} for each in view.came]
    return rows + [
        {
            "exercise": each.key, "student": tile.student.pk, "state": tile.state,
            "written": tile.written or tile.own_dose, "sets": str(tile.practice.dose.sets),
            "reps": str(tile.practice.dose.reps), "seconds": str(tile.practice.dose.hold_seconds or ""),
            "control": tile.practice.control, "faults": tile.faults_joined,
        }
        for each in view.exercises for tile in each.tiles
    ]


def told(rows: list[LogEntry]) -> list[dict]:
    """Entries as a tablet reads them."""
    return [
        told_tap(row) | {
            "student": row.student_id, "exercise": row.exercise.key, "is_withdrawn": row.is_withdrawn,
            "written": "" if row.is_withdrawn else entry_words(row), "control": row.control, "faults": row.faults,
            "sets": row.sets, "reps": row.reps, "seconds": row.hold_seconds,
        }
        for row in rows
    ]


def told_resting(exercise: Exercise, students: list[Student], *, now: dt.datetime) -> list[dict]:
    """Those of them who leave this exercise out now, as their tiles say it."""
    version = exercise.versions.order_by("-version").first()
    found = left_out([student.pk for student in students], now=now)
    words = {student.pk: _rest_words(version, found.get(student.pk)) for student in students}
    return [{"student": pk, "written": written} for pk, written in words.items() if written]


def told_attendance(rows: list[Attendance]) -> list[dict]:
    return [told_tap(row) | {"student": row.student_id, "is_present": row.is_present} for row in rows]
