"""What a studio's own finished terms teach the judge: typical error and typical gain; knows numbers only."""

from __future__ import annotations

import itertools
import math
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from progress.judging.engine.stories import Scale

# The default counts as much as twenty pairs of results, or twenty terms (assumption).
DEFAULT_WEIGHT = 20.0
# Results closer than a week share the form of those days; after three weeks the gain itself matters too much.
NEAREST_DAYS, FARTHEST_DAYS = 7, 21
# A pair counts for at most this many variances, and the cut-off is paid back by the factor: for normal
# differences d, 1.2 min(d^2 / 2, 2.7 v) has the mean v to 5 % (tested by simulation).
CLIP_VARIANCES, CLIP_FACTOR = 2.7, 1.2
# Below this a small error is luck (assumption).
LOWEST_SHARE = 0.85
_ROUNDS = 50


@dataclass(frozen=True)
class Repeat:
    """One result of the working scale (reps, ln seconds, grade as written) with what must agree for a pair."""

    student: Hashable
    side: str
    assessor: Hashable
    on: date
    value: float
    protocol: Hashable = 1


def pair_differences(results: Iterable[Repeat], *, scale: Scale | None = None) -> list[float]:
    """Return differences of pairs 7 to 21 days apart, less the usual gain over that time; no result used twice.

    Pairs are of one student, side, measure, assessor and protocol, the nearest later result first. The usual
    gain is the median of the differences per week. scale: counts wobble more the higher they are, and the filter
    scales a typical error by the level; with it each difference is brought to the level at which the typical
    error holds (17 rises), else beginners would have it lowered twice. Empty without a pair.
    """
    groups: dict[tuple, list[Repeat]] = {}
    for each in results:
        groups.setdefault((each.student, each.side, each.assessor, each.protocol), []).append(each)
    pairs = list(itertools.chain.from_iterable(_pairs(group) for group in groups.values()))
    if not pairs:
        return []
    usual = float(np.median([(second - first) / weeks for first, second, weeks in pairs]))
    return [
        (second - first - usual * weeks) / _usual_wobble(scale, 0.5 * (first + second))
        for first, second, weeks in pairs
    ]


def _usual_wobble(scale: Scale | None, level: float) -> float:
    # In typical errors, as lines.result_variance has it.
    if scale is None:
        return 1.0
    return math.hypot(scale.wobble_floor_share, scale.wobble_per_level_share * level)


def _pairs(group: list[Repeat]) -> list[tuple[float, float, float]]:
    ordered, used, pairs = sorted(group, key=lambda each: (each.on, each.value)), set(), []
    for at, first in enumerate(ordered):
        if at in used:
            continue
        for later in range(at + 1, len(ordered)):
            days = (ordered[later].on - first.on).days
            if later not in used and NEAREST_DAYS <= days <= FARTHEST_DAYS:
                used |= {at, later}
                pairs.append((first.value, ordered[later].value, days / 7.0))
                break
    return pairs


def learned_error(differences: Sequence[float], *, default: float, rounding_variance: float) -> float:
    """Return the typical error of a measure, from differences of pairs and a default; same unit.

    SEM^2 + rounding = (20 (SEM0^2 + rounding) + 1.2 sum min(d^2 / 2, 2.7 (SEM^2 + rounding))) / (20 + n),
    iterated from the default; never below 0.85 of the default. No differences: the default. default > 0.

    >>> learned_error([], default=2.4, rounding_variance=1 / 12)
    2.4
    """
    halves = 0.5 * np.square(np.asarray(differences, dtype=float))
    start = default**2 + rounding_variance
    variance = start
    for _ in range(_ROUNDS):
        clipped = np.minimum(halves, CLIP_VARIANCES * variance).sum()
        variance = (DEFAULT_WEIGHT * start + CLIP_FACTOR * clipped) / (DEFAULT_WEIGHT + halves.size)
    return max(LOWEST_SHARE * default, math.sqrt(max(variance - rounding_variance, 0.0)))


@dataclass(frozen=True)
class FinishedTerm:
    """How one line's term ended: chance that it was gaining, and its pace if it was (working scale, a week)."""

    p_gain: float
    pace_gaining: float


def learned_gain(terms: Iterable[FinishedTerm], *, default: float, mean_in_gains: float = 0.92) -> float:
    """Return the typical weekly gain u: (20 u0 + sum P pace / 0.92) / (20 + sum P). No term: the default.

    mean_in_gains: mean pace of a gaining line in units of u, as the stories assume.

    >>> round(learned_gain([FinishedTerm(1.0, 0.46)] * 20, default=0.65), 3)
    0.575
    """
    known = list(terms)
    weight = sum(term.p_gain for term in known)
    total = sum(term.p_gain * term.pace_gaining for term in known) / mean_in_gains
    return (DEFAULT_WEIGHT * default + total) / (DEFAULT_WEIGHT + weight)
