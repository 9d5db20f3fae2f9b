"""What a roster file would change: rows compared with the students there are; knows no Django and no database."""
import datetime as dt
import hashlib
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from studio.roster_file import RosterRow
from studio.roster_guardians import Difference, GuardianChanges, KnownGuardian, compare_guardians
from studio.sheets import no_rows
from studio.sheets.likeness import may_be_same_name
from studio.sheets.rows import name_key as fold

FIELDS = ("called", "birth_on", "stage", "training_since_year", "classes_per_week", "dominant_foot")
# A person's answers to a row; "is-12" says which student it is.
LEAVE, TAKE, NEW, IS = "leave", "take", "new", "is-"
# Answers to a row, and to all such rows at once, whose student stands in another class of the term already.
MOVE, BOTH = "move", "both"


@dataclass(frozen=True)
class KnownStudent:
    """A student as the studio has them. `classes`: names of their classes of this term."""

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
class Choice:
    """One answer to what a row asks: its key, and the words of the answer."""

    key: str
    words: str


@dataclass(frozen=True)
class PlannedRow:
    """What would become of one row. `outcome` is "add", "change", "same", "ask", "leave" or "refuse".

    ask: a person must say who is meant, one of `choices`; nothing is written till then. leave: the line is no
    student, or a person took its tick away. guardians: those to write, new ones with pk 0. out_of: the classes of the
    term that the student leaves for this one. asks_class: the student stands in another class, and nobody has said yet
    whether they move.
    """

    number: int
    name: str
    outcome: str
    row: RosterRow
    class_name: str
    student_pk: int | None = None
    differences: tuple[Difference, ...] = ()
    reasons: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    choices: tuple[Choice, ...] = ()
    guardians: tuple[KnownGuardian, ...] = ()
    out_of: tuple[str, ...] = ()
    asks_class: bool = False

    @property
    def has_tick(self) -> bool:
        """False where a tick could change nothing."""
        return self.outcome in ("add", "change", "ask", "leave")


@dataclass(frozen=True)
class _Met:
    """Who a row means: a student, or a question with its choices, or a reason against the row; else somebody new."""

    student: KnownStudent | None = None
    question: str = ""
    choices: tuple[Choice, ...] = ()
    warning: str = ""


class _Studio:
    """Whom the studio has, and whom the file meets without a doubt."""

    def __init__(
        self, rows: Sequence[RosterRow], known: Iterable[KnownStudent], gettext: Callable[[str], str],
        write_day: Callable[[dt.date], str], second_class: str = "",
    ) -> None:
        self.known = tuple(known)
        self.gettext, self.write_day, self.second_class = gettext, write_day, second_class
        self.by_name: dict[str, list[KnownStudent]] = defaultdict(list)
        for student in self.known:
            self.by_name[fold(student.name)].append(student)
        self.certain: dict[int, set[int]] = defaultdict(set)
        for row in rows:
            for student in self.by_name[fold(row.name)] if row.birth_on and not row.no_row else ():
                if student.birth_on == row.birth_on:
                    self.certain[student.pk].add(row.number)

    def is_somebody_elses(self, student: KnownStudent, row: RosterRow) -> bool:
        """True where another row of the file has this student's very name and birth date."""
        return bool(self.certain[student.pk] - {row.number})


def plan_roster(
    rows: Sequence[RosterRow],
    known: Iterable[KnownStudent],
    *,
    class_name: str,
    class_names: Sequence[str],
    answers: Mapping[int, str] | None = None,
    second_class: str = "",
    gettext: Callable[[str], str] = str,
    write_day: Callable[[dt.date], str] = dt.date.isoformat,
) -> tuple[PlannedRow, ...]:
    """Every row's outcome, in the order of the file.

    A row meets a student by name and birth date; a row without birth date meets the only student of that name.
    Where a person could see it otherwise (another birth date, a name typed otherwise, twins) the row asks. Rows that
    would all meet one student are refused. An empty cell never erases what is known. A row naming a class of its own
    goes there. answers: row number to LEAVE, TAKE, NEW, MOVE, BOTH or IS with a student's key. second_class: MOVE or
    BOTH for every row whose student stands in another class of the term, "" where each of them asks.
    """
    studio = _Studio(rows, known, gettext, write_day, second_class)
    classes = {fold(name): name for name in class_names}
    told = answers or {}
    plan = [
        _plan_row(row, studio, told.get(row.number, ""), class_name=class_name, classes=classes) for row in rows
    ]
    met = Counter(planned.student_pk for planned in plan if planned.student_pk is not None)
    plan = [_refuse_shared(planned, gettext) if met[planned.student_pk] > 1 else planned for planned in plan]
    return tuple(_ask_within_file(plan, told, gettext))


def _refuse_shared(planned: PlannedRow, gettext: Callable[[str], str]) -> PlannedRow:
    reason = gettext("Several rows could be the one student of this name. Enter that birth date in the studio first.")
    return replace(
        planned, outcome="refuse", student_pk=None, differences=(), guardians=(), reasons=(reason,), choices=(),
        out_of=(), asks_class=False,
    )


def _plan_row(
    row: RosterRow, studio: _Studio, answer: str, *, class_name: str, classes: Mapping[str, str]
) -> PlannedRow:
    gettext = studio.gettext
    target = classes.get(fold(row.class_name), "") if row.class_name else class_name
    base = PlannedRow(row.number, row.name, "refuse", row, target, warnings=tuple(row.warnings))
    if answer == LEAVE:
        return replace(base, outcome="leave", reasons=(gettext("Left out by hand."),))
    if row.no_row and not answer:
        return _no_student(base, gettext)
    who, where = _who_and_where(answer)
    reasons = list(row.problems)
    if not target:
        reasons.append(
            gettext("No class is called “%(name)s”. Make it first, or leave the column “class” out.")
            % {"name": row.class_name}
        )
    if reasons:
        return replace(base, reasons=tuple(reasons))
    met = _meet(row, studio, who, target)
    if met.question:
        return replace(base, outcome="ask", reasons=(met.question,), choices=met.choices)
    changes = compare_guardians(row.guardians, met.student.guardians if met.student else (), gettext)
    warnings = (*base.warnings, *changes.warnings, *((met.warning,) if met.warning else ()))
    if met.student is None:
        return replace(base, outcome="add", warnings=warnings, guardians=changes.wanted)
    others = tuple(sorted(met.student.classes - {target})) if target not in met.student.classes else ()
    where = where or studio.second_class
    if others and not where:
        return _ask_class(base, met.student, others, who, studio)
    out_of = others if where == MOVE else ()
    differences = _differences(row, met.student, target, changes, studio, out_of)
    return replace(
        base, name=met.student.name, outcome="change" if differences else "same", student_pk=met.student.pk,
        differences=differences, warnings=warnings, guardians=changes.wanted, out_of=out_of,
    )


def _who_and_where(answer: str) -> tuple[str, str]:
    """An answer as who is meant and whether they move: "is-12", "move", or "is-12,move"."""
    if answer in (MOVE, BOTH):
        return "", answer
    who, _comma, where = answer.partition(",")
    return who, where if where in (MOVE, BOTH) else ""


def _ask_class(
    base: PlannedRow, student: KnownStudent, others: Sequence[str], who: str, studio: _Studio
) -> PlannedRow:
    """A student who would stand in two classes of the term: moved, or in both?"""
    gettext = studio.gettext
    words = {"others": ", ".join(others), "class": base.class_name}
    question = gettext("In %(others)s this term. Move to %(class)s, or stand in both?") % words
    before = f"{who}," if who.startswith(IS) else ""
    choices = (
        Choice(before + MOVE, gettext("move to %(class)s") % words), Choice(before + BOTH, gettext("in both")),
    )
    return replace(
        base, name=student.name, outcome="ask", student_pk=student.pk, reasons=(question,), choices=choices,
        asks_class=True,
    )


def _no_student(base: PlannedRow, gettext: Callable[[str], str]) -> PlannedRow:
    words = {
        no_rows.HEADING_AGAIN: gettext("The headings once more."),
        no_rows.TOTAL: gettext("A total, no student."),
        no_rows.NOTE: gettext("A remark below the list, no student."),
        no_rows.BAND: gettext("A heading above a group, no student."),
    }
    if base.row.no_row in words:
        return replace(base, outcome="leave", reasons=(words[base.row.no_row],), warnings=())
    choices = (Choice(TAKE, gettext("a student")), Choice(LEAVE, gettext("no student: leave out")))
    return replace(
        base, outcome="ask", choices=choices, warnings=(),
        reasons=(gettext("Only this one cell is filled. A student, or a heading above a group?"),),
    )


def _meet(row: RosterRow, studio: _Studio, answer: str, target: str) -> _Met:
    namesakes = studio.by_name[fold(row.name)]
    exact = [s for s in namesakes if row.birth_on is not None and s.birth_on == row.birth_on]
    if exact:
        return _Met(exact[0])
    if answer.startswith(IS):
        said = next((s for s in studio.known if f"{IS}{s.pk}" == answer), None)
        return _Met(said) if said else _Met()
    if answer == NEW:
        return _Met()
    if namesakes:
        return _meet_namesake(row, namesakes, studio)
    return _meet_alike(row, studio, target)


def _meet_namesake(row: RosterRow, namesakes: Sequence[KnownStudent], studio: _Studio) -> _Met:
    gettext = studio.gettext
    undated = [s for s in namesakes if s.birth_on is None]
    if row.birth_on is None and len(namesakes) == 1:
        return _Met(namesakes[0])
    if row.birth_on is not None and len(undated) == 1:
        return _Met(undated[0])
    if row.birth_on is None or undated:
        question = gettext("Several students have this name. Which of them is meant?")
        return _ask(question, row, undated if row.birth_on is not None else namesakes, studio)
    free = [s for s in namesakes if not studio.is_somebody_elses(s, row)]
    if not free:
        return _Met(warning=gettext("Another student of this name is in the studio. This one is new."))
    question = gettext("A student of this name has another birth date here. The same student?")
    if any(_is_turned(row.birth_on, s.birth_on) for s in free):
        question = gettext("A student of this name has this birth date with day and month turned round. The same one?")
    return _ask(question, row, free, studio)


def _meet_alike(row: RosterRow, studio: _Studio, target: str) -> _Met:
    """Somebody of a similar name: with the same birth date, or, where one has none, in the same class."""
    alike = [s for s in studio.known if _fits(row, s, target) and may_be_same_name(row.name, s.name)]
    free = [s for s in alike if not studio.is_somebody_elses(s, row)]
    if free:
        return _ask(studio.gettext("Somebody of a similar name is here already. The same student?"), row, free, studio)
    if alike:
        words = studio.gettext("Not the same as %(name)s, who stands in the file as well. This one is new.")
        return _Met(warning=words % {"name": alike[0].name})
    return _Met()


def _fits(row: RosterRow, student: KnownStudent, target: str) -> bool:
    if row.birth_on is None or student.birth_on is None:
        return target in student.classes
    return student.birth_on == row.birth_on or _is_turned(row.birth_on, student.birth_on)


def _ask(question: str, row: RosterRow, students: Sequence[KnownStudent], studio: _Studio) -> _Met:
    choices = [Choice(f"{IS}{s.pk}", _same_words(row, s, studio)) for s in students]
    return _Met(question=question, choices=(*choices, Choice(NEW, studio.gettext("another student"))))


def _same_words(row: RosterRow, student: KnownStudent, studio: _Studio) -> str:
    """ "Ama Owiredu, born 1 May 2014, Pre-pointe A: correct it to 3 May 2014"."""
    gettext, born, new = studio.gettext, student.birth_on, row.birth_on
    told = [student.name]
    told.append(gettext("born %(day)s") % {"day": studio.write_day(born)} if born else gettext("without a birth date"))
    words = ", ".join([*told, *sorted(student.classes)])
    if new is None or born == new:
        return words
    if born is None:
        return gettext("%(who)s: add %(day)s") % {"who": words, "day": studio.write_day(new)}
    return gettext("%(who)s: correct it to %(day)s") % {"who": words, "day": studio.write_day(new)}


def _is_turned(one: dt.date, other: dt.date) -> bool:
    return one != other and (one.year, one.month, one.day) == (other.year, other.day, other.month)


def _ask_within_file(
    plan: Sequence[PlannedRow], answers: Mapping[int, str], gettext: Callable[[str], str]
) -> Iterable[PlannedRow]:
    """New students of the file who may be one child typed twice, or twins: the later row asks."""
    new: dict[dt.date | None, list[PlannedRow]] = defaultdict(list)
    for planned in plan:
        if planned.outcome == "add" and answers.get(planned.number, "") not in (NEW, TAKE):
            alike = [other for day in _same_days(planned.row.birth_on) for other in new[day]]
            twin = next((other for other in alike if _may_be_twice(planned.row, other.row)), None)
            if twin is not None:
                question = gettext("Much like row %(row)s, %(name)s, who is new as well. Two students, or one twice?")
                planned = replace(
                    planned, outcome="ask", guardians=(), choices=(Choice(NEW, gettext("another student")),
                                                                   Choice(LEAVE, gettext("the same: leave out"))),
                    reasons=(question % {"row": twin.number, "name": twin.name},),
                )
        if planned.outcome == "add":
            new[planned.row.birth_on].append(planned)
        yield planned


def _same_days(born: dt.date | None) -> tuple[dt.date, ...]:
    """The day itself, and the one that it is with day and month turned round."""
    if born is None:
        return ()
    can_be_turned = born.day <= 12 and born.day != born.month
    return (born, born.replace(month=born.day, day=born.month)) if can_be_turned else (born,)


def _may_be_twice(row: RosterRow, other: RosterRow) -> bool:
    if row.birth_on is None or other.birth_on is None:
        return False
    if fold(row.name) == fold(other.name):
        return _is_turned(row.birth_on, other.birth_on)
    return row.birth_on == other.birth_on and may_be_same_name(row.name, other.name)


def _differences(
    row: RosterRow, student: KnownStudent, class_name: str, changes: GuardianChanges, studio: _Studio,
    out_of: Sequence[str],
) -> tuple[Difference, ...]:
    def written(value: object) -> str:
        return studio.write_day(value) if isinstance(value, dt.date) else "" if value is None else str(value)

    found = []
    for field in FIELDS:
        new, old = getattr(row, field), getattr(student, field)
        if new not in (None, "") and new != old:
            found.append(Difference(field, written(old), written(new)))
    found += changes.differences
    if class_name not in student.classes:
        found.append(Difference("class", ", ".join(out_of), class_name))
    return tuple(found)


def fingerprint(plan: Iterable[PlannedRow], *others: object) -> str:
    """A short mark of the whole plan, so that a confirmation is of the preview that was seen."""
    rows = (
        f"{p.number}|{p.outcome}|{p.student_pk}|{p.class_name}|{p.row}|{p.differences}|{p.guardians}" for p in plan
    )
    text = "\n".join((*rows, *map(str, others)))
    return hashlib.sha256(text.encode()).hexdigest()[:24]
