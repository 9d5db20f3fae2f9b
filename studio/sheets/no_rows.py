"""Tells lines of a list that are no row of it: totals, footnotes, bands between groups; knows no field by name."""

import re
from collections.abc import Collection, Sequence
from statistics import median_low

from studio.sheets.cells import filled_cells, fold, word_set

HEADING_AGAIN, TOTAL, NOTE, BAND, PERHAPS_BAND = "heading", "total", "note", "band", "perhaps"

# How lists of a front desk sum up and remark, in five languages (common practice, no source).
_TOTAL_WORDS = word_set(
    "total totals subtotal sum count summe zwischensumme gesamt insgesamt anzahl somme totale subtotale suma recuento"
)
_COUNTED = re.compile(
    r"\d+ (?:students?|dancers?|pupils?|child(?:ren)?|names?|schuler(?:innen)?|kinder|eleves?|alumnos|alumnas|allievi"
    r"|allieve|participants?|rows?|entries)"
)
_NOTE_WORDS = word_set("note notes nb remark legend key hinweis legende bemerkung remarque nota leyenda stand")
_NOTE_SIGNS = tuple("*†‡•§¹²³→#")
# What stands in a line of its own above a group: "Grade 2", "Tuesday, 16:30", "BEGINNERS", "Group A:".
_GROUP_WORDS = word_set(
    "class group grade level stage course day monday tuesday wednesday thursday friday saturday sunday klasse gruppe"
    " kurs stufe montag dienstag mittwoch donnerstag freitag samstag sonntag cours classe groupe niveau lundi mardi"
    " mercredi jeudi vendredi samedi dimanche clase grupo curso nivel lunes martes miercoles jueves viernes corso"
    " gruppo livello lunedi martedi mercoledi giovedi venerdi sabato domenica teacher room waiting list beginners"
    " intermediate advanced juniors seniors boys girls anfanger fortgeschrittene warteliste"
)
# Below this many filled cells in an ordinary row, a row with one cell is nothing special.
_WIDE_ENOUGH = 3


def lines_of_no_row(
    headings: Sequence[str],
    rows: Sequence[Sequence[str]],
    group_names: Sequence[str] = (),
    name_columns: Collection[int] = (0,),
) -> list[str]:
    """For each row what it is instead of a row: one of the kinds above, or "" for a row.

    group_names: names of classes and stages, which stand alone above their group. name_columns: where a name stands,
    and so a heading of a group; a single cell elsewhere is a row with little in it. PERHAPS_BAND: one filled cell that
    could be a name as well, among rows with more; that is for a person to say.

    >>> rows = [["Zoe Moss", "2014-03-25", "left"], ["Grade 2", "", ""], ["* new this term", "", ""]]
    >>> lines_of_no_row(["name", "born", "foot"], [*rows, ["Total: 9", "", ""], ["Ida Holt", "", ""]])
    ['', 'band', 'note', 'total', 'perhaps']
    """
    known = {fold(name) for name in group_names}
    heads = [fold(heading) for heading in headings]
    usual = median_low([filled_cells(row) for row in rows if filled_cells(row) > 1] or [0])
    return [_kind(row, heads, known, usual, {0, *name_columns}) for row in rows]


def _kind(
    row: Sequence[str], heads: Sequence[str], known: set[str], usual: int, name_columns: Collection[int]
) -> str:
    filled = [cell for cell in row if cell]
    folded = [fold(cell) for cell in row]
    if len(filled) > 1 and all(cell == head for cell, head in zip(folded, heads, strict=False) if cell):
        return HEADING_AGAIN
    if not filled:
        return ""
    first, words = filled[0], fold(filled[0]).split()
    rest_counts = all(_is_number(cell) for cell in filled[1:])
    if words and words[0] in _TOTAL_WORDS and rest_counts and not _could_be_names(words[1:]):
        return TOTAL
    if rest_counts and _COUNTED.fullmatch(" ".join(words)):
        return TOTAL
    if len(filled) > 2 or (len(filled) == 2 and usual < _WIDE_ENOUGH):
        return ""
    if first.startswith(_NOTE_SIGNS) or (words and words[0] in _NOTE_WORDS and first.rstrip().find(":") > 0):
        return NOTE
    if len(filled) == 1 and _is_band(first, words, known):
        return BAND
    is_name = any(row[at] for at in name_columns if at < len(row))
    if len(filled) == 1 and usual >= _WIDE_ENOUGH and is_name:
        return PERHAPS_BAND if len(words) > 1 else BAND
    return ""


def _is_number(cell: str) -> bool:
    return bool(re.fullmatch(r"[\d\s.,]+", cell))


def _could_be_names(words: Sequence[str]) -> bool:
    """ "Total Anna" would be a name; "Total: 9", "Total students 9" and "Total" are none."""
    counted = word_set(
        "students student dancers dancer pupils children kinder schuler schulerinnen eleves number of in all class der"
        " de des les"
    )
    return any(not word.isdigit() and word not in counted for word in words)


def _is_band(text: str, words: Sequence[str], known: set[str]) -> bool:
    if " ".join(words) in known or text.endswith(":"):
        return True
    has_group_word = any(word in _GROUP_WORDS for word in words)
    return has_group_word and (len(words) == 1 or any(c.isdigit() for c in text) or words[0] in _GROUP_WORDS
                               or words[-1] in _GROUP_WORDS)
