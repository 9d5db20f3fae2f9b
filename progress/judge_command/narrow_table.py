"""Judgements of a file as a table that a teacher reads across: who, what, which foot, how it goes and why; pure."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping

# What a terminal shows in one line, and the least that the reason needs to be read in it (our choice).
WIDTH, NARROWEST_REASON = 100, 30
HEADS = ("student", "measure", "foot", "verdict", "since", "a week", "why")
VERDICT_WORDS = {
    "gaining": "gaining", "at_target": "at target", "stalled": "stalled", "slipping": "slipping",
    "dropped": "dropped",
    "not_clear": "not clear yet", "too_early": "too early",
}
_FEET = {"L": "left", "R": "right", "": ""}
# A pace in percent, repetitions or grades: how many places say something.
_PLACES = {"count": 1, "hold": 0, "grade": 2}


def narrow_table(
    rows: Iterable[Mapping[str, object]], *, scales: Mapping[str, str], with_week: bool = False
) -> Iterator[str]:
    """Yield the lines of the table, a class after the other; the reason is wrapped under itself.

    rows: as `judge_rows.judged_rows` makes them; scales: a measure's name in the file -> its scale; with_week: the
    week of each row stands in front of its measure, for rows of every week.

    >>> row = {"class": "A", "student": "Ada", "measure": "rises", "side": "L", "week": 9, "verdict": "gaining",
    ...        "since_week": None, "rate": 0.62, "reason": "Left: about +0.6 a week."}
    >>> print("".join(narrow_table([row], scales={"rises": "count"})), end="")
    student  measure  foot  verdict  since  a week  why
    Ada      rises    left  gaining         +0.6    Left: about +0.6 a week.
    """
    classes: dict[str, list[tuple[str, ...]]] = {}
    for row in rows:
        classes.setdefault(str(row["class"]), []).append(_cells(row, scales, with_week))
    widths = [max(map(len, column)) for column in zip(HEADS, *(r for each in classes.values() for r in each),
                                                      strict=True)]
    widths[-1] = max(NARROWEST_REASON, WIDTH - sum(widths[:-1]) - 2 * len(widths) + 2)
    for at, (name, lines) in enumerate(classes.items()):
        if len(classes) > 1:
            yield f"{chr(10) if at else ''}{name}\n"
        yield from _printed(HEADS, widths)
        for cells in lines:
            yield from _printed(cells, widths)


def _cells(row: Mapping[str, object], scales: Mapping[str, str], with_week: bool) -> tuple[str, ...]:
    measure = str(row["measure"])
    says = row["verdict"] != "too_early"
    return (
        str(row["student"]), f"week {row['week']} {measure}" if with_week else measure, _FEET[str(row["side"])],
        VERDICT_WORDS[str(row["verdict"])], f"week {row['since_week']}" if row["since_week"] is not None else "",
        _pace(row["rate"], scales.get(measure, "count")) if says else "", str(row["reason"]),
    )


def _pace(rate: object, scale: str) -> str:
    if not isinstance(rate, int | float):
        return ""
    text = f"{rate:+.{_PLACES[scale]}f}"
    return ("0" if float(text) == 0 else text) + (" %" if scale == "hold" else "")


def _printed(cells: Iterable[str], widths: list[int]) -> Iterator[str]:
    *short, why = cells
    front = "  ".join(cell.ljust(width) for cell, width in zip(short, widths, strict=False))
    pieces = textwrap.wrap(why, widths[-1]) or [""]
    yield f"{front}  {pieces[0]}".rstrip() + "\n"
    for piece in pieces[1:]:
        yield " " * (len(front) + 2) + piece + "\n"
