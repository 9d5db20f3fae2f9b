"""Reads what the barre shows: names and today's entries only, no verdict, no target, no history."""
import datetime as dt
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from progress.models import Standing
from progress.queries.barre.out import out_of
from progress.queries.barre.sheet_words import left_words, sheet_words
from progress.queries.resting import excused, from_rising, left_out, rest_words
from progress.queries.to_go import to_go, to_go_words
from progress.rules.resting import Rest
from progress.words.speech import names_in_a_row, side_word
from screening import queries as screening_queries
from screening.forms import ResultForm, new_key
from screening.models import Measure, Protocol, Result, Screening
from screening.wording import write_value
from studio.models import Student, User
from studio.queries import barre_names
from studio.templatetags.wording import write_number


@dataclass(frozen=True)
class MeasureRow:
    measure: Measure
    protocol: Protocol
    is_asked: bool
    left_words: str


@dataclass(frozen=True)
class MeasuringDay:
    """The screening's page. `missing`: (student, names of measures) of everyone with something left.

    `twins`: whose name is another one's, too; `not_asked`: whom the sheets leave out without saying why;
    `asks_anybody`: somebody has something to do, or did.
    """

    rows: tuple[MeasureRow, ...]
    missing: tuple[tuple[Student, str], ...]
    students: int
    resting: tuple[str, ...]
    not_asked: tuple[str, ...]
    again: str
    late_words: str = ""
    twins: frozenset[int] = frozenset()
    names: tuple[tuple[int, str], ...] = ()

    @property
    def asks_anybody(self) -> bool:
        return any(row.is_asked for row in self.rows)


def _row_words(lacking: int, *, is_asked: bool, is_open: bool) -> str:
    """Who is to go in one measure of an open screening, who was not measured in a closed one."""
    if not is_asked:
        return _("nobody to measure")
    return to_go_words(lacking) if is_open or not lacking else _("%(n)s not measured") % {"n": lacking}


def measuring_day(screening: Screening, students: list[Student], *, now: dt.datetime) -> MeasuringDay:
    measures = screening_queries.battery_measures(screening.battery)
    cells = screening_queries.cells_of(screening, measures, students, now=now)
    protocols = screening_queries.current_protocols()
    names = barre_names(students)
    rows, missing = [], {}
    off = left_out((s.pk for s in students), now=now)
    left = to_go([screening], {screening.class_group_id: students}, off, now=now)[screening.pk]
    for measure in measures:
        lacking = [s for s in students if s.pk in left[measure.pk]]
        is_asked = bool(lacking) or any(cell.measure == measure and not cell.is_empty for cell in cells.values())
        words = _row_words(len(lacking), is_asked=is_asked, is_open=screening.is_open)
        rows.append(MeasureRow(measure, protocols[measure.pk], is_asked, words))
        for student in lacking:
            missing.setdefault(student, []).append(_(measure.short_name))
    asked = Standing.objects.filter(student__in=students, measure_again=True)
    again = {
        key[0] for key in asked.values_list("student_id", "measure_id", "side")
        if key not in cells or cells[key].is_empty
    }
    called = [names[s.pk] for s in students if s.pk in again and s.pk not in off]
    return MeasuringDay(
        rows=tuple(rows), students=len(students),
        missing=tuple((student, ", ".join(missing[student])) for student in students if student in missing),
        resting=tuple(names[s.pk] for s in students if s.pk in from_rising(off) and off[s.pk].is_told),
        not_asked=tuple(names[s.pk] for s in students if s.pk in off and not off[s.pk].is_told),
        again=names_in_a_row(called), late_words=_late_words(screening, now),
        names=tuple((s.pk, names[s.pk]) for s in students), twins=_twins(students),
    )


def _twins(students: list[Student]) -> frozenset[int]:
    """Who has the whole name of another one here, and a year of birth that tells them apart."""
    same = Counter(student.name for student in students)
    return frozenset(s.pk for s in students if same[s.name] > 1 and s.birth_on)


def _late_words(screening: Screening, now: dt.datetime) -> str:
    """What came after the closing although it was tapped before it."""
    if screening.is_open:
        return ""
    at = screening.closed_at
    rows = screening.results.saying().filter(tapped_at__lt=at, received_at__gt=at, value__isnull=False)
    count = screening_queries.agreed_results(rows, now=now).count()
    words = ngettext("%(n)s result arrived after closing.", "%(n)s results arrived after closing.", count)
    return words % {"n": count} if count else ""


@dataclass
class CellView:
    """A cell of the sheet: what is written there, or the box that waits for an entry."""

    student: Student
    name: str
    side: str
    key: str
    written: str = ""
    attempts: str = ""
    result: Result | None = None
    is_open: bool = True
    rest: str = ""
    reason_missing: str = ""
    typed: str = ""
    error: str = ""
    question: str = ""
    despite: list[tuple[str, str]] = field(default_factory=list)
    corrects: Result | None = None
    choices: list[tuple[int, str]] = field(default_factory=list)

    @property
    def html_id(self) -> str:
        return f"cell-{self.student.pk}{'-' + self.side if self.side else ''}"

    @property
    def spoken_name(self) -> str:
        """The name and, where there are two, the foot: what a reader of the screen hears at the box."""
        return f"{self.name}, {side_word(self.side)}" if self.side else self.name

    @property
    def may_be_entered(self) -> bool:
        """False for who is left out; what was measured before the rest can still be put right."""
        return not self.rest or self.result is not None or bool(self.error)


@dataclass
class RowView:
    student: Student
    name: str
    cells: list[CellView]
    rest: str
    reason: str

    @property
    def is_resting(self) -> bool:
        return bool(self.rest)

    @property
    def has_result_while_resting(self) -> bool:
        """True where the boxes are taken by today's results, so that the rest must be said beside the name."""
        return self.is_resting and all(cell.result is not None for cell in self.cells)


@dataclass
class SheetView:
    """`names`: every child with whether anything of theirs is still to see; `for_script`: sheet_words()."""

    measure: Measure
    protocol: Protocol
    rows: list[RowView]
    undo: Result | None
    undo_words: str
    left: int
    left_words: str
    measures: list[Measure]
    names: list[tuple[Student, str, bool]]
    undo_key: str = field(default_factory=new_key)
    missing_key: str = field(default_factory=new_key)
    for_script: dict = field(default_factory=dict)
    out: dict = field(default_factory=dict)


def sheet_view(
    screening: Screening, measure: Measure, students: list[Student], *, by: User, form: ResultForm | None = None,
    reopen: str = "", now: dt.datetime,
) -> SheetView:
    """The sheet of one measure. `form`: a refused entry; `reopen`: html id of a cell to put right."""
    protocol = measure.protocols.order_by("-version").first()
    off, out = (
        left_out((s.pk for s in students), now=now),
        out_of(screening.class_group, students, screening.held_on, now=now),
    )
    rests = {pk: rest_words(rest) for pk, rest in excused(off, measure).items()}
    rows = []
    for row in screening_queries.sheet(screening, measure, students, now=now):
        rest = rests.get(row.student.pk, "")
        cells = [
            _cell(cell, row.barre_name, measure, protocol, screening.is_open, rest, form, reopen) for cell in row.cells
        ]
        reasons = {cell.reason_missing for cell in cells}
        reason = reasons.pop() if len(reasons) == 1 else ""
        rows.append(RowView(row.student, row.barre_name, cells, rest, reason))
    undo = last_entry(screening, measure, by, now=now)
    names = {row.student.pk: row.name for row in rows}
    left = [row for row in rows if not row.is_resting and any(cell.result is None for cell in row.cells)]
    half = [(row, c) for row in left for c in row.cells if c.result is None and any(each.result for each in row.cells)]
    is_asked = any(not row.is_resting or any(cell.result for cell in row.cells) for row in rows)
    seen = _("Nobody left to measure.") if is_asked else _("Nobody to measure.")
    return SheetView(
        measure=measure, protocol=protocol, rows=rows, undo=undo,
        undo_words=_undo_words(undo, names) if undo else "", left=len(left), left_words=_left_words(left, half, seen),
        measures=screening_queries.battery_measures(screening.battery),
        names=[(row.student, row.name, _may_be_excused(row, off)) for row in rows],
        for_script=sheet_words(screening, measure, protocol, students, seen=seen, out=out, now=now), out=out.told,
    )


def _may_be_excused(row: RowView, off: Mapping[int, Rest]) -> bool:
    """True while something of the child is still to see; where nothing is asked no excuse is needed."""
    rest = off.get(row.student.pk)
    return any(cell.result is None for cell in row.cells) and (rest is None or rest.is_told)


def _is_of(form: ResultForm, cell: CellView) -> bool:
    return str(form.data.get("student")) == str(cell.student.pk) and form.data.get("side", "") == cell.side


def _cell(cell, name, measure, protocol, screening_is_open, rest, form, reopen) -> CellView:
    view = CellView(student=cell.student, name=name, side=cell.side, key=new_key(), rest=rest)
    view.choices = [(grade, _(word)) for grade, (word, _anchor) in enumerate(protocol.grades)]
    view.result = cell.last
    view.reason_missing = dict(Result.REASONS).get(cell.reason_missing, "")
    if cell.score is not None:
        view.written = write_value(cell.score.value, measure, protocol, capped=cell.score.capped)
        if measure.attempts > 1:
            view.attempts = " · ".join(
                write_number(r.value, 0 if r.value == int(r.value) else measure.decimals) for r in cell.results
            )
    view.is_open = screening_is_open and not cell.is_done and not rest
    if screening_is_open and reopen == view.html_id and cell.last is not None:
        view.corrects, view.is_open = cell.last, True
        view.typed = "" if cell.last.value is None else f"{cell.last.value.normalize():f}"
    if form is not None and _is_of(form, view) and form.errors:
        view.typed, view.is_open = form.data.get("value", ""), True
        view.error = " ".join(error for errors in form.errors.values() for error in errors)
        view.question = form.question if form.errors.keys() == {"value"} else ""
        view.despite = form.despite
        corrects = form.data.get("corrects_key")
        view.corrects = next((r for r in cell.results if str(r.key) == corrects), None)
    return view


def last_entry(screening: Screening, measure: Measure, by: User, *, now: dt.datetime) -> Result | None:
    """What Undo would take back: this person's latest tap whose words stand."""
    rows = screening_queries.agreed_results(screening.results.filter(measure=measure), now=now)
    return rows.select_related("student", "protocol", "measure").last_of(by)


def _undo_words(result: Result, names: dict[int, str]) -> str:
    """ "Elif left, 9": what Undo takes back."""
    name = names.get(result.student_id, result.student.first_name)
    if result.value is None:
        return f"{name}, {result.get_reason_missing_display()}"
    who = f"{name} {side_word(result.side)}" if result.side else name
    return f"{who}, {write_value(result.value, result.measure, result.protocol, capped=result.reached_cap)}"


def _left_words(left: list[RowView], half: list[tuple[RowView, CellView]], seen: str) -> str:
    if not left:
        return seen
    row, cell = half[0] if half else (left[0], left[0].cells[0])
    words = left_words(row.name, side_word(cell.side), len(half))
    return words["toGoMore" if len(half) > 1 else "toGoOne" if half else "toGo"]
