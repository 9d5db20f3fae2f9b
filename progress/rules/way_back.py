"""The way back into class, step by step: which steps a student's stage has, and how far a clinician's word goes; pure.

A ladder is told by what each step loads, the gentlest first: keys of `resting.STEP_ALLOWS`, the last one full class.
"""
from collections.abc import Sequence

from progress.rules.resting import ALL, NO_POINTE, STEP_ALLOWS, rank

POINTE = "pointe"


def steps_for(loads: Sequence[str], *, on_pointe: bool) -> list[int]:
    """The steps of a ladder that a student's stage has: pointe work is for students on pointe only.

    >>> steps_for(["", "one", "pointe", "all"], on_pointe=False), steps_for(["", "pointe", "all"], on_pointe=True)
    ([0, 1, 3], [0, 1, 2])
    """
    return [at for at, each in enumerate(loads) if on_pointe or each != POINTE]


def is_within(load: str, allows: str, *, on_pointe: bool) -> bool:
    """True where a step asks for no more than a clinician allowed; "" set no limit. To who is not on pointe,
    everything but pointe work is everything.

    >>> is_within("one", "both", on_pointe=True), is_within("both", "both", on_pointe=True)
    (False, True)
    >>> is_within("all", "no_pointe", on_pointe=True), is_within("all", "no_pointe", on_pointe=False)
    (False, True)
    """
    limit = ALL if not allows or (allows == NO_POINTE and not on_pointe) else allows
    return rank(STEP_ALLOWS[load]) <= rank(limit)


def next_up(loads: Sequence[str], now: int, *, on_pointe: bool) -> int | None:
    """The next step after this one that the student's stage has; None from full class.

    >>> next_up(["", "one", "pointe", "all"], 1, on_pointe=False), next_up(["", "all"], 1, on_pointe=True)
    (3, None)
    """
    return next((at for at in steps_for(loads, on_pointe=on_pointe) if at > now), None)


def next_down(loads: Sequence[str], now: int, *, on_pointe: bool) -> int:
    """The step before this one, or the first.

    >>> next_down(["", "one", "pointe", "all"], 3, on_pointe=False), next_down(["", "all"], 0, on_pointe=True)
    (1, 0)
    """
    return max((at for at in steps_for(loads, on_pointe=on_pointe) if at < now), default=0)
