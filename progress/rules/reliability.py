"""How far one result can be trusted: typical error, smallest real change, agreement; knows numbers only.

Sources: Weir JP (2005) J Strength Cond Res 19(1):231-240; Shrout PE, Fleiss JL (1979) Psychol Bull 86:420-428;
Jacobson NS, Truax P (1991) J Consult Clin Psychol 59:12-19; Hopkins WG (2000) Sports Med 30(1):1-15.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from progress.judging.engine import normal

# Two-sided normal points.
Z95, Z90 = 1.959963984540054, 1.6448536269514722


def sem_from_icc(sd: float, icc: float) -> float:
    """Return SD sqrt(1 - ICC), in the unit of `sd`; sd >= 0, icc at most 1. ValueError otherwise.

    Example (Mishra 2023, children 8 to 12 years, different day): SD 4.8 reps, ICC 0.70.

    >>> round(sem_from_icc(4.8, 0.70), 3)
    2.629
    """
    if sd < 0 or icc > 1:
        raise ValueError("sd must not be negative and icc must not exceed 1")
    return sd * math.sqrt(1.0 - icc)


def sem_from_differences(sd_difference: float) -> float:
    """Return the typical error SDdiff / sqrt(2) of one result, from the sd of test-retest differences.

    >>> round(sem_from_differences(10.687), 3)
    7.557
    """
    return sd_difference / math.sqrt(2.0)


def sd_difference_from_limits(low: float, high: float) -> float:
    """Return the sd of differences behind 95 % limits of agreement.

    Example (Hebert-Losier 2017): limits -6.2 to 6.5 reps.

    >>> round(sd_difference_from_limits(-6.2, 6.5), 3)
    3.24
    """
    return (high - low) / (2.0 * Z95)


def smallest_real_change(sem: float, z: float = Z95) -> float:
    """Return the minimal detectable change SEM z sqrt(2): two single results must differ by more.

    z: 1.96 for 95 %, 1.645 for 90 %. Example (Ross & Fontenot 2000): SEM 2.07 reps.

    >>> round(smallest_real_change(2.07), 2)
    5.74
    """
    return sem * z * math.sqrt(2.0)


def reliable_change(before: float, after: float, sd: float, reliability: float) -> float:
    """Return the reliable change index (after - before) / (SE sqrt(2)), SE = SD sqrt(1 - r).

    Beyond +-1.96 the change is reliable. sd > 0, reliability below 1, else ZeroDivisionError.
    Example (Jacobson & Truax 1991): 32.5 to 47.5, SD 7.5, r 0.80.

    >>> round(reliable_change(32.5, 47.5, 7.5, 0.80), 3)
    3.162
    """
    return (after - before) / (sem_from_icc(sd, reliability) * math.sqrt(2.0))


@dataclass(frozen=True)
class Agreement:
    """Intraclass correlations of n subjects by k trials, single and mean of k, and the SEM sqrt(MS error).

    icc_1: one-way random; icc_2: two-way random, absolute; icc_3: two-way mixed, consistency.
    """

    icc_1: float
    icc_2: float
    icc_3: float
    icc_1_mean: float
    icc_2_mean: float
    icc_3_mean: float
    sem: float
    sd_total: float


def agreement(scores: np.ndarray) -> Agreement:
    """Return the agreement of `scores` (subjects, trials), both at least 2, without gaps. ValueError otherwise.

    Mean squares as in Shrout & Fleiss 1979; sem is sqrt(MS error) as in Weir 2005 (7.6 for data set A there).
    """
    scores = np.asarray(scores, dtype=float)
    if scores.ndim != 2 or min(scores.shape) < 2 or not np.isfinite(scores).all():
        raise ValueError("scores must be at least two subjects by two trials, without gaps")
    n, k = scores.shape
    subject, trial, grand = scores.mean(axis=1), scores.mean(axis=0), scores.mean()
    between = k * float(((subject - grand) ** 2).sum()) / (n - 1)
    judges = n * float(((trial - grand) ** 2).sum()) / (k - 1)
    within = float(((scores - subject[:, None]) ** 2).sum()) / (n * (k - 1))
    rest = scores - subject[:, None] - trial[None, :] + grand
    error = float((rest**2).sum()) / ((n - 1) * (k - 1))
    return Agreement(
        icc_1=(between - within) / (between + (k - 1) * within),
        icc_2=(between - error) / (between + (k - 1) * error + k * (judges - error) / n),
        icc_3=(between - error) / (between + (k - 1) * error),
        icc_1_mean=(between - within) / between,
        icc_2_mean=(between - error) / (between + (judges - error) / n),
        icc_3_mean=(between - error) / between,
        sem=math.sqrt(error),
        sd_total=float(scores.std(ddof=1)),
    )


def estimate_error(sd: float, icc: float) -> float:
    """Return the standard error of estimating a true score, SD sqrt(ICC (1 - ICC)) (Weir 2005)."""
    return sd * math.sqrt(icc * (1.0 - icc))


def prediction_error(sd: float, icc: float) -> float:
    """Return the standard error of predicting a retest, SD sqrt(1 - ICC^2) (Weir 2005)."""
    return sd * math.sqrt(1.0 - icc * icc)


def side_index(left: float, right: float) -> float:
    """Return the smaller over the larger side in per cent; 100 for two zeros. Both at least 0.

    >>> side_index(18, 20), side_index(0, 0)
    (90.0, 100.0)
    """
    larger = max(left, right)
    return 100.0 if larger == 0 else 100.0 * min(left, right) / larger


def chance_index_below(limit_percent: float, level: float, sem: float) -> float:
    """Return how often two equal sides at `level` repetitions fall below a side index, by wobble alone.

    Normal wobble of `sem` on either side, independent, rounded to whole repetitions, none below zero. At 20
    reps and SEM 2.5 a 90 % rule fails half of all equal feet (evidence 6: 0.52, simulated).

    >>> round(chance_index_below(90.0, 20.0, 2.5), 2)
    0.52
    """
    counts = np.arange(0, int(level + 9.0 * sem) + 2)
    upper = normal.cdf((counts + 0.5 - level) / sem)
    chance = np.diff(upper, prepend=0.0)
    smaller = np.minimum.outer(counts, counts)
    larger = np.maximum.outer(counts, counts)
    below = 100.0 * smaller < limit_percent * larger
    return float(chance @ below @ chance)
