"""What a table out of a file is, what its cells may hold and how large it may be; knows no file format.

The limits are named here because every format shares them.
"""

import re
import unicodedata
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

MEGABYTE = 1_000_000
# A roster of 2,000 rows with 30 filled columns stays below 1 MB; five leaves room for a padded export. Own
# choice.
MAX_BYTES = 5 * MEGABYTE
# Some 25 times a studio of 200 students, and the results of a large school over several years. Own choice.
MAX_ROWS = 5_000
# Exports of studio programs have 20 to 40 columns (common practice, no source).
MAX_COLUMNS = 60
# A name or an address fits many times over; a longer cell is a note, or a quotation mark left open. Own
# choice.
MAX_CELL_CHARS = 1_000
# A title, a date of export and a blank line or two stand above the headings at most (common practice, no
# source).
HEADING_SEARCH_ROWS = 10

HeadingScore = Callable[[Sequence[str]], int]

# Joiners shape Persian, Arabic and Indic names; every other invisible format character (direction marks, zero
# width space, byte order mark, soft hyphen) could make two equal names differ, or show a name backwards.
_KEPT_INVISIBLE = frozenset("\u200c\u200d")
_REMOVED_CATEGORIES = frozenset({"Cc", "Cf", "Cs"})


def gettext_noop(message: str) -> str:
    """Marks a message for the translators and returns it unchanged."""
    return message


class UnreadableFile(Exception):
    """The whole file is refused; carries one message for people.

    `message` is the English text with named places (`%(limit)s`) and is the key for a translation; `facts`
    fills the places; `text(gettext)` gives the finished sentence in the reader's language, `str(error)` the
    English one.
    """

    def __init__(self, message: str, **facts: object) -> None:
        self.message = message
        self.facts: Mapping[str, object] = facts
        super().__init__(self.text())

    def text(self, gettext: Callable[[str], str] = gettext_noop) -> str:
        return gettext(self.message) % self.facts


@dataclass(frozen=True)
class CellTrouble:
    """Why one cell cannot be trusted. `column` is its index from 0; `kind` is one of the names below.

    formula      a formula without a saved result, or text that a spreadsheet would run as a formula
    error_value  a result such as #REF!
    too_long     more than MAX_CELL_CHARS characters (the cell is cut there)
    extra        the row has more cells than there are headings, so its cells may have shifted
    """

    column: int
    kind: str


@dataclass(frozen=True)
class SheetRow:
    """One row below the headings: its number as a spreadsheet counts (from 1), and one text per heading."""

    number: int
    cells: tuple[str, ...]
    troubles: tuple[CellTrouble, ...] = ()


@dataclass(frozen=True)
class Sheet:
    """A table of text. `kind` is "csv", "xlsx", "xls" or "ods"; `delimiter` and `encoding` are "" for a workbook.

    names: the sheets of the workbook that hold a table; taken: which of them, from 0, are in this one. Where several
    are, their rows count through. name_column: where each row says its sheet's name, None where no column does.
    """

    headings: tuple[str, ...]
    rows: tuple[SheetRow, ...]
    kind: str
    delimiter: str = ""
    encoding: str = ""
    names: tuple[str, ...] = ()
    taken: tuple[int, ...] = ()
    name_column: int | None = None

    @property
    def taken_names(self) -> tuple[str, ...]:
        """The names of the sheets in this table."""
        return tuple(self.names[at] for at in self.taken)


def clean_cell(text: str) -> str:
    """The cell as text that can be stored, compared and shown.

    Composed (NFC); every run of white space, line breaks and no-break spaces included, is one space and none
    is left at the ends; control characters, direction marks and other invisible characters are gone. Letters
    of every script are kept in their order.

    >>> clean_cell("  Zoë\\u00a0 Moss\\r\\n")
    'Zoë Moss'
    """
    if not (text.isascii() and text.isprintable()):
        text = unicodedata.normalize("NFC", " ".join(text.split()))
        text = "".join(
            c for c in text if c in _KEPT_INVISIBLE or unicodedata.category(c) not in _REMOVED_CATEGORIES
        )
        text = unicodedata.normalize("NFC", text)
    return " ".join(text.split())


# As many different names as a large file has: a search for names that are alike asks for each many times.
@lru_cache(maxsize=4 * MAX_ROWS)
def fold(text: str) -> str:
    """The text without accents, case and punctuation, words parted by one space; for comparing only.

    >>> fold("Prénom (élève) : ")
    'prenom eleve'
    """
    decomposed = unicodedata.normalize("NFKD", text.casefold())
    letters = "".join(c for c in decomposed if not unicodedata.combining(c))
    return " ".join(re.sub(r"[\W_]+", " ", letters).split())


def word_set(text: str) -> frozenset[str]:
    """The words of a list written with spaces, for short tables of words.

    >>> sorted(word_set("left right"))
    ['left', 'right']
    """
    return frozenset(text.split())


def filled_cells(cells: Sequence[str]) -> int:
    """How many of the cells hold something."""
    return sum(1 for cell in cells if cell)


def heading_position(rows: Sequence[Sequence[str]], heading_score: HeadingScore | None) -> int:
    """The index of the heading row among the first HEADING_SEARCH_ROWS of `rows` (all filled rows).

    The row with the highest score wins, the earliest of equals; where no row scores (or no callable is
    given), the first row with two filled cells, so that a title alone on its line is passed over; otherwise
    the first row. Returns 0 for no rows.
    """
    searched = rows[:HEADING_SEARCH_ROWS]
    scores = [heading_score(row) for row in searched] if heading_score else []
    if scores and max(scores) > 0:
        return scores.index(max(scores))
    return next((index for index, row in enumerate(searched) if filled_cells(row) > 1), 0)


def table(
    numbered: Sequence[tuple[int, Sequence[str], Sequence[CellTrouble]]],
    *,
    kind: str,
    delimiter: str = "",
    encoding: str = "",
    heading_score: HeadingScore | None = None,
    cells_can_shift: bool,
    most_rows: int = MAX_ROWS,
) -> Sheet:
    """A Sheet out of cleaned, filled rows given as (number, cells, troubles).

    `cells_can_shift`: where a stray delimiter makes an additional cell (CSV) such a row gets the trouble
    "extra"; in a spreadsheet cells beyond the headings are notes beside the table and are left out. Raises
    UnreadableFile for no rows, no rows below the headings, or more than `most_rows` or MAX_COLUMNS.
    """
    if not numbered:
        raise UnreadableFile(gettext_noop("The file is empty."))
    at = heading_position(
        [cells for _number, cells, _troubles in numbered[:HEADING_SEARCH_ROWS]], heading_score
    )
    headings = _without_empty_end(numbered[at][1])
    if len(headings) > MAX_COLUMNS:
        raise too_many_columns()
    body = numbered[at + 1 :]
    if not body:
        raise UnreadableFile(gettext_noop("The file has headings but no rows below them."))
    if len(body) > most_rows:
        raise too_many_rows(most_rows)
    rows = tuple(
        _sheet_row(number, cells, troubles, len(headings), cells_can_shift)
        for number, cells, troubles in body
    )
    return Sheet(tuple(headings), rows, kind, delimiter, encoding)


def _without_empty_end(cells: Sequence[str]) -> Sequence[str]:
    width = len(cells)
    while width and not cells[width - 1]:
        width -= 1
    return cells[:width]


def _sheet_row(
    number: int, cells: Sequence[str], troubles: Sequence[CellTrouble], width: int, cells_can_shift: bool
) -> SheetRow:
    found = [trouble for trouble in troubles if trouble.column < width]
    kept = tuple(cells[:width]) + ("",) * (width - len(cells))
    if cells_can_shift and any(cells[width:]):
        found.append(CellTrouble(width, "extra"))
    return SheetRow(number, kept, tuple(found))


def too_many_rows(most: int = MAX_ROWS) -> UnreadableFile:
    return UnreadableFile(
        gettext_noop("The file has more than %(limit)s rows. Please split it into smaller files."),
        limit=most,
    )


def too_many_columns() -> UnreadableFile:
    return UnreadableFile(
        gettext_noop("The file has more than %(limit)s columns. Please leave out those you do not need."),
        limit=MAX_COLUMNS,
    )


def with_length_trouble(cells: Sequence[str]) -> tuple[list[str], list[CellTrouble]]:
    """The cells, each cut at MAX_CELL_CHARS, and a trouble for each one that was cut."""
    kept, troubles = list(cells), []
    for column, cell in enumerate(cells):
        if len(cell) > MAX_CELL_CHARS:
            kept[column] = cell[:MAX_CELL_CHARS]
            troubles.append(CellTrouble(column, "too_long"))
    return kept, troubles


def texts_under(sheet: Sheet, columns: Mapping[int, str], fields: Collection[str]) -> tuple[str, ...]:
    """The filled cells of every column that `columns` maps to one of `fields`, column by column."""
    wanted = [
        index for index, name in sorted(columns.items()) if name in fields and index < len(sheet.headings)
    ]
    return tuple(row.cells[index] for index in wanted for row in sheet.rows if row.cells[index])
