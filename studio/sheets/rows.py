"""Reading one row of any file field by field, each refusal in words for people; knows no field by name."""

import re
import unicodedata
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import TypeVar

from studio.sheets.cells import MAX_CELL_CHARS, Sheet, SheetRow, fold, texts_under, word_set
from studio.sheets.dates import DateReading, date_order, one_date

GetText = Callable[[str], str]
Row = TypeVar("Row")

# Hard limits for a student's age in whole years: users of the system, from the review of children tested (the
# youngest cohort starts at 2 to 4, teens to 17) with room for adult students.
YOUNGEST_AGE_YEARS, OLDEST_AGE_YEARS = 3, 25
# Outside these an age is possible but unusual, so it is asked about (same review).
YOUNGEST_USUAL_AGE_YEARS, OLDEST_USUAL_AGE_YEARS = 6, 18
# The length of a stored name.
MAX_NAME_CHARS = 120

# What people write into a cell that holds nothing.
BLANK_MARKS = frozenset({"-", "–", "—", "−", "/", ".", "n/a", "N/A"})
# A spreadsheet runs text that begins with these (OWASP, "CSV Injection").
_FORMULA_SIGNS = ("=", "+", "-", "@")
_NAME_SUFFIXES = frozenset({"jr", "sr", "ii", "iii", "iv"})
ISO_DATE = re.compile(r"\d{4}-\d\d-\d\d")
_SIDES = {
    "L": "l left links linker linke linkes li gauche g izquierda izquierdo izq sinistra sinistro sx sin",
    "R": "r right rechts rechter rechte rechtes re droite droit d derecha derecho der dcha destra destro dx",
}
_SIDE_BY_WORD = {word: side for side, words in _SIDES.items() for word in words.split()}
_LIMB_WORDS = word_set(
    "foot feet leg ankle side fuss bein seite pied jambe cote pie pierna lado piede gamba lato"
)


def same_text(message: str) -> str:
    """The default for `gettext`: English."""
    return message


@dataclass(frozen=True)
class Problem:
    """Why something is refused or must be answered.

    row_number: the row in the file, None for the file as a whole; column: the field's name, "" for the whole
    row.
    """

    row_number: int | None
    column: str
    message: str


def years_before(on: date, years: int) -> date:
    """The same day that many years earlier; 28 February where 29 does not exist.

    >>> years_before(date(2024, 2, 29), 3)
    datetime.date(2021, 2, 28)
    """
    try:
        return on.replace(year=on.year - years)
    except ValueError:
        return on.replace(year=on.year - years, day=28)


def age_years(birth_on: date, on: date) -> int:
    """Whole years between the two days; negative before birth."""
    return on.year - birth_on.year - ((on.month, on.day) < (birth_on.month, birth_on.day))


def name_key(name: str) -> str:
    """A name for comparison: capitals do not count, accents do (Lucia is not Lucía)."""
    return unicodedata.normalize("NFC", " ".join(name.casefold().split()))


def side_named(text: str) -> str | None:
    """ "L" or "R" for a side in any of five languages, None for anything else.

    >>> side_named("left foot"), side_named("Rechts"), side_named("both")
    ('L', 'R', None)
    """
    words = [word for word in fold(text).split() if word not in _LIMB_WORDS]
    return _SIDE_BY_WORD.get(words[0]) if len(words) == 1 else None


def first_name_first(name: str) -> str | None:
    """ "Moss, Ada" as "Ada Moss"; a suffix after a comma stays where it is; None for more than one comma.

    >>> first_name_first("van der Meer, Ada"), first_name_first("Ada Moss, Jr."), first_name_first("ADA MOSS")
    ('Ada van der Meer', 'Ada Moss, Jr.', 'ADA MOSS')
    """
    parts = [part.strip() for part in name.split(",") if part.strip()]
    if len(parts) == 2:
        return name if fold(parts[1]) in _NAME_SUFFIXES else f"{parts[1]} {parts[0]}"
    return " ".join(parts) if len(parts) < 2 else None


def column_problems(
    sheet: Sheet,
    columns: Mapping[int, str],
    *,
    required: Iterable[tuple[str, ...]],
    may_repeat: Iterable[str] = (),
    gettext: GetText = same_text,
) -> tuple[Problem, ...]:
    """What is wrong with the choice of columns before any row is read.

    required: groups of fields; of each group at least one must have a column. may_repeat: fields with
    several.
    """
    chosen = [name for index, name in columns.items() if name and index < len(sheet.headings)]
    problems = []
    for group in required:
        if not set(group) & set(chosen):
            problems.append(
                Problem(None, group[0], gettext("Choose the column for this field. It is needed."))
            )
    for name in sorted({name for name in chosen if chosen.count(name) > 1} - set(may_repeat)):
        problems.append(Problem(None, name, gettext("Two columns are chosen for this field. Choose one.")))
    return tuple(problems)


def date_questions(
    sheet: Sheet, columns: Mapping[int, str], fields: Sequence[str], order: str, gettext: GetText = same_text
) -> tuple[Problem, ...]:
    """What a person must say or look at for the dates of the whole file; () where all have one reading."""
    questions = []
    for name in fields:
        texts = texts_under(sheet, columns, (name,))
        found = date_order(texts)
        if order not in ("day_first", "month_first") and found in ("ambiguous", "mixed"):
            questions.append(
                Problem(
                    None, name, gettext("Does the day or the month come first in the dates of this file?")
                )
            )
        if found == "mixed":
            questions.append(
                Problem(
                    None, name, gettext("Some dates have the day first and some the month. Look at each one.")
                )
            )
        if sheet.kind == "xlsx" and _may_be_swapped(texts):
            message = gettext(
                "Some dates are real dates and some are text. A spreadsheet may have swapped day and month"
                " in the real ones. Look at each one."
            )
            questions.append(Problem(None, name, message))
    return tuple(questions)


def _may_be_swapped(texts: Sequence[str]) -> bool:
    """A day-first list opened month-first: what could be swapped became a date, the rest stayed text."""
    real = [text for text in texts if ISO_DATE.fullmatch(text)]
    left_as_text = [text for text in texts if date_order([text]) in ("day_first", "month_first")]
    return bool(real and left_as_text) and all(int(text[8:10]) <= 12 for text in real)


class RowCells:
    """The cells of one row by field, collecting the row's problems and warnings while they are read."""

    def __init__(
        self,
        headings: Sequence[str],
        row: SheetRow,
        columns: Iterable[tuple[int, str]],
        gettext: GetText,
        *,
        soft: Collection[str] = (),
    ) -> None:
        """columns: (index, field), in the order in which the texts of a repeated field are joined.

        soft: fields that never refuse a row; what cannot be read there is a warning.
        """
        self.number = row.number
        self.problems: list[Problem] = []
        self.warnings: list[str] = []
        self._gettext = gettext
        self._texts: dict[str, str] = {}
        troubles = {trouble.column: trouble.kind for trouble in row.troubles}
        if "extra" in troubles.values():
            self.refuse(
                "", gettext("This row has more cells than there are headings, so its cells may have shifted.")
            )
        for index, name in columns:
            if not name or index >= len(row.cells):
                continue
            if index in troubles and name in soft:
                self.warn(self._trouble_message(troubles[index], headings[index]))
            elif index in troubles:
                self.refuse(name, self._trouble_message(troubles[index], headings[index]))
            elif row.cells[index] not in BLANK_MARKS:
                self._texts[name] = f"{self._texts.get(name, '')} {row.cells[index]}".strip()

    def _trouble_message(self, kind: str, heading: str) -> str:
        gettext = self._gettext
        messages = {
            "formula": gettext("“%(heading)s” holds a formula. Write the value itself."),
            "error_value": gettext("“%(heading)s” holds a spreadsheet error. Write the value itself."),
            "too_long": gettext("“%(heading)s” is longer than %(limit)s characters."),
        }
        return messages[kind] % {"heading": heading, "limit": MAX_CELL_CHARS}

    def refuse(self, column: str, message: str) -> None:
        """One more reason why this row cannot be taken; the same reason is not given twice."""
        problem = Problem(self.number, column, message)
        if problem not in self.problems:
            self.problems.append(problem)

    def has_problem(self, *columns: str) -> bool:
        """True where one of these fields was refused already."""
        return any(problem.column in columns for problem in self.problems)

    def warn(self, message: str) -> None:
        """Something to look at; the row can be taken."""
        self.warnings.append(message)

    def text(self, name: str) -> str:
        """The field's text, "" where there is none (a dash counts as none) or where it cannot be trusted."""
        return self._texts.get(name, "")

    def words(self, name: str, limit: int = MAX_NAME_CHARS) -> str:
        """Text that names somebody or something: not too long, and nothing that a spreadsheet would run."""
        gettext, text = self._gettext, self.text(name)
        if text.startswith(_FORMULA_SIGNS):
            self.refuse(
                name, gettext("“%(text)s” begins like a formula. Write it as text.") % {"text": text[:40]}
            )
        elif len(text) > limit:
            self.refuse(
                name,
                gettext("“%(start)s…” is too long: %(count)s characters, at most %(limit)s.")
                % {"start": text[:40], "count": len(text), "limit": limit},
            )
        else:
            return text
        return ""

    def birth_on(self, name: str, order: str, today: date) -> date | None:
        """The birth date, None where it is blank or refused; an unusual age is a warning."""
        gettext, text = self._gettext, self.text(name)
        if not text:
            return None
        earliest = years_before(today, OLDEST_AGE_YEARS + 1)
        reading = one_date(text, order, earliest=earliest, latest=years_before(today, YOUNGEST_AGE_YEARS))
        if reading.on is None:
            self.refuse_date(name, text, reading)
            return None
        age = age_years(reading.on, today)
        if reading.on > today:
            self.refuse(name, gettext("The birth date %(text)s is in the future.") % {"text": text})
            return None
        if not YOUNGEST_AGE_YEARS <= age <= OLDEST_AGE_YEARS:
            self.refuse(
                name,
                gettext(
                    "The birth date %(text)s gives an age of %(age)s. It must be %(youngest)s to %(oldest)s."
                )
                % {"text": text, "age": age, "youngest": YOUNGEST_AGE_YEARS, "oldest": OLDEST_AGE_YEARS},
            )
            return None
        if not YOUNGEST_USUAL_AGE_YEARS <= age <= OLDEST_USUAL_AGE_YEARS:
            self.warn(gettext("The birth date gives an age of %(age)s. Is it right?") % {"age": age})
        return reading.on

    def refuse_date(self, name: str, text: str, reading: DateReading) -> None:
        """Says why a text gave no date."""
        gettext = self._gettext
        messages = {
            "not_a_date": gettext("“%(text)s” is not a date we can read. Example: 2014-03-25."),
            "day_number": gettext(
                "“%(text)s” is a day number of a spreadsheet. Format the column as a date."
            ),
            "which_order": gettext(
                "“%(text)s” can be two dates. Say whether the day or the month comes first."
            ),
            "other_order": gettext(
                "“%(text)s” does not fit the order of day and month chosen for this file."
            ),
            "which_century": gettext("“%(text)s” leaves the year open. Write the year with four digits."),
        }
        self.refuse(name, messages[reading.trouble] % {"text": text[:40]})

    def whole_number(self, name: str, lowest: int, highest: int) -> int | None:
        """A whole number between the two, None where it is blank or refused. "2", "2.0" and "2 x" are two."""
        gettext, text = self._gettext, self.text(name)
        if not text:
            return None
        digits = text.rstrip("xX×").rstrip().removesuffix(".0").removesuffix(",0")
        if digits.isascii() and digits.isdigit() and len(digits) <= 4 and lowest <= int(digits) <= highest:
            return int(digits)
        self.refuse(
            name,
            gettext("“%(text)s” is not a whole number from %(lowest)s to %(highest)s.")
            % {"text": text[:40], "lowest": lowest, "highest": highest},
        )
        return None


def with_reasons(drafts: Sequence[tuple[Row, RowCells]]) -> tuple[tuple[Row, ...], tuple[Problem, ...]]:
    """(each row with what was said against it, every refusal in order). Row: has `problems` and `warnings`."""
    rows = tuple(
        replace(row, problems=tuple(p.message for p in cells.problems), warnings=tuple(cells.warnings))
        for row, cells in drafts
    )
    return rows, tuple(problem for _row, cells in drafts for problem in cells.problems)
