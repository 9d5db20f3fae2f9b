"""How far two takings of the same measure agree; knows numbers only.

Sources: Weir JP (2005) J Strength Cond Res 19(1):231-240; Shrout PE, Fleiss JL (1979) Psychol Bull 86:420-428.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

# The two-sided normal point of 95 per cent.
Z95 = 1.959963984540054


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
