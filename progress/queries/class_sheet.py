"""Reads a class's sheet: students down, strands across, what is still to measure, what the whole class shares."""
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone
from django.utils.translation import gettext as _

from progress.judging.line_record import read_line, read_stall
from progress.models import ClassStanding, Standing
from progress.queries.look_first import MOST_NAMED, LookAt, look_first
from progress.queries.resting import from_rising, measure_work, rests
from progress.rules.resting import Rest
from progress.words import verdict
from progress.words.speech import names_in_a_row, verdict_word, voice_for, write_level
from screening.models import Measure, Result, Screening
from screening.queries import battery_measures, current_protocols, judged_measures, open_screening_of
from screening.wording import write_result
from studio.family.queries import consented
from studio.models import ClassGroup, Consent, Student, Term
from studio.queries import barre_names, roster


@dataclass(frozen=True)
class Cell:
    """One verdict: its key and word, the level as written; `had` of `needed` results while it is too early. While the
    student rests there is a word and no verdict: nothing is praised or judged.

    `strand` counts the columns' strands from 1; a cell without a verdict was not measured.
    """

    strand: int
    side: str
    verdict: str = ""
    word: str = ""
    value: str = ""
    had: int = 0
    needed: int = 0


@dataclass(frozen=True)
class Row:
    student: Student
    cells: tuple[Cell, ...]
    still: str
    rest: Rest | None
    measure_again: str


@dataclass(frozen=True)
class Strand:
    """A judged measure as a column, with one head for each side."""

    measure: Measure
    sides: tuple[str, ...]
    unit: str
    scale_words: str


@dataclass(frozen=True)
class ClassSheet:
    strands: tuple[Strand, ...]
    rows: tuple[Row, ...]
    first: tuple[LookAt, ...]
    questions: tuple[str, ...]
    again: str
    waiting: str
    as_of: dt.date | None
    screening: Screening | None
    shown: Measure | None
    withheld: int

    @property
    def named(self) -> tuple[LookAt, ...]:
        return self.first[:MOST_NAMED]

    @property
    def unnamed(self) -> tuple[LookAt, ...]:
        return self.first[MOST_NAMED:]


def class_sheet(
    class_group: ClassGroup, term: Term | None, *, today: dt.date, only_measure: str = ""
) -> ClassSheet:
    """The sheet of a class, in a fixed number of queries. `only_measure`: the key of the one strand wanted."""
    students = [enrolment.student for enrolment in roster(class_group, term, today)]
    agreed = consented([s.pk for s in students], Consent.MEASUREMENTS, timezone.now())
    standings = {
        (s.student_id, s.measure_id, s.side): s for s in Standing.objects.filter(student__in=agreed)
    }
    open_screening = open_screening_of(class_group)
    screening = open_screening or class_group.screenings.filter(is_imported=False).select_related("battery").first()
    asked = battery_measures(screening.battery) if screening is not None else []
    measures = _strand_measures(asked, standings)
    shown = next((m for m in measures if m.key == only_measure), None)
    resting = rests([s.pk for s in students])
    away = from_rising(resting)
    seen = _seen(students, term, open_screening)
    voice = voice_for(term)
    standing = ClassStanding.objects.filter(class_group=class_group).first()
    names = {m.key: str(m) for m in measures}
    stalls = [read_stall(stall) for stall in standing.stalls] if standing else []
    columns = [m for m in measures if shown is None or m == shown]
    return ClassSheet(
        strands=_strands(columns),
        rows=tuple(
            _row(s, columns, asked, standings, resting.get(s.pk), seen, is_away=s.pk in away)
            if s.pk in agreed else _blank_row(s, columns, resting.get(s.pk)) for s in students
        ),
        first=look_first(students, standings, measures, resting),
        questions=tuple(verdict.class_question(stall, voice=voice, names=names) for stall in stalls),
        again=_again_words(students, standings, {m.pk: m for m in measures}, away),
        waiting=_waiting_words(students, standings, {m.pk: m for m in measures}),
        as_of=standing.as_of if standing else None,
        screening=open_screening,
        shown=shown,
        withheld=len(students) - len(agreed),
    )


def _strand_measures(asked: Sequence[Measure], standings) -> list[Measure]:
    wanted = {measure.pk for measure in asked} | {measure_id for _s, measure_id, _side in standings}
    return [measure for measure in judged_measures() if measure.pk in wanted]


def _strands(measures: Sequence[Measure]) -> tuple[Strand, ...]:
    protocols = current_protocols() if any(m.kind == Measure.GRADE for m in measures) else {}
    made = []
    for measure in measures:
        scale = ""
        grades = protocols[measure.pk].grades if measure.pk in protocols else []
        if measure.kind == Measure.GRADE and grades:
            scale = _("0 %(lowest)s, %(top)s %(highest)s") % {
                "lowest": _(grades[0][0]), "top": len(grades) - 1, "highest": _(grades[-1][0]),
            }
        made.append(Strand(measure, measure.sides, _(measure.unit), scale))
    return tuple(made)


def _seen(students, term: Term | None, screening: Screening | None) -> set[tuple[int, int, str]]:
    """(student, measure, side) with a value or a reason, in the open screening, else in the term."""
    rows = Result.objects.standing().filter(student__in=students).exclude(reason_missing=Result.WITHDRAWN)
    if screening is not None:
        rows = rows.filter(screening=screening)
    elif term is not None:
        rows = rows.filter(taken_on__gte=term.starts_on, taken_on__lte=term.ends_on)
    return set(rows.values_list("student_id", "measure_id", "side"))


def _row(student: Student, columns, asked, standings, rest: Rest | None, seen, *, is_away: bool) -> Row:
    cells = []
    again = []
    for strand, measure in enumerate(columns, start=1):
        for side in measure.sides:
            standing = standings.get((student.pk, measure.pk, side))
            is_off = rest is not None and rest.forbids(measure_work(measure))
            cells.append(_cell(standing, measure, strand, is_off) if standing else Cell(strand, side))
            if standing is not None and standing.measure_again and (student.pk, measure.pk, side) in seen:
                again.append(measure.short_name)
    again = [] if is_away else list(dict.fromkeys(again))
    still = [m.short_name for m in asked if any((student.pk, m.pk, side) not in seen for side in m.sides)]
    words = _still_words(still, asked)
    if is_away:
        words = rest.words
    return Row(student, tuple(cells), words, rest, ", ".join(_(name) for name in again))


def _still_words(still: list[str], asked: list[Measure]) -> str:
    """A few by name; more than three by number, so that a first screening does not fill the sheet with words."""
    if len(still) == len(asked) > 1:
        return {2: _("both"), 3: _("all three")}.get(len(still), _("all %(n)s") % {"n": len(still)})
    if len(still) > 3:
        return _("%(n)s of %(all)s") % {"n": len(still), "all": len(asked)}
    return ", ".join(_(name) for name in still)


def _blank_row(student: Student, columns, rest: Rest | None) -> Row:
    """Nobody agreed to measurements: nothing is shown and nothing is asked."""
    cells = tuple(Cell(strand, side) for strand, measure in enumerate(columns, start=1) for side in measure.sides)
    return Row(student, cells, _("no consent"), rest, "")


def _cell(standing: Standing, measure: Measure, strand: int, is_off: bool) -> Cell:
    line = read_line(standing.line)
    if is_off:
        value = "" if line.verdict == "too_early" else write_level(line.level, measure)
        return Cell(strand=strand, side=standing.side, word=_("rests"), value=value)
    return Cell(
        strand=strand, side=standing.side, verdict=line.verdict, word=verdict_word(line.verdict),
        value="" if line.verdict == "too_early" else write_level(line.level, measure),
        had=line.results_in_protocol, needed=line.results_in_protocol + line.results_missing,
    )


def _waiting_words(students, standings, measures: dict[int, Measure]) -> str:
    """Values that are held back until somebody confirms or corrects them, with whose they are."""
    keys = {key for row in standings.values() for key in row.line["held_back"]}
    if not keys:
        return ""
    names = barre_names(students)
    held = [
        f"{names[row.student_id]} ({write_result(row)}, {_(row.measure.short_name)})"
        for row in Result.objects.filter(pk__in=keys).select_related("measure", "protocol").order_by("taken_on", "pk")
        if row.student_id in names and row.measure_id in measures
    ]
    return _("Waiting to be confirmed or corrected: %(names)s.") % {"names": names_in_a_row(held)} if held else ""


def _again_words(students, standings, measures: dict[int, Measure], away: set[int]) -> str:
    called = barre_names(students)
    asked = []
    for measure in measures.values():
        names = [
            called[student.pk] for student in students
            if student.pk not in away
            and any(standings[key].measure_again for key in standings if key[:2] == (student.pk, measure.pk))
        ]
        if names:
            asked.append(_("%(measure)s of %(names)s") % {
                "measure": _(measure.short_name), "names": names_in_a_row(names),
            })
    if not asked:
        return ""
    return _("Measure again this week: %(what)s. Two more results, on another day, may settle it.") % {
        "what": "; ".join(asked)
    }
