"""The limit for sudden losses: a rule that knows the plain world, the law of the losses, every accident and bad week.

It sees one foot's days and values, as the judge's own stories do; no rule that sees no more can find more of them at as
few false ones.
"""

from __future__ import annotations

import numpy as np

from tests.bench.exact_rule import paces_of
from tests.bench.true_lines import TrueLine
from tests.bench.worlds import ACCIDENT_WOBBLE, CLASS_DAY, World

# Equally likely shares of the level that are lost, as the bench plays them.
SHARES = np.linspace(0.4, 0.8, 9)
FEWEST_BEFORE, WITHIN = 4, 2


def loss_evidence(world: World, line: TrueLine, *, first_lost: int | None = None) -> float:
    """Log of how much likelier the results are with a loss than without one, at its height: over every place where it
    may have come, after one result and after two; first_lost: at this place only (number of the first low result)."""
    rows = [fact.key for fact in world.facts if (fact.student, fact.measure, fact.side) == line.key]
    is_hold = line.strand.facts.scale == "hold"
    raw = np.array([world.facts[row].value for row in rows])
    values = np.log(np.maximum(raw, 0.5)) if is_hold else raw
    values = values - np.array([world.shifts[row] for row in rows])
    accident = np.array([world.accidents[row] for row in rows])
    wobble = (np.where(accident, ACCIDENT_WOBBLE, 1.0) * line.wobble) ** 2
    times = np.array([(world.facts[row].on - world.day(0, 0)).days - CLASS_DAY for row in rows]) / 7.0
    best = -np.inf
    places = range(FEWEST_BEFORE, len(rows)) if first_lost is None else [first_lost]
    for place in places:
        for stop in range(place + 1, min(place + WITHIN, len(rows)) + 1):
            known = slice(0, stop)
            lost = np.arange(stop) >= place
            with_loss = _likelihood(line, values[known], times[known], wobble[known], lost, SHARES)
            none = _likelihood(line, values[known], times[known], wobble[known], lost, np.zeros(1))
            best = max(best, with_loss - none)
    return best


def _likelihood(line, values, times, wobble, lost, shares) -> float:  # noqa: ANN001
    # Log of the mean over paces and shares, the start level integrated out.
    middle, spread = line.strand.start
    pace = (line.strand.gain * paces_of("working"))[:, None, None]
    left = np.where(lost, 1.0 - shares[:, None], 1.0)[None]
    if line.strand.facts.scale == "hold":
        slope, shift, variance = np.ones_like(left), np.log(left), np.broadcast_to(wobble + 0.001, left.shape)
    else:
        slope, shift, variance = left, np.zeros_like(left), wobble * left**2 + 1.0 / 12.0
    off = values - slope * (middle + pace * times) - shift
    first = (slope * off / variance).sum(axis=2)
    precision = (slope**2 / variance).sum(axis=2) + 1.0 / spread**2
    log = -0.5 * ((off**2 / variance).sum(axis=2) - first**2 / precision + np.log(precision))
    log = log - 0.5 * np.log(variance).sum(axis=2)
    return float(log.max() + np.log(np.mean(np.exp(log - log.max()))))
