"""A table of text into results of measures, each with the reasons against it; knows no student and no cap."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from screening.results_headings import DATE_FIELDS, FIELDS, guess_columns, heading_score
from screening.results_value import GRADE_WORDS, REASONS, TWO_VALUES, ValueReading, read_value
from studio.sheet_file import Sheet
from studio.sheets.cells import fold
from studio.sheets.dates import date_order, one_date
from studio.sheets.rows import (
    OLDEST_AGE_YEARS,
    YOUNGEST_AGE_YEARS,
    GetText,
    Problem,
    RowCells,
    column_problems,
    date_questions,
    first_name_first,
    name_key,
    same_text,
    side_named,
    with_reasons,
    years_before,
)

__all__ = [
    "DATE_FIELDS", "FIELDS", "GRADE_WORDS", "REASONS", "Problem", "ResultRow", "ResultsReading", "date_order",
    "guess_columns", "heading_score", "read_results", "read_value",
]

REQUIRED_FIELDS = ("student", "measure", "value", "date")
# The most attempts of any measure (best of three is usual; common practice, no source).
MAX_ATTEMPTS = 5
_YES_WORDS = frozenset({"yes", "y", "true", "1", "x", "capped", "ja", "oui", "si", "vrai", "wahr"})
_NO_WORDS = frozenset({"", "no", "n", "false", "0", "nein", "non", "falso", "falsch", "faux"})
_NO_SIDE_WORDS = frozenset({"both", "none", "beide", "deux", "ambos", "entrambi"})
@dataclass(frozen=True)
class ResultRow:
    """One attempt as a file has it.

    number: the row in the file; measure: a key of the caller's measures, "" where refused; side: "L", "R" or
    "".
    value: the number, None where `value_text` is a word of GRADE_WORDS or `reason_missing` one of REASONS.
    capped: the value is "at least" this. on: the day, None only in a refused row.
    problems: why the row is refused, in words for people; warnings: what to look at before it is taken.
    unit: what stands behind the number, see `ValueReading`.
    """

    number: int
    student_name: str
    birth_on: date | None
    class_name: str
    measure: str
    side: str
    attempt: int
    value: Decimal | None
    value_text: str
    capped: bool
    on: date | None
    reason_missing: str
    assessor: str
    protocol: str
    problems: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    unit: str = ""


@dataclass(frozen=True)
class ResultsReading:
    """Every row of the file in order, every refusal, and what to answer for the file as a whole."""

    rows: tuple[ResultRow, ...]
    problems: tuple[Problem, ...]
    questions: tuple[Problem, ...] = ()


def read_results(
    sheet: Sheet,
    columns: Mapping[int, str],
    *,
    date_order: str,
    measures: Mapping[str, str],
    today: date,
    measure_names: Sequence[str] = (),
    left: Collection[int] = (),
    gettext: GetText = same_text,
) -> ResultsReading:
    """The rows of a file of results, each checked by itself and against the other rows of the file.

    columns: column index -> a name of FIELDS, "" or left out for a column to pass over.
    date_order: see `studio.roster_file.read_roster`; it counts for both columns of dates.
    measures: a measure's key, name or another name -> its key; capitals, accents and punctuation do not
    count. measure_names: those to be named where a row has another.
    left: the places, from 0, of rows that a person leaves out: another row may have their attempt.
    today: no result is later.

    A second row for the same student, measure, side, attempt and day is refused. What a student, an assessor
    or a protocol is, and whether a value is plausible, the caller decides. Never raises for what a file can
    hold.
    """
    at_fault = column_problems(
        sheet, columns, required=[(name,) for name in REQUIRED_FIELDS], gettext=gettext
    )
    if at_fault:
        return ResultsReading((), at_fault)
    known_measures = {fold(name): key for name, key in measures.items()}
    ordered = sorted(columns.items())
    drafts = []
    for sheet_row in sheet.rows:
        cells = RowCells(sheet.headings, sheet_row, ordered, gettext)
        if _is_empty(cells):
            cells.refuse("", gettext("No test and no value is filled in here."))
        drafts.append((_result_row(cells, date_order, known_measures, measure_names, today, gettext), cells))
    _refuse_repeated(drafts, left, gettext)
    rows, problems = with_reasons(drafts)
    return ResultsReading(rows, problems, date_questions(sheet, columns, DATE_FIELDS, date_order, gettext))


def _is_empty(cells: RowCells) -> bool:
    """A child without a result, as a table with a column for each test has one."""
    return not (cells.text("measure") or cells.text("value") or cells.has_problem("measure", "value"))


def _result_row(
    cells: RowCells,
    order: str,
    measures: Mapping[str, str],
    measure_names: Sequence[str],
    today: date,
    gettext: GetText,
) -> ResultRow:
    birth_on = cells.birth_on("birth_on", order, today)
    value = _value(cells, gettext)
    return ResultRow(
        number=cells.number,
        student_name=_student_name(cells, gettext),
        birth_on=birth_on,
        class_name=cells.words("class_name"),
        measure=_measure(cells, measures, measure_names, gettext),
        side=_side(cells, gettext),
        attempt=cells.whole_number("attempt", 1, MAX_ATTEMPTS) or 1,
        value=value.value,
        value_text=value.word,
        capped=value.value is not None and (_is_marked_capped(cells, gettext) or value.capped),
        on=_taken_on(cells, order, birth_on, today, gettext),
        reason_missing=value.reason_missing,
        assessor=cells.words("assessor"),
        protocol=cells.words("protocol"),
        unit=value.unit,
    )


def _student_name(cells: RowCells, gettext: GetText) -> str:
    written = cells.words("student")
    name = first_name_first(written)
    if name is None:
        cells.refuse(
            "student",
            gettext("The name has more than one comma. Write the first name, then the family name."),
        )
    elif not name and not cells.has_problem("student"):
        cells.refuse("student", gettext("The name is missing."))
    return written if name is None else name


def _measure(
    cells: RowCells, measures: Mapping[str, str], names: Sequence[str], gettext: GetText
) -> str:
    text = cells.text("measure")
    if fold(text) in measures and text:
        return measures[fold(text)]
    if text:
        message = gettext("“%(text)s” is not a measure here.") % {"text": text[:40]}
        if names:
            message += " " + gettext("The measures here: %(names)s.") % {"names": ", ".join(names)}
        cells.refuse("measure", message)
    elif not cells.has_problem("measure", ""):
        cells.refuse("measure", gettext("The measure is missing."))
    return ""


def _side(cells: RowCells, gettext: GetText) -> str:
    text = cells.text("side")
    side = side_named(text)
    if side is None and text and fold(text) not in _NO_SIDE_WORDS:
        cells.refuse("side", gettext("“%(text)s” is neither left nor right.") % {"text": text[:40]})
    return side or ""


def _value(cells: RowCells, gettext: GetText) -> ValueReading:
    text = cells.text("value")
    reading = read_value(text)
    if TWO_VALUES.fullmatch(text):
        cells.refuse(
            "value",
            gettext("“%(text)s” is not a value but two. Name both feet in the heading: “rises L/R”.")
            % {"text": text[:40]},
        )
    elif not reading.is_understood:
        cells.refuse(
            "value",
            gettext("“%(text)s” is not a value we can read. Examples: 12, 4.5, at least 45, clean, absent.")
            % {"text": text[:40]},
        )
    return ValueReading() if cells.has_problem("value") else reading


def _is_marked_capped(cells: RowCells, gettext: GetText) -> bool:
    words = fold(cells.text("capped"))
    if words not in _YES_WORDS | _NO_WORDS:
        message = gettext("“%(text)s” is neither yes nor no.")
        cells.refuse("capped", message % {"text": cells.text("capped")[:40]})
    return words in _YES_WORDS


def _taken_on(
    cells: RowCells, order: str, birth_on: date | None, today: date, gettext: GetText
) -> date | None:
    text = cells.text("date")
    if not text:
        if not cells.has_problem("date"):
            cells.refuse("date", gettext("The date is missing."))
        return None
    # Nobody here is a student for longer than this, so a result cannot be older.
    earliest = years_before(today, OLDEST_AGE_YEARS - YOUNGEST_AGE_YEARS)
    reading = one_date(text, order, earliest=earliest, latest=today)
    if reading.on is None:
        cells.refuse_date("date", text, reading)
    elif reading.on > today:
        cells.refuse("date", gettext("The date %(text)s is in the future.") % {"text": text[:40]})
    elif reading.on < earliest or (birth_on and reading.on <= birth_on):
        cells.refuse("date", gettext("The date %(text)s is too long ago.") % {"text": text[:40]})
    else:
        return reading.on
    return None


def _refuse_repeated(
    drafts: Sequence[tuple[ResultRow, RowCells]], left: Collection[int], gettext: GetText
) -> None:
    """Only a row that can be taken makes a later one a repetition."""
    taken: dict[tuple[object, ...], int] = {}
    for at, (row, cells) in enumerate(drafts):
        if cells.problems or at in left:
            continue
        attempt = (name_key(row.student_name), row.birth_on, row.measure, row.side, row.attempt, row.on)
        first = taken.setdefault(attempt, row.number)
        if first != row.number:
            message = gettext("The same student, measure, side, attempt and day as row %(row)s.")
            cells.refuse("", message % {"row": first})
