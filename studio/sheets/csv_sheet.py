"""Bytes of a CSV file into a table of text; knows encodings and delimiters, not what the columns mean."""

import codecs
import csv
import io
import re
from itertools import islice

from studio.sheets.cells import (
    HEADING_SEARCH_ROWS,
    MAX_ROWS,
    CellTrouble,
    HeadingScore,
    Sheet,
    UnreadableFile,
    clean_cell,
    filled_cells,
    gettext_noop,
    heading_position,
    table,
    too_many_rows,
    with_length_trouble,
)

# In the order in which equals are preferred: a tab or semicolon is rarer inside a name or a number than a
# comma.
DELIMITERS = ("\t", ";", ",", "|")
# A separator no cell can hold, for a file of one column.
_NO_DELIMITER = "\x1f"
# Enough rows to see the shape; a longer look changes no answer.
_SNIFFED_ROWS = 60
# A text table holds next to no control characters; binary files hold them in every line. Own choice.
_CONTROL_SHARE_OF_BINARY = 0.02
# Appended as a last row: where it does not come back alone, a quotation mark was left open before it.
_END_ROW = "end of table"
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f\x7f]")
_SEPARATOR_LINE = re.compile(r'"?sep=(.)"?\r?\n', re.IGNORECASE)
_BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def decoded(content: bytes) -> tuple[str, str]:
    """The text of the file and the name of its encoding: "utf-8", "utf-8-sig", "utf-16" or "windows-1252".

    A byte order mark decides; otherwise UTF-8 where the bytes are valid UTF-8 (text in Windows-1252 with an
    accent practically never is), otherwise Windows-1252. Raises UnreadableFile where the bytes are no text in
    these.
    """
    encoding = next((name for mark, name in _BYTE_ORDER_MARKS if content.startswith(mark)), "")
    try:
        if encoding:
            text = content.decode(encoding)
        else:
            encoding, text = _without_mark(content)
    except UnicodeDecodeError as error:
        raise _not_a_table() from error
    if "\x00" in text or len(_CONTROL.findall(text)) > _CONTROL_SHARE_OF_BINARY * len(text):
        raise _not_a_table()
    return text, encoding


def _without_mark(content: bytes) -> tuple[str, str]:
    try:
        return "utf-8", content.decode("utf-8")
    except UnicodeDecodeError:
        return "windows-1252", content.decode("cp1252")


def _not_a_table() -> UnreadableFile:
    return UnreadableFile(
        gettext_noop(
            "This is not a table we can read. Please save it as “CSV UTF-8” or as a spreadsheet (.xlsx)."
        )
    )


def delimiter_of(text: str, heading_score: HeadingScore | None = None) -> str:
    """The character that parts the cells: a tab, semicolon, comma or bar; "" for a file of one column.

    Each candidate splits the first rows. Best is the one that yields the most known headings, then the one
    whose rows most often have as many cells as the heading row, then the one with more cells.
    """
    ranked = max(
        (_shape(text, candidate, heading_score), -order) for order, candidate in enumerate(DELIMITERS)
    )
    (_score, has_columns, _regular, _width), order = ranked
    return DELIMITERS[-order] if has_columns else ""


def _shape(text: str, delimiter: str, heading_score: HeadingScore | None) -> tuple[int, bool, float, int]:
    try:
        rows = [
            row
            for row in islice(_records(text, delimiter), _SNIFFED_ROWS)
            if any(cell.strip() for cell in row)
        ]
    except csv.Error:
        return 0, False, 0.0, 0
    if not rows:
        return 0, False, 0.0, 0
    cleaned = [[clean_cell(cell) for cell in row] for row in rows[:HEADING_SEARCH_ROWS]]
    at = heading_position(cleaned, heading_score)
    width = len(rows[at])
    regular = sum(len(row) == width for row in rows) / len(rows)
    return (heading_score(cleaned[at]) if heading_score else 0), width > 1, regular, width


def _records(text: str, delimiter: str):
    return csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)


def read_csv(content: bytes, heading_score: HeadingScore | None = None, *, most_rows: int = MAX_ROWS) -> Sheet:
    """The table in a CSV file; see `studio.sheet_file.read_sheet` for what is cleaned and refused."""
    text, encoding = decoded(content)
    if not any(character.isalnum() for character in text):
        raise UnreadableFile(gettext_noop("The file is empty."))
    declared = _SEPARATOR_LINE.match(text)
    if declared:
        text = text[declared.end() :]
    delimiter = declared[1] if declared and declared[1] in DELIMITERS else delimiter_of(text, heading_score)
    try:
        rows = _filled_rows(text, delimiter or _NO_DELIMITER, most_rows)
    except csv.Error as error:
        raise UnreadableFile(
            gettext_noop("One cell is far too long. Perhaps a quotation mark is never closed.")
        ) from error
    return table(
        rows,
        kind="csv",
        delimiter=delimiter,
        encoding=encoding,
        heading_score=heading_score,
        cells_can_shift=bool(delimiter),
        most_rows=most_rows,
    )


def _filled_rows(text: str, delimiter: str, most_rows: int) -> list[tuple[int, list[str], list[CellTrouble]]]:
    """Every filled row, cleaned, with its number; the row that ends the text must come back untouched."""
    line_end = "" if text.endswith(("\n", "\r")) else "\n"
    rows: list[tuple[int, list[str], list[CellTrouble]]] = []
    last: list[str] = []
    number = 0
    for number, last in enumerate(_records(f"{text}{line_end}{_END_ROW}", delimiter), start=1):
        cells = [clean_cell(cell) for cell in last]
        if not filled_cells(cells):
            continue
        if len(rows) > most_rows + HEADING_SEARCH_ROWS:
            raise too_many_rows(most_rows)
        kept, troubles = with_length_trouble(cells)
        troubles += [
            CellTrouble(column, "formula") for column, cell in enumerate(kept) if cell.startswith("=")
        ]
        rows.append((number, kept, troubles))
    if last != [_END_ROW]:
        raise UnreadableFile(gettext_noop("A quotation mark in row %(row)s is never closed."), row=number)
    return rows[:-1]
