"""Whether a line has been level since its term began: a straight line through all of it, and the other foot's beside.

Knows arrays only. The stories ask about last week and forget; over a whole term a line of usual wobble shows itself.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from progress.judging.engine import normal
from progress.judging.engine.facts import LineKey
from progress.judging.engine.plain_sight import Sunk
from progress.judging.engine.points import Points
from progress.judging.engine.stretch import WORTHWHILE_SHARE

# What a gain brings over a term, in usual gains: all between these alike; and how level "level" is.
SLOWEST, FASTEST, LEVEL_SD = 0.38, 1.55, 0.1
# In a later term gains are smaller, and form that lasts makes results agree more than they should.
LATER_GAINS, LASTING_ERRORS = 0.75, 1.1
# So many results, over so many weeks of the term, or nothing is said.
FEWEST, SHORTEST_WEEKS = 6, 5.7
# From here it is level (log of how much likelier than a gain all along): of one foot alone; of both together, where
# this one says so itself and the other is not let to say more than so much beyond it; in later terms so much more.
# Chosen in simulation, on other seeds than the printed one (see tests/bench).
ALONE, BOTH, ITSELF, OTHER_BEYOND, LATER_MORE = 3.0, 1.3, 0.2, 1.0, 0.5
# The same of a line that has no other foot.
LONE = 1.2
NOTHING = -1e3
# It sinks or rises: by so many errors of its slope, as fast as a gain worth a word, and half of that over the last
# weeks; a rise over so many weeks.
LEANS_ERRORS, LAST_WEEKS, RISES_WEEKS = 2.0, 6.0, 4.7


def level_margin(points: Points, keys: Sequence[LineKey], gain: np.ndarray) -> np.ndarray:
    """Return (weeks, n) by how much (log of a likelihood ratio) the term so far is beyond what level asks for.

    keys: of the lines, in order; gain (n,): a usual one a week. NOTHING where too few results say anything, or a cap
    was reached.
    """
    if not points.line.size:
        return np.full(points.last.shape, NOTHING)
    own, later = _evidence(points, gain)
    other = other_feet(keys)
    beside = np.where(other >= 0, own[:, other], NOTHING)
    together = own + np.minimum(beside, own + OTHER_BEYOND) - BOTH - LATER_MORE * later
    told = (own >= ITSELF + 0.5 * LATER_MORE * later) & (beside > NOTHING)
    asked = np.where(other >= 0, ALONE, LONE) + 0.5 * LATER_MORE * later
    margin = np.maximum(own - asked, np.where(told, together, NOTHING))
    return np.round(np.where(own > NOTHING, margin, NOTHING), 9)


def sinking(points: Points, gain: np.ndarray) -> Sunk:
    """Return where the whole term lies on a line that sinks, and goes on sinking; gain (n,): a usual one a week."""
    shape = points.last.shape
    if not points.line.size:
        return Sunk(np.full(shape, -1), np.zeros(shape), np.zeros(shape))
    found, slope, error = _leans(points, -gain, SHORTEST_WEEKS)
    told = _known_now(points) & found[points.last]
    since = np.where(told, points.week[points.begins[points.last]], -1)
    return Sunk(since, *(np.where(told, each[points.last], 0.0) for each in (slope, error)))


def rising(points: Points, gain: np.ndarray) -> np.ndarray:
    """Return (weeks, n) where the whole term lies on a line that rises, and goes on rising."""
    if not points.line.size:
        return np.zeros(points.last.shape, dtype=bool)
    return _known_now(points) & _leans(points, gain, RISES_WEEKS)[0][points.last]


def _leans(points: Points, gain: np.ndarray, weeks: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    # Whether a line goes that way, as of each point, and its slope and error; gain below nothing: down.
    place, begins, usual = np.arange(points.line.size), points.begins, gain[points.line]
    slope, error = points.through(begins, place)[0], points.own_error(begins, place)
    late = np.minimum(np.maximum(points.since_time(points.line, points.time - LAST_WEEKS), begins), place)
    found = (place - begins + 1 >= FEWEST) & (points.time - points.time[begins] >= weeks) & ~points.capped
    pace = np.sign(usual) * slope
    found &= (pace >= LEANS_ERRORS * error) & (pace >= WORTHWHILE_SHARE * np.abs(usual))
    found &= points.through(late, place)[0] / usual >= 0.5 * WORTHWHILE_SHARE
    return found, slope, error


def other_feet(keys: Sequence[LineKey]) -> np.ndarray:
    """Return (n,) the column of the other foot of each line, -1 without one.

    >>> other_feet([("Ida", "rises", "L"), ("Ida", "rises", "R"), ("Jo", "rises", "L")]).tolist()
    [1, 0, -1]
    """
    place = {key: column for column, key in enumerate(keys)}
    swapped = {"L": "R", "R": "L"}
    return np.array([place.get((*key[:2], swapped.get(key[2])), -1) for key in keys], dtype=np.intp)


def _evidence(points: Points, gain: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    # (weeks, n): log of level all along over gained all along, as of the last result; and whether the term is a later
    # one of the class.
    place = np.arange(points.line.size)
    usual = gain[points.line] * np.where(points.term > 0, LATER_GAINS, 1.0)
    slope, error, _middle = points.through(points.begins, place)
    enough = (place - points.begins + 1 >= FEWEST) & ~points.capped
    enough &= points.time - points.time[points.begins] >= SHORTEST_WEEKS
    told = np.where(enough, _log_ratio(slope / usual, LASTING_ERRORS * error / usual), NOTHING)
    known = _known_now(points)
    return np.where(known, told[points.last], NOTHING), known & (points.term[points.last] > 0)


def _known_now(points: Points) -> np.ndarray:
    # (weeks, n): there is a result of the present term.
    return (points.last >= 0) & (points.term[points.last] == points.term_now[:, None])


def _log_ratio(slope: np.ndarray, error: np.ndarray) -> np.ndarray:
    wide = np.sqrt(error**2 + LEVEL_SD**2)
    level = np.exp(-0.5 * (slope / wide) ** 2) / (wide * np.sqrt(2.0 * np.pi))
    gains = (normal.cdf((FASTEST - slope) / error) - normal.cdf((SLOWEST - slope) / error)) / (FASTEST - SLOWEST)
    return np.log(np.maximum(level, 1e-12)) - np.log(np.maximum(gains, 1e-12))
