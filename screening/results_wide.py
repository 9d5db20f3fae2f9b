"""A table with a column for each test into one row for each result; knows no student and no value."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from screening.results_headings import field_of, guess_columns
from studio.sheets.cells import CellTrouble, Sheet, SheetRow, UnreadableFile, fold, gettext_noop
from studio.sheets.headings import heading_forms
from studio.sheets.rows import BLANK_MARKS, side_named

# The headings of the columns that are made, as `guess_columns` knows them.
_MADE = ("Measure", "Side", "Attempt", "Value")
# A table of as many rows as a file may have, with four tests (our choice).
MAX_RESULTS = 20_000
_ATTEMPTS = frozenset("12345")


@dataclass(frozen=True)
class MeasureColumn:
    """What a heading says of the cells below it: a measure's folded name, "L", "R" or "", "1" to "5" or "".

    side: "LR" or "RL" where each cell holds both feet in that order, as "12/14".
    """

    measure: str
    side: str = ""
    attempt: str = ""


def column_named(heading: str, measures: frozenset[str]) -> MeasureColumn | None:
    """The measure that a heading names, with the foot and the attempt beside it; None for anything else.

    measures: folded names.

    >>> known = frozenset({"rises", "rises one foot", "balance"})
    >>> column_named("Rises, one foot (left)", known)
    MeasureColumn(measure='rises one foot', side='L', attempt='')
    >>> column_named("Balance R 2", known), column_named("Left foot", known)
    (MeasureColumn(measure='balance', side='R', attempt='2'), None)
    """
    for form in heading_forms(heading):
        if (both := _both_sides(form.split(), measures)) is not None:
            return both
        words, side, attempt = form.split(), "", ""
        while words and " ".join(words) not in measures:
            if not attempt and words[-1] in _ATTEMPTS:
                attempt = words.pop()
                if words and field_of(words[-1]) == "attempt":
                    words.pop()
                continue
            cut = None if side else _side_at_an_end(words)
            if cut is None:
                words = []
            else:
                side, words = cut
        if words:
            return MeasureColumn(" ".join(words), side, attempt)
    return None


def _both_sides(words: list[str], measures: frozenset[str]) -> MeasureColumn | None:
    """ "Rises L/R" and "left/right balance": a measure with both feet beside it."""
    for said, rest in ((words[-2:], words[:-2]), (words[:2], words[2:])):
        sides = [side_named(word) for word in said]
        if set(sides) == {"L", "R"} and " ".join(rest) in measures:
            return MeasureColumn(" ".join(rest), "".join(sides))
    return None


def _side_at_an_end(words: list[str]) -> tuple[str, list[str]] | None:
    """The side that the last or first words name, "left" or "left foot", and the words without them."""
    for number in (1, 2):
        for said, rest in ((words[-number:], words[:-number]), (words[:number], words[number:])):
            side = side_named(" ".join(said))
            if side and rest:
                return side, rest
    return None


def long_sheet(sheet: Sheet, measures: Iterable[str]) -> Sheet:
    """The sheet itself where it names measures or values; else one row for each filled cell of its tests.

    measures: the names and short names by which a heading may call a measure. The other columns stay in front, each
    row keeps the number of the row it came from, and a cell that holds nothing is no result. Raises UnreadableFile
    for more than MAX_RESULTS.
    """
    fields = guess_columns(sheet.headings)
    known = frozenset(filter(None, map(fold, measures)))
    tests = {
        at: test for at, heading in enumerate(sheet.headings)
        if not fields[at] and (test := column_named(heading, known)) is not None
    }
    if not tests or {"measure", "value"} & set(fields.values()):
        return sheet
    # What a heading says of foot and attempt goes before a column that says it of the whole row.
    of_row = {name: at for at, name in fields.items() if name in ("side", "attempt")}
    kept = [at for at in range(len(sheet.headings)) if at not in tests and at not in of_row.values()]
    rows = [row for each in sheet.rows for row in _rows(each, kept, tests, of_row)]
    if len(rows) > MAX_RESULTS:
        many = gettext_noop("The file has more than %(limit)s results. Please split it into smaller files.")
        raise UnreadableFile(many, limit=MAX_RESULTS)
    name_column = kept.index(sheet.name_column) if sheet.name_column is not None else None
    headings = (*(sheet.headings[at] for at in kept), *_MADE)
    return replace(sheet, headings=headings, rows=tuple(rows), name_column=name_column)


def _rows(
    row: SheetRow, kept: list[int], tests: Mapping[int, MeasureColumn], of_row: Mapping[str, int]
) -> Iterable[SheetRow]:
    side, attempt = (row.cells[of_row[name]] if name in of_row else "" for name in ("side", "attempt"))
    place = {before: now for now, before in enumerate(kept)}
    value_at = len(kept) + len(_MADE) - 1
    if all(row.cells[at] in BLANK_MARKS | {""} for at in tests) and not any(t.column in tests for t in row.troubles):
        # A child without any result stays a row of the file, so that nobody is lost between the lines.
        yield SheetRow(row.number, (*(row.cells[each] for each in kept), *[""] * len(_MADE)), ())
    for at, test in tests.items():
        if row.cells[at] in BLANK_MARKS | {""} and not any(each.column == at for each in row.troubles):
            continue
        troubles = tuple(
            CellTrouble(value_at if each.column == at else place.get(each.column, value_at + 1), each.kind)
            for each in row.troubles if each.column == at or each.column not in tests
        )
        for foot, value in _by_foot(test, row.cells[at]):
            told = (test.measure, foot or side, test.attempt or attempt, value)
            yield SheetRow(row.number, (*(row.cells[each] for each in kept), *told), troubles)


def _by_foot(test: MeasureColumn, cell: str) -> Iterable[tuple[str, str]]:
    """(side, value) of a cell; "12/14" under both feet is two, "12" there is of no foot and will be asked about."""
    if len(test.side) < 2:
        return [(test.side, cell)]
    parts = [part.strip() for part in re.split(r"[/|]", cell)]
    if len(parts) != 2:
        return [("", cell)]
    return [(side, part) for side, part in zip(test.side, parts, strict=True) if part not in BLANK_MARKS | {""}]
