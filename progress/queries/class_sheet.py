"""Reads a class's sheet: students down, strands across, what is to be done next, what the whole class shares."""
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from progress.judging.line_record import read_line, read_stall
from progress.models import ClassStanding, Standing
from progress.queries.class_strips import Drawn, TermScores, rail
from progress.queries.look_first import MOST_NAMED, WANTS_A_LOOK, LookAt, look_first
from progress.queries.resting import from_rising, measure_work, rests
from progress.queries.to_go import to_go, to_go_words, who_is_left
from progress.rules.resting import Rest
from progress.words import verdict
from progress.words.speech import names_in_a_row, side_word, verdict_word, voice_for, write_level
from screening.models import Battery, Measure, Result, Screening
from screening.queries import battery_measures, judged_measures, open_screening_of, targets_by_stage
from screening.wording import write_value
from studio.family.queries import consented
from studio.models import ClassGroup, Consent, Student, Term
from studio.queries import barre_names, roster

# The marks that are explained under the table, where they stand in it.
LEGEND = ("gaining", "at_target", *WANTS_A_LOOK[::-1], "not_clear")


@dataclass(frozen=True)
class Cell:
    """One verdict: its key and word, the level as written; `had` of `needed` results while it is too early. While the
    student rests there is a word and no verdict: nothing is praised or judged.

    `strand` counts the columns' strands from 1; a cell without a verdict was not measured. count: the last count of
    the term, as it was counted; is_held: it waits to be confirmed.
    """

    strand: int
    side: str
    verdict: str = ""
    word: str = ""
    value: str = ""
    had: int = 0
    needed: int = 0
    count: str = ""
    is_held: bool = False

    @property
    def needs_look(self) -> bool:
        return self.verdict in WANTS_A_LOOK


@dataclass(frozen=True)
class RowStrand:
    """One measure of one student: its strip and a cell for each side."""

    measure: Measure
    drawn: Drawn
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class Row:
    """still: what is still to measure, or that the student rests; next: the one thing to do, the most urgent, whose
    kind is `wants` ("pain", "look", "check", "measure" or ""); is_first: named above the table; is_withheld: nobody
    agreed to measurements, so that an empty cell is no "none yet"."""

    student: Student
    strands: tuple[RowStrand, ...]
    still: str
    rest: Rest | None
    measure_again: str
    next: str
    wants: str
    is_first: bool
    is_withheld: bool = False

    @property
    def cells(self) -> tuple[Cell, ...]:
        return tuple(cell for strand in self.strands for cell in strand.cells)


@dataclass(frozen=True)
class Strand:
    """A judged measure as a column, with one head for each side and the rail of the term over the strips."""

    measure: Measure
    sides: tuple[str, ...]
    unit: str
    rail: Drawn


@dataclass(frozen=True)
class Check:
    """A count that waits to be confirmed: whose, in words which foot, how many and when, and the count in short."""

    student: Student
    name: str
    words: str
    short: str
    link: str


@dataclass(frozen=True)
class ClassSheet:
    strands: tuple[Strand, ...]
    rows: tuple[Row, ...]
    first: tuple[LookAt, ...]
    questions: tuple[str, ...]
    again: tuple[tuple[str, str], ...]
    checks: tuple[Check, ...]
    as_of: dt.date | None
    screening: Screening | None
    left_words: str
    shown: Measure | None
    withheld: int

    @property
    def named(self) -> tuple[LookAt, ...]:
        return self.first[:MOST_NAMED]

    @property
    def unnamed(self) -> tuple[LookAt, ...]:
        return self.first[MOST_NAMED:]

    @property
    def legend(self) -> list[tuple[str, str]]:
        """The marks that stand in the table, each with its word."""
        there = {cell.verdict for row in self.rows for cell in row.cells}
        return [(key, verdict_word(key)) for key in LEGEND if key in there]

    @property
    def says_nothing(self) -> bool:
        """True where nothing stands out and everybody was measured."""
        return not (self.first or self.again or self.checks or self.questions or any(row.still for row in self.rows))


def class_sheet(
    class_group: ClassGroup, term: Term | None, *, today: dt.date, only_measure: str = "", now: dt.datetime
) -> ClassSheet:
    """The sheet of a class, in a fixed number of queries. `only_measure`: the key of the one strand wanted."""
    return _Sheet(class_group, term, today, now=now).made(only_measure)


class _Sheet:
    """What every row is made of, read once."""

    def __init__(self, class_group: ClassGroup, term: Term | None, today: dt.date, *, now: dt.datetime):
        self.class_group, self.term, self.today = class_group, term, today
        self.students = [enrolment.student for enrolment in roster(class_group, term, today)]
        self.names = barre_names(self.students)
        ids = [s.pk for s in self.students]
        self.agreed = consented(ids, Consent.MEASUREMENTS, now)
        self.standings = {
            (s.student_id, s.measure_id, s.side): s for s in Standing.objects.filter(student__in=self.agreed)
        }
        self.lines = {key: read_line(row.line) for key, row in self.standings.items()}
        self.open = open_screening_of(class_group)
        latest = class_group.screenings.filter(is_imported=False).select_related("battery")
        screening = self.open or latest.first()
        # A class that was never measured lacks everything that the page for opening a screening would ask for.
        battery = screening.battery if screening is not None else Battery.objects.first()
        self.asked = battery_measures(battery) if battery is not None else []
        self.measures = self._strand_measures()
        self.resting = rests(ids, now=now)
        self.away = from_rising(self.resting)
        self.seen = self._seen()
        self.targets = targets_by_stage()
        told = consented(ids, Consent.PAIN, now)
        here = [student for student in self.students if student.pk in self.agreed]
        self.scores = TermScores(here, self.measures, term, told)
        self.first = look_first(self.students, self.standings, self.measures, self.resting, now=now)
        self.checks = self._checks()
        self.now = now

    def _left_words(self) -> str:
        """How many of the class have something left in the open screening."""
        if self.open is None:
            return ""
        here = [student for student in self.students if student.pk in self.agreed]
        left = to_go([self.open], {self.class_group.pk: here}, self.resting, now=self.now)
        return to_go_words(len(who_is_left(left[self.open.pk])))

    def made(self, only_measure: str) -> ClassSheet:
        shown = next((m for m in self.measures if m.key == only_measure), None)
        columns = [m for m in self.measures if shown is None or m == shown]
        standing = ClassStanding.objects.filter(class_group=self.class_group).first()
        stalls = [read_stall(stall) for stall in standing.stalls] if standing else []
        names = {m.key: str(m) for m in self.measures}
        rails = Drawn(*(rail(self.term, self.today, size=size) for size in ("small", "large")))
        return ClassSheet(
            strands=tuple(Strand(measure, measure.sides, _(measure.unit), rails) for measure in columns),
            rows=tuple(
                self._row(s, columns) if s.pk in self.agreed else self._blank_row(s, columns) for s in self.students
            ),
            first=self.first,
            questions=tuple(verdict.class_question(stall, voice=voice_for(self.term), names=names) for stall in stalls),
            again=self._again(),
            checks=self.checks,
            as_of=standing.as_of if standing else None,
            screening=self.open,
            left_words=self._left_words(),
            shown=shown,
            withheld=len(self.students) - len(self.agreed),
        )

    def _strand_measures(self) -> list[Measure]:
        wanted = {measure.pk for measure in self.asked} | {measure_id for _s, measure_id, _side in self.standings}
        return [measure for measure in judged_measures() if measure.pk in wanted]

    def _seen(self) -> set[tuple[int, int, str]]:
        """(student, measure, side) with a value or a reason, in the open screening, else in the term."""
        rows = Result.objects.in_force().filter(student__in=self.students)
        rows = rows.exclude(reason_missing=Result.WITHDRAWN)
        if self.open is not None:
            rows = rows.filter(screening=self.open)
        elif self.term is not None:
            rows = rows.filter(taken_on__gte=self.term.starts_on, taken_on__lte=self.term.ends_on)
        return set(rows.values_list("student_id", "measure_id", "side"))

    def _row(self, student: Student, columns: Sequence[Measure]) -> Row:
        rest = self.resting.get(student.pk)
        strands = tuple(self._strand(at, student, measure, rest) for at, measure in enumerate(columns, start=1))
        is_away = student.pk in self.away
        again = [] if is_away else list(dict.fromkeys(
            measure.short_name for measure in columns for side in measure.sides
            if (student.pk, measure.pk, side) in self.seen
            and (row := self.standings.get((student.pk, measure.pk, side))) is not None and row.measure_again
        ))
        still = [m.short_name for m in self.asked if any((student.pk, m.pk, side) not in self.seen for side in m.sides)]
        words = rest.words if is_away else _still_words(still, self.asked)
        named = ", ".join(_(name) for name in again)
        todo, wants = self._next(student, rest, words, named)
        return Row(student, strands, words, rest, named, todo, wants, self._is_first(student))

    def _is_first(self, student: Student) -> bool:
        return any(each.student == student for each in self.first)

    def _next(self, student: Student, rest: Rest | None, still: str, again: str) -> tuple[str, str]:
        look = next((each for each in self.first if each.student == student), None)
        if look is not None and look.is_pain or rest is not None:
            return (rest.words if rest is not None else look.reason), "pain" if rest is None or rest.is_pain else "rest"
        if look is not None:
            return look.reason, "look"
        check = next((each for each in self.checks if each.student == student), None)
        if check is not None:
            return _("check %(what)s") % {"what": check.short}, "check"
        if again:
            return _("%(measures)s once more") % {"measures": again}, "measure"
        return (_("measure %(what)s") % {"what": still}, "measure") if still else ("", "")

    def _blank_row(self, student: Student, columns: Sequence[Measure]) -> Row:
        """Nobody agreed to measurements: nothing is shown and nothing is asked."""
        strands = tuple(
            RowStrand(measure, Drawn(), tuple(Cell(at, side) for side in measure.sides))
            for at, measure in enumerate(columns, start=1)
        )
        rest = self.resting.get(student.pk)
        return Row(student, strands, _("no consent"), rest, "", _("no consent"), "", self._is_first(student), True)

    def _strand(self, at: int, student: Student, measure: Measure, rest: Rest | None) -> RowStrand:
        is_off = rest is not None and rest.forbids(measure_work(measure))
        lines = {
            side: self.lines[student.pk, measure.pk, side] for side in measure.sides
            if (student.pk, measure.pk, side) in self.lines
        }
        target = self.targets.get((measure.pk, student.stage_id))
        drawn = self.scores.strip(student, measure, lines, target, is_off=is_off)
        return RowStrand(measure, drawn, tuple(
            self._cell(at, student, measure, side, lines.get(side), is_off) for side in measure.sides
        ))

    def _cell(self, at: int, student: Student, measure: Measure, side: str, line, is_off: bool) -> Cell:
        if line is None:
            return Cell(at, side)
        last = self.scores.last(student, measure, side)
        shown = {
            "count": "" if last is None else self.scores.written(last, measure),
            "is_held": last is not None and last.result_id in line.held_back,
            "value": "" if line.verdict == "too_early" else write_level(line.level, measure),
        }
        if is_off:
            return Cell(strand=at, side=side, word=_("rests"), **shown)
        return Cell(
            strand=at, side=side, verdict=line.verdict, word=verdict_word(line.verdict),
            had=line.results_in_protocol, needed=line.results_in_protocol + line.results_missing, **shown,
        )

    def _checks(self) -> tuple[Check, ...]:
        """Counts that are held back until somebody confirms or corrects them, with whose they are."""
        keys = {key for line in self.lines.values() for key in line.held_back}
        rows = Result.objects.filter(pk__in=keys).select_related("measure", "protocol", "student") if keys else ()
        shown = {measure.pk for measure in self.measures}
        return tuple(
            Check(row.student, self.names[row.student_id], _held_words(row, voice_for(self.term)),
                  f"{write_value(row.value, row.measure, row.protocol)} {side_word(row.side)}".strip(),
                  reverse("progress:student", args=[row.student_id]) + f"#strand-{row.measure.key}")
            for row in sorted(rows, key=lambda row: (row.taken_on, row.pk))
            if row.student_id in self.names and row.measure_id in shown
        )

    def _again(self) -> tuple[tuple[str, str], ...]:
        """(names, measure) of whom to measure again this week."""
        found = []
        for measure in self.measures:
            names = [
                self.names[student.pk] for student in self.students if student.pk not in self.away
                and any(row.measure_again for key, row in self.standings.items() if key[:2] == (student.pk, measure.pk))
            ]
            if names:
                found.append((names_in_a_row(names), _(measure.short_name)))
        return tuple(found)


def _held_words(row: Result, voice) -> str:
    """ "right foot, 61 rises on 23 November. A slip?" """
    foot = {"L": _("left foot"), "R": _("right foot")}.get(row.side, "")
    told = _("%(value)s, %(measure)s, on %(day)s. A slip?") % {
        "value": write_value(row.value, row.measure, row.protocol), "measure": _(row.measure.short_name),
        "day": voice.day(row.taken_on),
    }
    return ", ".join(word for word in (foot, told) if word)


def _still_words(still: list[str], asked: list[Measure]) -> str:
    """A few by name; more than three by number, so that a first screening does not fill the sheet with words."""
    if len(still) == len(asked) > 1:
        return {2: _("both"), 3: _("all three")}.get(len(still), _("all %(n)s") % {"n": len(still)})
    if len(still) > 3:
        return _("%(n)s of %(all)s") % {"n": len(still), "all": len(asked)}
    return ", ".join(_(name) for name in still)
