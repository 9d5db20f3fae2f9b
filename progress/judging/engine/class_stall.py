"""Whether most of a class has stopped gaining at once: then the programme is the question, not the child.

Knows arrays of chances only: what every student's results say against what would be said without them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from progress.judging.engine.stories import FLAT, GAINING, RULES, Rules

# Half the evidence of each student, bounded, and a fifth who may go their own way: one child cannot decide.
EVIDENCE_SHARE = 0.5
BOUND = 3.0
OWN_WAY = 0.2
STANDS_CHANCE = 0.55
# Chosen in simulation, on other seeds than the printed one: at most one in ten normal class-terms, in both worlds.
SEVERAL_SCORE, SEVERAL_SHARE = 1.0, 0.35
# A bad week looks like a stall once. The week before must have leaned the same way, if only a little.
LEANS_SCORE, LEANS_SHARE = -2.0, 0.2
# One measure: enough alone where it is the only one; one of several must say it more strongly, and of more of the
# class, so that false alarms do not add up (measured: adds at most one in a hundred).
ONLY_SCORE, ONLY_SHARE = 2.0, 0.5
ONE_OF_SEVERAL_SCORE, ONE_OF_SEVERAL_SHARE = 4.0, 0.6
# From here an undecided student is told "so is most of the class".
JOINS_CHANCE = 0.60
FEWEST_MEMBERS = 6


@dataclass(frozen=True)
class Stall:
    """measure None: several together; back: weeks ago it began; members: indexes of students."""

    measure: str | None
    back: int
    share: float
    members: tuple[int, ...]
    score: float


def prior_no_gain(
    stands_still: np.ndarray, returns: np.ndarray, first_week: int, width: int, rules: Rules = RULES
) -> np.ndarray:
    """Return (weeks, width): the chance, without results, of no gain since week w - back or earlier.

    stands_still, returns (weeks,): as in class_weeks; first_week: week of the first result. 0 before it.
    """
    return _prior(tuple(stands_still.tolist()), tuple(returns.tolist()), first_week, width, rules.redealt_share)


@lru_cache(maxsize=4096)
def _prior(stands: tuple, returns: tuple, first: int, width: int, redealt: float) -> np.ndarray:
    weeks = len(stands)
    start = np.array(RULES.first_weights)
    hazards = RULES.hazards.copy()
    hazards[GAINING, FLAT] += RULES.loss_hazard + RULES.rise_hazard
    step = hazards + np.diag(1.0 - hazards.sum(axis=1))
    now, spells = start, [start[FLAT:]]
    chance = np.zeros((weeks, width))
    for week in range(first, weeks):
        if week > first:
            moved = not stands[week - 1]
            if moved:
                now = now @ step
                spells = [spell @ step[FLAT:, FLAT:] for spell in spells]
            if returns[week]:
                now = (1.0 - redealt) * now + redealt * start
                spells = [(1.0 - redealt) * spell for spell in spells]
            spells.append(now[FLAT:])
        for back in range(width):
            since = max(week - back, first)
            chance[week, back] = spells[since - first].sum() if back <= week - first else 0.0
    return chance


def log_bayes_factor(chance: np.ndarray, prior: np.ndarray) -> np.ndarray:
    """Return ln(posterior odds / prior odds), 0 where the prior is 0; both of one shape, chances in [0, 1].

    >>> log_bayes_factor(np.array([0.5, 0.9]), np.array([0.1, 0.0])).round(3).tolist()
    [2.197, 0.0]
    """
    known = prior > 0.0
    after = np.clip(chance, 1e-9, 1.0 - 1e-9)
    before = np.where(known, np.clip(prior, 1e-9, 1.0 - 1e-9), 0.5)
    factor = np.log(after / (1.0 - after)) - np.log(before / (1.0 - before))
    return np.where(known, factor, 0.0)


def common_start(chance: np.ndarray, prior: np.ndarray) -> int:
    """Return how many weeks ago a spell that many lines share most likely began.

    chance, prior (width, lines): of no gain since week w - back or earlier, with and without results. The last row
    stands for everything before it. Each line votes with what its results say for each week as a start against
    what would be said without them; bounded, so that no single line decides.

    >>> chance = np.array([[0.9] * 6, [0.85] * 6, [0.1] * 6, [0.05] * 6])
    >>> common_start(chance, np.array([[0.4] * 6, [0.3] * 6, [0.2] * 6, [0.1] * 6]))
    1
    """
    starts, before = (np.vstack((each[:-1] - each[1:], each[-1:])) for each in (chance, prior))
    odds = np.clip(starts, 1e-9, None) / np.clip(before, 1e-9, None)
    bounded = np.clip(odds, np.exp(-BOUND), np.exp(BOUND))
    votes = np.where(before > 0.0, np.log(OWN_WAY + (1.0 - OWN_WAY) * bounded), -BOUND).sum(axis=1)
    return int(np.argmax(votes))


def class_stalls(
    factor: dict[str, np.ndarray],
    stands: dict[str, np.ndarray],
    student: dict[str, np.ndarray],
    *,
    latest_back: int = 1,
) -> tuple[Stall, ...]:
    """Return the stalls of a class in one week: one of several measures together, or of single ones.

    factor: measure -> (students, back) sum over feet of ln Bayes factors, "no gain since w - back";
    stands: measure -> (students,) present P(no gain), below the target; student: measure -> their indexes.
    Measures with fewer than six students are left out. A start later than `latest_back` weeks ago is not
    looked at.
    """
    scores, standing = _scores(factor), _standing(factor, stands)
    if len(scores) > 1:
        total = sum(scores.values())
        back, share = _best(total, latest_back), _share(standing)
        if total[back] >= SEVERAL_SCORE and share >= SEVERAL_SHARE:
            members = {one for name, each in standing.items() for one in student[name][each].tolist()}
            return (Stall(None, back, share, tuple(sorted(members)), float(total[back])),)
    several = len(scores) > 1
    needed, most = (ONE_OF_SEVERAL_SCORE, ONE_OF_SEVERAL_SHARE) if several else (ONLY_SCORE, ONLY_SHARE)
    stalls = []
    for measure, score in scores.items():
        back, share = _best(score, latest_back), float(standing[measure].mean())
        if score[back] >= needed and share >= most:
            members = tuple(student[measure][standing[measure]].tolist())
            stalls.append(Stall(measure, back, share, members, float(score[back])))
    return tuple(stalls)


def leans(stall: Stall, factor: dict[str, np.ndarray], stands: dict[str, np.ndarray], *, latest_back: int = 1) -> bool:
    """Return whether a week, the one before the stall is said, leaned its way; arguments as in `class_stalls`."""
    scores, standing = _scores(factor), _standing(factor, stands)
    measures = [measure for measure in scores if stall.measure in (None, measure)]
    if not measures:
        return False
    total = sum(scores[measure] for measure in measures)
    share = _share({measure: standing[measure] for measure in measures})
    return bool(total[_best(total, latest_back)] >= LEANS_SCORE and share >= LEANS_SHARE)


def _scores(factor: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    scores = {}
    for measure, each in factor.items():
        if each.shape[0] >= FEWEST_MEMBERS:
            evidence = np.clip(EVIDENCE_SHARE * each, -BOUND, BOUND)
            scores[measure] = np.log(OWN_WAY + (1.0 - OWN_WAY) * np.exp(evidence)).sum(axis=0)
    return scores


def _standing(factor: dict[str, np.ndarray], stands: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    return {name: stands[name] > STANDS_CHANCE for name, each in factor.items() if each.shape[0] >= FEWEST_MEMBERS}


def _share(standing: dict[str, np.ndarray]) -> float:
    return float(np.mean([each.mean() for each in standing.values()]))


def _best(score: np.ndarray, latest_back: int) -> int:
    return latest_back + int(np.argmax(score[latest_back:]))
