"""Terms with something odd in them: counts typed with a slip of a digit, and children who dip while they grow."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from progress.judging.engine import ruling
from progress.judging.engine.school_arrays import Followed, follow_classes
from tests.bench.characteristics import arrays_of, found, judge_terms, lingers, share
from tests.bench.true_lines import STRANDS
from tests.bench.worlds import World, classes

CLASSES = 60
RISES = STRANDS[0]
# Of counts, so many come through with a wrong digit where nobody asked back (assumption).
SLIPS = 1 / 40
# Half of the children dip, the others gain.
DIPPING = (0.5, 0.0, 0.0, 0.0, 0.0, 0.0, 0.5)


def slipped(value: float, *, doubled: bool) -> float:
    """A count as it is typed by mistake: its last digit twice, or its first one left out.

    >>> slipped(13.0, doubled=True), slipped(13.0, doubled=False)
    (133.0, 3.0)
    """
    digits = str(int(value))
    return float(digits + digits[-1] if doubled else digits[1:] or "0")


def with_slips(worlds: list[World], seed: int) -> Iterator[tuple[World, dict[int, bool]]]:
    """Each world with some counts typed wrongly, and which: the key of the result to whether a digit was doubled."""
    rng = np.random.default_rng(seed)
    for world in worlds:
        wrong, facts = {}, []
        for fact in world.facts:
            if fact.measure == RISES.facts.key and rng.random() < SLIPS:
                wrong[fact.key] = bool(rng.random() < 0.5)
                fact = replace(fact, value=slipped(fact.value, doubled=wrong[fact.key]))
            facts.append(fact)
        yield replace(world, facts=facts), wrong


def held_back(typed: list[tuple[World, dict[int, bool]]], followed: list[Followed]) -> tuple[float, float, float]:
    """Share (%) that waits to be confirmed: of counts with a digit twice, with a digit lost, and of right ones."""
    waiting: dict[bool | None, list[bool]] = {True: [], False: [], None: []}
    for (_world, wrong), each in zip(typed, followed, strict=True):
        for fact, waits in zip(each.arrays.facts, each.held_back, strict=True):
            if fact.measure == RISES.facts.key:
                waiting[wrong.get(fact.key)].append(bool(waits))
    return share(waiting[True]), share(waiting[False]), share(waiting[None])


def slips_report(seed: int) -> list[str]:
    """Rises, plain world: what slips of a digit do to the flags, and how many are held back until confirmed."""
    worlds = list(classes("plain", CLASSES, seed))
    typed = list(with_slips(worlds, seed))
    usual = found(judge_terms(worlds, follow_classes([arrays_of(w) for w in worlds]), RISES), ruling.FLAG_CHANCE)
    followed = follow_classes([arrays_of(world) for world, _wrong in typed])
    now = found(judge_terms([world for world, _wrong in typed], followed, RISES), ruling.FLAG_CHANCE)
    doubled, lost, right = held_back(typed, followed)
    return [
        f"rises, one count in 40 typed with a slip of a digit: own FA {now.false_alarms:.1f} "
        f"(none: {usual.false_alarms:.1f}), found {now.within_6:.1f} / {now.within_8:.1f} "
        f"({usual.within_6:.1f} / {usual.within_8:.1f}); held back until confirmed: a digit twice "
        f"{doubled:.0f} %, a digit lost {lost:.0f} %, right ones {right:.2f} %",
    ]


def dips_report(seed: int) -> list[str]:
    """All strands, plain world: a growth dip of four weeks, while it lasts and after it."""
    worlds = list(classes("plain", CLASSES, seed, shares=DIPPING))
    followed = follow_classes([arrays_of(world) for world in worlds])
    terms = [term for strand in STRANDS for term in judge_terms(worlds, followed, strand)]
    dips = [term for term in terms if term.line.fate == "dips"]
    during = [
        np.max(t.scores[int(t.line.change) : int(t.line.ends) + 1], initial=-np.inf) >= ruling.FLAG_CHANCE for t in dips
    ]
    last = [t.scores[-1] >= ruling.FLAG_CHANCE for t in dips]
    return [
        f"a growth dip of four weeks: called stalled or slipping while it lasts {share(during):.0f} %, of these still "
        f"four weeks after it {lingers(dips, 'dips'):.0f} %; of all, at the term's end {share(last):.0f} %",
    ]
