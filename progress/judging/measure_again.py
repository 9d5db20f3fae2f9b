"""Whom to measure again this week, because two more results would settle it; knows judged lines only."""

from __future__ import annotations

from collections.abc import Mapping

from progress.judging.engine import ruling
from progress.judging.engine.facts import Line, LineKey

# A handful: what a teacher can do at the barre besides the class (assumption).
MOST_ASKED = 5
# Under a new protocol the first results set the level: two more make it firm.
FIRST_RESULTS = 3
OPEN_VERDICTS = ("gaining", "not_clear")


def is_unsettled(line: Line) -> bool:
    """Return whether "no gain" is likely enough to ask and not yet likely enough to say."""
    return line.verdict in OPEN_VERDICTS and ruling.ASK_CHANCE <= line.p_no_gain < line.flag_chance


def lines_to_ask(lines: Mapping[LineKey, Line], *, most: int = MOST_ASKED) -> tuple[LineKey, ...]:
    """Return at most `most` lines to measure twice on another day, those likeliest to be settled first.

    First those whose last result is suddenly low, then the unsettled ones, nearest to the flag first; then those with
    a held-back value, with the first results of a new protocol, and with nothing for three weeks of class time. Equal
    ones by their key.
    """
    ranked = []
    for key, line in lines.items():
        reason = _reason(line)
        if reason is not None:
            ranked.append((reason, -line.p_no_gain, str(key), key))
    ranked.sort(key=lambda each: each[:3])
    return tuple(each[3] for each in ranked[:most])


def _reason(line: Line) -> int | None:
    if line.asks == "low":
        return 0
    if is_unsettled(line):
        return 1
    if line.held_back or line.asks == "high":
        return 2
    if line.verdict == "at_target":
        return None
    if line.has_new_protocol and line.results_in_protocol < FIRST_RESULTS:
        return 3
    return 4 if line.is_stale else None
