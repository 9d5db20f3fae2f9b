"""How well two people who scored the same children agree: a bias and one figure, for training; knows numbers only."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

# The two-sided normal point of 95 per cent.
Z95 = 1.959963984540054
# Fewer pairs say nothing about two people (our choice; a decent error estimate wants about 50, Hopkins 2000).
FEWEST_PAIRS = 5


@dataclass(frozen=True)
class PairAgreement:
    """Of two people on one measure: pairs scored, mean difference second minus first with its 95 % limits, and the
    agreement: weighted kappa for grades, ICC (two-way random, absolute, single) for numbers; None where the scores
    do not differ enough to tell."""

    pairs: int
    bias: float
    bias_low: float
    bias_high: float
    figure: float | None
    kind: str


def weighted_kappa(first: Sequence[int], second: Sequence[int], grades: int) -> float | None:
    """Return Cohen's kappa with linear weights for two lists of grades 0 .. grades - 1, of one length.

    None where chance alone agrees fully (everybody gave one and the same grade). Cohen J (1968) Psychol Bull
    70:213-220. Raises ValueError for unequal lengths or no pairs.

    >>> round(weighted_kappa([0, 1, 2, 2], [0, 1, 1, 2], 3), 3)
    0.714
    """
    if len(first) != len(second) or not first:
        raise ValueError("two lists of the same length, with at least one pair")
    table = np.zeros((grades, grades))
    np.add.at(table, (np.asarray(first), np.asarray(second)), 1.0 / len(first))
    steps = np.arange(grades)
    distance = np.abs(np.subtract.outer(steps, steps))
    by_chance = float((distance * np.outer(table.sum(axis=1), table.sum(axis=0))).sum())
    return None if by_chance == 0 else 1.0 - float((distance * table).sum()) / by_chance


def absolute_agreement(scores: np.ndarray) -> float:
    """Return the intraclass correlation, two-way random, absolute, single, of `scores` (subjects, trials).

    Both at least 2, without gaps; ValueError otherwise. Shrout PE, Fleiss JL (1979) Psychol Bull 86:420-428.
    """
    if scores.ndim != 2 or min(scores.shape) < 2 or not np.isfinite(scores).all():
        raise ValueError("scores must be at least two subjects by two trials, without gaps")
    n, k = scores.shape
    subject, trial, grand = scores.mean(axis=1), scores.mean(axis=0), scores.mean()
    between = k * float(((subject - grand) ** 2).sum()) / (n - 1)
    judges = n * float(((trial - grand) ** 2).sum()) / (k - 1)
    rest = scores - subject[:, None] - trial[None, :] + grand
    error = float((rest**2).sum()) / ((n - 1) * (k - 1))
    return (between - error) / (between + (k - 1) * error + k * (judges - error) / n)


def student_point(freedom: int) -> float:
    """Return the two-sided 95 % point of Student's t, to 0.001 from four degrees of freedom on; freedom >= 1.

    Cornish and Fisher's expansion around the normal point (Abramowitz and Stegun 1964, 26.7.5, from memory).

    >>> round(student_point(4), 2), round(student_point(30), 2)
    (2.78, 2.04)
    """
    terms = (
        (Z95**3 + Z95) / 4,
        (5 * Z95**5 + 16 * Z95**3 + 3 * Z95) / 96,
        (3 * Z95**7 + 19 * Z95**5 + 17 * Z95**3 - 15 * Z95) / 384,
        (79 * Z95**9 + 776 * Z95**7 + 1482 * Z95**5 - 1920 * Z95**3 - 945 * Z95) / 92160,
    )
    return Z95 + sum(term / freedom**power for power, term in enumerate(terms, start=1))


def pair_agreement(first: Sequence[float], second: Sequence[float], *, grades: int | None) -> PairAgreement | None:
    """Return the agreement of two people's scores of the same children, in the same order; None below FEWEST_PAIRS.

    grades: how many grades the measure has, None for counts and seconds (the latter as natural logarithms).
    """
    if len(first) < FEWEST_PAIRS:
        return None
    difference = np.asarray(second, dtype=float) - np.asarray(first, dtype=float)
    bias, count = float(difference.mean()), len(difference)
    margin = student_point(count - 1) * float(difference.std(ddof=1)) / math.sqrt(count)
    if grades is not None:
        figure, kind = weighted_kappa([int(v) for v in first], [int(v) for v in second], grades), "kappa"
    else:
        scores = np.column_stack([first, second]).astype(float)
        figure = absolute_agreement(scores) if np.ptp(scores) > 0 else None
        kind = "icc"
    return PairAgreement(count, bias, bias - margin, bias + margin, figure, kind)
