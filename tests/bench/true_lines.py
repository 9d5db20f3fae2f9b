"""The truth of simulated lines: where each child starts, gains, stands still; knows no result and no judge."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from progress.judging.engine.stories import WORTHWHILE_GAIN
from progress.judging.judgement import MeasureFacts

SIDES = ("L", "R")
BREAK_WEEKS = 4
# A working programme brings 0.3 to 1.0 rises a week, 0.65 typically; other strands in proportion. The bench also
# prints what happens when some gain more slowly (PACES).
SLOWEST_GAIN, FASTEST_GAIN = 0.3 / 0.65, 1.0 / 0.65
# The fastest that is played: four times the usual (a beginner's first term).
LARGEST_GAIN = 4.0
# Children who stand still are not nailed down: growing up alone brings about 0.06 rises a week.
LEVEL_PACE_SD = 0.08
# Share of the variance that is the form of the child, the same in both feet: differences of one day have an sd of
# 1.22 typical errors instead of 1.41. It lasts: six tenths of it are left a week later.
FORM_SHARE, FORM_LASTS = 1.0 - 1.22**2 / 2.0, 0.6
FADES_WEEKS = 4
FATES = ("gaining", "stall", "flat", "slipping", "at_target", "recovers", "dips")
# A growth dip: so many weeks down by a typical gain each, then back up twice as fast, to where gaining goes on.
DIP_WEEKS = 4


@dataclass(frozen=True)
class Strand:
    """One measure as simulated: start level mean and sd, wobble sd, typical weekly gain, working scale."""

    facts: MeasureFacts
    start: tuple[float, float]
    wobble: float
    gain: float


STRANDS = (
    Strand(MeasureFacts("rises", "count", 2.4, 3.0, 0.65), (13.0, 3.5), 2.4, 0.65),
    Strand(MeasureFacts("balance", "hold", 0.32, 0.40, 0.06), (2.1, 0.45), 0.32, 0.06),
    Strand(MeasureFacts("control", "grade", 0.5, 0.6, 0.11, 0.0, 2.0), (0.5, 0.35), 0.5, 0.11),
)
MEASURES = {strand.facts.key: strand.facts for strand in STRANDS}


@dataclass
class TrueLine:
    """The truth of one line: fate, weekly level and pace, start of the judged term.

    change: week from which it no longer gains (inf: none). Where a stall fades in this is the first week in which
    the pace is below the smallest gain worth a word: till then the child still gains. fades_from: week in which the
    pace begins to sink.
    """

    key: tuple[int, str, str]
    strand: Strand
    fate: str
    change: float
    ends: float
    level: np.ndarray
    pace: np.ndarray
    target: float
    wobble: float
    term_start: int
    fades_from: float
    form: np.ndarray = field(repr=False, default=None)


@dataclass(frozen=True)
class Child:
    """A student: number, talent (sd), wobble in usual ones, first week of the judged term, weeks in all."""

    number: int
    talent: float
    wobbles: float
    start: int
    weeks: int


def true_pair(name, rng, child, strand, fate, change, gains="working", *, fades=None) -> list[TrueLine]:  # noqa: ANN001
    middle, spread = strand.start
    level = middle + spread * (0.6 * child.talent + 0.8 * rng.normal())
    if name == "rough" and strand.facts.scale == "count":
        level = rng.uniform(20.0, 35.0) if rng.random() < 0.25 else rng.uniform(4.0, 12.0)
    paces = strand.gain * PACES[gains](rng, strand)
    change = child.start + int(rng.integers(3, 6)) if change is None else change
    one_sided = fate == "stall" and rng.random() < 0.3
    moves = int(rng.integers(2))
    form = _form(rng, child.weeks) if name == "rough" else np.zeros(child.weeks)
    fades = name == "rough" if fades is None else fades
    lines = []
    for place, side in enumerate(SIDES):
        own = "gaining" if one_sided and place == moves else fate
        base = level + 0.35 * strand.wobble * rng.normal()
        key = (child.number, strand.facts.key, side)
        lines.append(_line(name, rng, child, key, strand, own, base, paces[place], change, form, fades))
        if strand.facts.scale == "grade" and own == "at_target":
            # A grade's target is its top: they come to it and stay.
            lines[-1].level += 2.0 - lines[-1].level[-1]
    # A target counts for both feet: the higher plateau of those who stay at it, else out of this term's reach.
    reached = [line.level[-1] for line in lines if line.fate == "at_target"]
    top = min(reached) if reached else max(line.level[child.start] for line in lines) + 16.0 * strand.gain
    for line in lines:
        line.target = 2.0 if strand.facts.scale == "grade" else top
    return lines


def _working_paces(rng: np.random.Generator, strand: Strand) -> np.ndarray:
    # Of both feet, in typical gains; drawn again until both are within what a working programme brings.
    while True:
        paces = rng.uniform(SLOWEST_GAIN, FASTEST_GAIN) * rng.uniform(0.85, 1.15, len(SIDES))
        if paces.min() >= SLOWEST_GAIN and paces.max() <= FASTEST_GAIN:
            return paces


def _slow_paces(rng: np.random.Generator, strand: Strand) -> np.ndarray:
    # One child in six: slower than a working programme brings, yet both feet gain enough to be worth a word.
    if rng.random() >= 1 / 6:
        return _working_paces(rng, strand)
    return rng.uniform(WORTHWHILE_GAIN[strand.facts.scale] / strand.gain, SLOWEST_GAIN, len(SIDES))


def _all_slow(rng: np.random.Generator, strand: Strand) -> np.ndarray:
    return rng.uniform(WORTHWHILE_GAIN[strand.facts.scale] / strand.gain, SLOWEST_GAIN, len(SIDES))


def _all_fast(rng: np.random.Generator, strand: Strand) -> np.ndarray:
    return rng.uniform(FASTEST_GAIN, LARGEST_GAIN) * rng.uniform(0.85, 1.15, len(SIDES))


PACES = {"working": _working_paces, "slow": _slow_paces, "slow ones": _all_slow, "fast ones": _all_fast}


def _form(rng: np.random.Generator, weeks: int) -> np.ndarray:
    # Of unit variance, in wobble of the line.
    form = rng.normal(size=weeks)
    for week in range(1, weeks):
        form[week] = FORM_LASTS * form[week - 1] + np.sqrt(1.0 - FORM_LASTS**2) * form[week]
    return np.sqrt(FORM_SHARE) * form


def _line(name, rng, child, key, strand, fate, base, pace, begins, form, fades) -> TrueLine:  # noqa: ANN001
    at, start = np.arange(child.weeks), child.start
    paces = _gaining_paces(name, at, start, pace, strand)
    begins = start if fate == "flat" else begins
    change, ends = np.inf, np.inf
    if fate != "gaining":
        known = {"slipping": -0.8 * rng.uniform(0.7, 1.3), "at_target": 0.0, "dips": -1.0}
        goes = known.get(fate, LEVEL_PACE_SD * rng.normal())
        fade = np.clip((at - begins + 1) / FADES_WEEKS, 0.0, 1.0) if fades and fate != "flat" else 1.0
        paces = np.where(at >= begins, goes * strand.gain * fade + paces * (1.0 - fade), paces)
        change = float(at[(paces < WORTHWHILE_GAIN[strand.facts.scale]) & (at >= begins)].min())
        if fate == "recovers":
            ends = change + 5
            paces = np.where(at >= ends, pace, paces)
        if fate == "dips":
            ends = change + DIP_WEEKS
            paces = np.where(at >= ends, np.where(at < ends + DIP_WEEKS / 2, 2.0 * strand.gain, pace), paces)
    level = base + np.concatenate(([0.0], np.cumsum(paces)[:-1]))
    wobble = strand.wobble * child.wobbles
    if name == "rough" and strand.facts.scale == "count":
        wobble *= np.sqrt(2.0**2 + (0.08 * base) ** 2) / 2.4
    return TrueLine(
        key, strand, fate, change, ends, level, paces, 0.0, wobble, start,
        np.inf if fate == "gaining" else float(begins), wobble * form,
    )  # fmt: skip


def _gaining_paces(name: str, at: np.ndarray, start: int, pace: float, strand: Strand) -> np.ndarray:
    paces = np.full(at.size, pace)
    if name == "rough":
        # Toward a ceiling of one's own, faster gains to a higher one: a third faster at first, half of that after
        # 20 weeks of training; never below the smallest gain worth a word, where it would no longer be gaining.
        trained = at - np.clip(at - start + BREAK_WEEKS, 0, BREAK_WEEKS) * (start > 0)
        slowest = max(0.4 * strand.gain, WORTHWHILE_GAIN[strand.facts.scale])
        paces = np.maximum(1.33 * pace * 0.5 ** (trained / 20.0), slowest)
    if start:
        paces[start - BREAK_WEEKS : start] = 0.0
    return paces
