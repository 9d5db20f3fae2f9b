"""When a student's step on a ladder wants a look: up, down, or as it is. Pure; it prompts, the teacher decides."""
from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from progress.rules.dose import CLEAN, LOST
from studio.voice import PLAIN, Voice

UP, DOWN, STAY = "up", "down", "stay"
# Both are the studio's own rule: one class may be a good day, or a bad one.
CLEAN_RUNNING, LOST_RUNNING = 2, 2
# After pain so many days pass before more load is offered: as long as pain of that place counts as having come back.
# The studio's own rule.
QUIET_DAYS = 14


@dataclass(frozen=True)
class Turn:
    """One class in which a student did the exercise at their present step. met_dose: at least what was planned."""

    on: dt.date
    met_dose: bool
    control: str
    hurt: bool = False


@dataclass(frozen=True)
class Prompt:
    """move: "up", "down" or "stay"; because: "clean", "pain", "lost" or ""."""

    move: str = STAY
    because: str = ""


def prompt(turns: Sequence[Turn], *, is_lowest: bool = False, is_highest: bool = False) -> Prompt:
    """Return what the latest turns at one step suggest, pain first. `turns`: oldest first, of this step only.

    Down: it hurt the last time, or control was lost in two classes running. Up: the whole dose, clean and without
    pain, in two classes running. At an end of the ladder there is nowhere to go.

    >>> day = dt.date(2026, 3, 3)
    >>> good = Turn(day, True, "clean")
    >>> prompt([good, good]), prompt([good]), prompt([good, Turn(day, True, "clean", hurt=True)])
    (Prompt(move='up', because='clean'), Prompt(move='stay', because=''), Prompt(move='down', because='pain'))
    >>> prompt([Turn(day, True, "lost")] * 2, is_lowest=True)
    Prompt(move='stay', because='')
    """
    if turns and turns[-1].hurt:
        return Prompt(STAY if is_lowest else DOWN, "pain")
    if _all_of_last(turns, LOST_RUNNING, lambda turn: turn.control == LOST):
        return Prompt() if is_lowest else Prompt(DOWN, "lost")
    if _all_of_last(turns, CLEAN_RUNNING, lambda turn: turn.met_dose and turn.control == CLEAN and not turn.hurt):
        return Prompt() if is_highest else Prompt(UP, "clean")
    return Prompt()


def is_quiet(hurt_on: dt.date, *, on: dt.date) -> bool:
    """True once pain is long enough ago for more load to be offered again.

    >>> day = dt.date(2031, 3, 3)
    >>> [is_quiet(day, on=day + dt.timedelta(days)) for days in (0, 14, 15)]
    [False, False, True]
    """
    return (on - hurt_on).days > QUIET_DAYS


def _all_of_last(turns: Sequence[Turn], count: int, holds) -> bool:
    return len(turns) >= count and all(holds(turn) for turn in turns[-count:])


def why(found: Prompt, *, voice: Voice = PLAIN) -> str:
    """Return the reason of a prompt in words; empty where nothing is prompted.

    >>> why(Prompt("up", "clean"))
    'Clean at the dose in two classes running.'
    """
    return {
        "clean": voice.gettext("Clean at the dose in two classes running."),
        "lost": voice.gettext("Control lost in two classes running."),
        "pain": voice.gettext("It hurt the last time."),
        "": "",
    }[found.because]
