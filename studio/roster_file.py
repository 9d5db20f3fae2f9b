"""A table of text into roster rows, each with the reasons against it; knows no student already there."""

import re
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from studio.sheet_file import Sheet
from studio.sheets.cells import fold
from studio.sheets.dates import date_order
from studio.sheets.guardian_cells import GUARDIAN_FIELDS, FileGuardian, read_guardians
from studio.sheets.no_rows import PERHAPS_BAND, lines_of_no_row
from studio.sheets.roster_headings import DATE_FIELDS, FIELDS, guess_columns, heading_score, is_family_heading
from studio.sheets.rows import (
    MAX_NAME_CHARS,
    OLDEST_AGE_YEARS,
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
    word_set,
)

__all__ = [
    "DATE_FIELDS", "FIELDS", "Problem", "RosterReading", "RosterRow", "date_order", "guess_columns",
    "heading_score", "read_roster",
]

NAME_FIELDS = ("name", "given_name", "family_name")
# The lengths of the stored texts.
MAX_CALLED_CHARS, MAX_CLASS_NAME_CHARS = 40, 60
# Two classes a day, every day (common practice, no source).
MAX_CLASSES_PER_WEEK = 14
_NO_FOOT_WORDS = word_set("both either unknown none beide unbekannt deux inconnu ambos desconocido entrambi")
_YEAR = re.compile(r"(?<!\d)(?:19|20)\d\d(?!\d)")
# What a list hangs behind a name to point at a remark below.
_FOOTNOTE_MARKS = re.compile(r"\s*(?:[*†‡]+|\(\d{1,2}\)|[¹²³])$")


@dataclass(frozen=True)
class RosterRow:
    """One student as a file has it. Blank text is "", a blank date or number None.

    number: the row in the file; stage: a key of the caller's stages; dominant_foot: "L", "R" or "".
    problems: why the row is refused, in words for people; a row without any can be taken.
    warnings: what to look at before it is taken, and what of the row is not taken.
    no_row: what the line is instead of a student, a kind of `studio.sheets.no_rows`; "" for a student.
    """

    number: int
    name: str
    called: str
    birth_on: date | None
    stage: str
    training_since_year: int | None
    classes_per_week: int | None
    dominant_foot: str
    guardian_name: str
    guardian_email: str
    guardian_phone: str
    class_name: str
    problems: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    second_guardian: FileGuardian = FileGuardian()
    no_row: str = ""

    @property
    def guardians(self) -> tuple[FileGuardian, ...]:
        """Those of whom the row says anything."""
        first = FileGuardian(self.guardian_name, self.guardian_email, self.guardian_phone)
        return tuple(guardian for guardian in (first, self.second_guardian) if not guardian.is_nobody)


@dataclass(frozen=True)
class RosterReading:
    """Every row of the file in order, and every refusal.

    problems: first those of the file as a whole (row_number None; then there are no rows), then those of the
    rows.
    questions: what a person should answer or look at for the file as a whole, such as the order of day and
    month.
    """

    rows: tuple[RosterRow, ...]
    problems: tuple[Problem, ...]
    questions: tuple[Problem, ...] = ()


def read_roster(
    sheet: Sheet,
    columns: Mapping[int, str],
    *,
    date_order: str,
    stages: Mapping[str, str],
    today: date,
    class_names: Sequence[str] = (),
    gettext: GetText = same_text,
) -> RosterReading:
    """The rows of a roster, each checked by itself and against the other rows of the file.

    columns: column index -> a name of FIELDS, "" or left out for a column to pass over.
    date_order: "day_first" or "month_first" as a person confirmed it, or what `date_order` found; unless it
    is one of the two, a date with two readings is refused with the question.
    stages: a stage's name as shown -> its key; keys are understood as well. today: for ages. class_names: what
    may stand alone above a group. Totals, remarks and such bands are no students; each row says what it is.

    Two rows of one name: with the same birth date the second is refused; without a birth date each such row
    is refused, because nothing tells the students apart. Never raises for what a file can hold.
    """
    # By a family name alone nobody is called.
    required = [("given_name", "name") if "family_name" in columns.values() else ("name", "given_name")]
    at_fault = column_problems(
        sheet,
        columns,
        required=required,
        may_repeat=("guardian_name", "second_guardian_name"),
        gettext=gettext,
    )
    if at_fault:
        return RosterReading((), at_fault)
    known_stages = {fold(word): key for name, key in stages.items() for word in (key, name)}
    ordered = sorted(columns.items(), key=lambda item: (_is_guardian_family_name(sheet, *item), item[0]))
    kinds = lines_of_no_row(
        sheet.headings[: sheet.name_column],
        [row.cells[: sheet.name_column] for row in sheet.rows],
        [*class_names, *stages, *stages.values()],
        [index for index, name in columns.items() if name in NAME_FIELDS],
    )
    drafts = []
    for row, kind in zip(sheet.rows, kinds, strict=True):
        cells = RowCells(sheet.headings, row, ordered, gettext, soft=GUARDIAN_FIELDS)
        draft = _roster_row(cells, date_order, known_stages, stages, today, gettext)
        words = draft.name or next((cell for cell in row.cells if cell), "")
        drafts.append((replace(draft, no_row=kind, name=words[:MAX_NAME_CHARS]), cells))
    _compare_rows([draft for draft in drafts if draft[0].no_row in ("", PERHAPS_BAND)], gettext)
    rows, problems = with_reasons(drafts)
    return RosterReading(rows, problems, date_questions(sheet, columns, DATE_FIELDS, date_order, gettext))


def _is_guardian_family_name(sheet: Sheet, index: int, name: str) -> bool:
    return (
        name.endswith("guardian_name") and index < len(sheet.headings) and is_family_heading(sheet.headings[index])
    )


def _roster_row(
    cells: RowCells,
    order: str,
    known_stages: Mapping[str, str],
    stages: Mapping[str, str],
    today: date,
    gettext: GetText,
) -> RosterRow:
    birth_on = cells.birth_on("birth_on", order, today)
    first, second = read_guardians(cells, gettext)
    return RosterRow(
        number=cells.number,
        name=_name(cells, gettext),
        called=cells.words("called", MAX_CALLED_CHARS),
        birth_on=birth_on,
        stage=_stage(cells, known_stages, stages, gettext),
        training_since_year=_training_since_year(cells, birth_on, today, gettext),
        classes_per_week=cells.whole_number("classes_per_week", 0, MAX_CLASSES_PER_WEEK),
        dominant_foot=_dominant_foot(cells, gettext),
        guardian_name=first.name,
        guardian_email=first.email,
        guardian_phone=first.phone,
        second_guardian=second,
        class_name=cells.words("class_name", MAX_CLASS_NAME_CHARS),
    )


def _name(cells: RowCells, gettext: GetText) -> str:
    """First and family name where there are columns for them, otherwise the one column of names."""
    parts = [cells.words("given_name"), cells.words("family_name")]
    written = " ".join(part for part in parts if part) or cells.words("name")
    if cells.has_problem(*NAME_FIELDS):
        return written[:MAX_NAME_CHARS]
    if not written:
        cells.refuse("name", gettext("The name is missing."))
        return ""
    name = first_name_first(_without_footnote(written))
    if name is None:
        cells.refuse(
            "name", gettext("The name has more than one comma. Write the first name, then the family name.")
        )
        return written
    if not any(character.isalpha() for character in name):
        cells.refuse("name", gettext("“%(text)s” is not a name.") % {"text": name[:40]})
    elif len(name) > MAX_NAME_CHARS:
        cells.refuse(
            "name", gettext("The name is longer than %(limit)s characters.") % {"limit": MAX_NAME_CHARS}
        )
    return name[:MAX_NAME_CHARS]


def _without_footnote(name: str) -> str:
    """ "Zoe Moss *" as "Zoe Moss"; a mark alone is left for the check of the name."""
    return _FOOTNOTE_MARKS.sub("", name) or name


def _stage(cells: RowCells, known: Mapping[str, str], stages: Mapping[str, str], gettext: GetText) -> str:
    text = cells.text("stage")
    if text and fold(text) not in known:
        names = ", ".join(stages)
        message = gettext("“%(text)s” is not a stage here. The stages are: %(names)s.")
        cells.refuse("stage", message % {"text": text[:40], "names": names})
    return known.get(fold(text), "") if text else ""


def _training_since_year(cells: RowCells, birth_on: date | None, today: date, gettext: GetText) -> int | None:
    text = cells.text("training_since_year")
    if not text:
        return None
    years = [int(found) for found in _YEAR.findall(text)]
    first = birth_on.year if birth_on else today.year - OLDEST_AGE_YEARS
    if len(years) != 1:
        message = gettext("“%(text)s” does not say one year, such as 2021.")
    elif years[0] > today.year:
        message = gettext("In training since %(text)s: that year is still to come.")
    elif years[0] < first:
        message = gettext("In training since %(text)s: that is too long ago.")
    else:
        return years[0]
    cells.refuse("training_since_year", message % {"text": text[:40]})
    return None


def _dominant_foot(cells: RowCells, gettext: GetText) -> str:
    text = cells.text("dominant_foot")
    side = side_named(text)
    if side is None and text and fold(text) not in _NO_FOOT_WORDS:
        cells.refuse("dominant_foot", gettext("“%(text)s” is neither left nor right.") % {"text": text[:40]})
    return side or ""


def _compare_rows(drafts: Sequence[tuple[RosterRow, RowCells]], gettext: GetText) -> None:
    """Refuses a student who stands in the file twice, and namesakes whom nothing tells apart."""
    by_name: dict[str, list[tuple[RosterRow, RowCells]]] = defaultdict(list)
    for row, cells in drafts:
        if row.name:
            by_name[name_key(row.name)].append((row, cells))
    for namesakes in by_name.values():
        if len(namesakes) > 1:
            _refuse_undated(namesakes, gettext)
            _refuse_repeated(namesakes, gettext)


def _refuse_undated(namesakes: Sequence[tuple[RosterRow, RowCells]], gettext: GetText) -> None:
    for row, cells in namesakes:
        if row.birth_on is None and not cells.has_problem("birth_on"):
            other = next(
                number for number in (other.number for other, _cells in namesakes) if number != row.number
            )
            cells.refuse(
                "birth_on",
                gettext("Row %(row)s has the same name. A birth date is needed to tell the students apart.")
                % {"row": other},
            )


def _refuse_repeated(namesakes: Sequence[tuple[RosterRow, RowCells]], gettext: GetText) -> None:
    """Only a row that can be taken makes a later one a repetition."""
    taken: dict[date, RosterRow] = {}
    for row, cells in namesakes:
        if row.birth_on is None or cells.problems:
            continue
        first = taken.setdefault(row.birth_on, row)
        if first is row:
            continue
        if row.class_name and row.class_name != first.class_name:
            message = gettext(
                "The same student as row %(row)s, for another class. Add the second class by hand."
            )
        else:
            message = gettext("The same name and birth date as row %(row)s.")
        cells.refuse("", message % {"row": first.number})
