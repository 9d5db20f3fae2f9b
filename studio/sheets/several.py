"""Which sheets of a workbook make the table: those that are alike, one, or all of them; knows no file format."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from studio.sheets.cells import (
    MAX_COLUMNS,
    MAX_ROWS,
    HeadingScore,
    Sheet,
    SheetRow,
    UnreadableFile,
    fold,
    gettext_noop,
    table,
    too_many_columns,
    too_many_rows,
)
from studio.sheets.dates import one_date
from studio.sheets.workbook import SheetRows

ALL = "all"
# The heading of the column that is made: the name of the sheet in which a row stands.
SHEET_HEADING = gettext_noop("Sheet")
# Sheets are named by days of a school's own time (our choice).
_EARLIEST, _LATEST = date(1990, 1, 1), date(2069, 12, 31)


def taken_together(
    sheets: Sequence[SheetRows], *, kind: str, heading_score: HeadingScore | None, wanted: str
) -> Sheet:
    """One table of the sheets that are wanted: ALL, the number of one as text, or "" for those that are alike.

    Alike are those with the headings of the sheet that names most known fields, or, where that one is named by a day,
    every sheet so named. Sheets that hold no table are passed over. Where more than one is taken, or its name is a
    day, a column SHEET_HEADING says the name. Raises UnreadableFile where none is a table, or all are too much.
    """
    tables: list[tuple[str, Sheet]] = []
    troubles = [each.trouble for each in sheets if each.trouble is not None]
    for each in sheets:
        try:
            if each.trouble is None:
                made = table(each.rows, kind=kind, heading_score=heading_score, cells_can_shift=False)
                tables.append((each.name, made))
        except UnreadableFile as trouble:
            troubles.append(trouble)
    if not tables:
        raise troubles[0] if troubles else UnreadableFile(gettext_noop("The file is empty."))
    taken = _taken(tables, heading_score, wanted)
    joined = _joined([tables[at] for at in taken])
    return replace(joined, names=tuple(name for name, _table in tables), taken=tuple(taken))


def _taken(tables: Sequence[tuple[str, Sheet]], heading_score: HeadingScore | None, wanted: str) -> list[int]:
    every = list(range(len(tables)))
    if wanted == ALL:
        return every
    if wanted.isascii() and wanted.isdigit() and int(wanted[:4]) in every:
        return [int(wanted[:4])]
    scores = [heading_score(made.headings) if heading_score else 0 for _name, made in tables]
    lead_name, lead = tables[scores.index(max(scores))]
    if is_day(lead_name):
        return [at for at in every if is_day(tables[at][0])]
    return [at for at in every if _heads(tables[at][1]) == _heads(lead)]


def is_day(name: str) -> bool:
    """True for a sheet's name that is a day with its year, however it is written.

    >>> is_day("10.03.2026"), is_day("10 March 2026"), is_day("Grade 2"), is_day("2026")
    (True, True, False, False)
    """
    reading = one_date(name, "day_first", earliest=_EARLIEST, latest=_LATEST)
    return reading.on is not None or reading.trouble in ("which_order", "other_order")


def _heads(made: Sheet) -> list[str]:
    return [fold(heading) for heading in made.headings]


def _joined(tables: Sequence[tuple[str, Sheet]]) -> Sheet:
    [(name, first), *others] = tables
    if not others and not is_day(name):
        return first
    headings = list(first.headings)
    for _name, made in others:
        known = {fold(heading) for heading in headings}
        headings += [heading for heading in made.headings if fold(heading) not in known]
    headings.append(SHEET_HEADING)
    if len(headings) > MAX_COLUMNS:
        raise too_many_columns()
    rows: list[SheetRow] = []
    for name, made in tables:
        before = rows[-1].number if rows else 0
        rows += [_moved(row, made, headings, name, before) for row in made.rows]
    if len(rows) > MAX_ROWS:
        raise too_many_rows()
    return replace(first, headings=tuple(headings), rows=tuple(rows), name_column=len(headings) - 1)


def _moved(row: SheetRow, made: Sheet, headings: Sequence[str], name: str, before: int) -> SheetRow:
    """The row with its cells under the headings of all sheets, its sheet's name, and a number that counts through."""
    if list(made.headings) == list(headings[: len(made.headings)]):
        places = list(range(len(made.headings)))
    else:
        free = {}
        for at, heading in reversed(list(enumerate(headings[:-1]))):
            free[fold(heading)] = at
        places = [free[fold(heading)] for heading in made.headings]
    cells = [""] * len(headings)
    for place, cell in zip(places, row.cells, strict=True):
        cells[place] = cells[place] or cell
    cells[-1] = name
    troubles = tuple(replace(each, column=places[each.column]) for each in row.troubles)
    return SheetRow(before + row.number, tuple(cells), troubles)
