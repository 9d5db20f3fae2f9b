"""What a whole class shares: a bad week, the eye of an assessor; estimated so that no child answers for them.

Knows arrays only. Ridge regression, each week from the results known by then.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

# With fewer students a bad week cannot be told from a few bad days (assumption).
FEWEST_STUDENTS = 6
# Prior sd, in typical errors: a bad week of the class, an assessor's eye, own level (wide).
BAD_WEEK_SD = 0.3
ASSESSOR_SD = 0.5
OWN_LEVEL_SD = 4.0
# Prior sd, in typical weekly gains: own trend round the common one, the common trend, each common bend.
OWN_TREND_SD = 0.5
COMMON_TREND_SD = 1.0
BEND_SD = 0.7
BEND_EVERY_WEEKS = 3
# A result further off than this many typical errors is pulled in: one accident is not a bad week.
CLIP_ERRORS = 2.5
_ROUNDS = 2


@dataclass(frozen=True)
class SharedRows:
    """Results of one class, measure and term; arrays (m,), sorted by week.

    line, student: index; week: 0 is the first week; time: class weeks; assessor: index; value: working scale.
    """

    line: np.ndarray
    student: np.ndarray
    week: np.ndarray
    time: np.ndarray
    assessor: np.ndarray
    value: np.ndarray


def shared_offsets(rows: SharedRows, *, error: float, gain: float) -> np.ndarray:
    """Return (m,) what to subtract from each result: bad week plus assessor, as known that week.

    Fit of week k to all results up to week k: own level + own trend + common bends + bad week + assessor,
    residuals clipped at 2.5 errors. Levels, trends and common bends are not subtracted: a class that
    stands still must stay visible. 0 until six students have a result. error > 0, gain > 0: working scale.
    """
    if rows.value.size == 0 or np.unique(rows.student).size < FEWEST_STUDENTS:
        return np.zeros(rows.value.size)
    weeks = int(rows.week.max()) + 1
    design, precision = _common_design(rows, weeks, error, gain)
    known = rows.week[None, :] <= np.arange(weeks)[:, None]
    own = np.stack((np.ones(rows.value.size), rows.time - rows.time[0]), axis=1)
    own_precision = np.diag([1.0 / (OWN_LEVEL_SD * error) ** 2, 1.0 / (OWN_TREND_SD * gain) ** 2])
    fit = _Fit(rows, design, own, known, precision, own_precision, error)
    goal = np.broadcast_to(rows.value, known.shape)
    for _ in range(_ROUNDS):
        expected = fit.expected(goal)
        room = CLIP_ERRORS * error
        goal = np.clip(rows.value, expected - room, expected + room)
    shared, _ = fit.solve(goal)
    bends = design.shape[1] - weeks - (int(rows.assessor.max()) + 1)
    offset = (design[:, bends:] * shared[rows.week, bends:]).sum(axis=1)
    # Rounded, so that weeks still to come cannot change it by the last bit of their arithmetic.
    return np.round(np.where(_students_so_far(rows, weeks)[rows.week] >= FEWEST_STUDENTS, offset, 0.0), 6)


def _students_so_far(rows: SharedRows, weeks: int) -> np.ndarray:
    first = np.full(int(rows.student.max()) + 1, weeks)
    np.minimum.at(first, rows.student, rows.week)
    return np.cumsum(np.bincount(first, minlength=weeks + 1)[:weeks])


def _common_design(rows: SharedRows, weeks: int, error: float, gain: float) -> tuple[np.ndarray, np.ndarray]:
    time = rows.time - rows.time[0]
    knots = np.arange(BEND_EVERY_WEEKS, time.max(), BEND_EVERY_WEEKS)
    bends = np.maximum(time[:, None] - knots[None, :], 0.0)
    assessors = int(rows.assessor.max()) + 1
    parts = (
        np.ones((time.size, 1)),
        time[:, None],
        bends,
        np.eye(weeks)[rows.week],
        np.eye(assessors)[rows.assessor],
    )
    spread = np.concatenate(
        (
            [np.inf, COMMON_TREND_SD * gain],
            np.full(knots.size, BEND_SD * gain),
            np.full(weeks, BAD_WEEK_SD * error),
            # With one assessor only, the common level takes it up: the effect stays 0.
            np.full(assessors, ASSESSOR_SD * error),
        )
    )
    return np.concatenate(parts, axis=1), 1.0 / spread**2


class _Fit:
    """Normal equations of every week at once; own levels and trends are eliminated line by line."""

    def __init__(self, rows, design, own, known, precision, own_precision, error) -> None:
        self.rows, self.design, self.own, self.known = rows, design, own, known
        self.noise = 1.0 / error**2
        self.place = np.eye(int(rows.line.max()) + 1)[rows.line]
        weeks, lines, common = known.shape[0], self.place.shape[1], design.shape[1]
        cuts = np.searchsorted(rows.week, np.arange(weeks + 1)).tolist()
        every = np.concatenate((design, own), axis=1)
        cross = (own[:, :, None] * every[:, None, :]).reshape(own.shape[0], -1)
        # Sums of everything up to each week: over all lines, and line by line.
        sums = np.empty((weeks, lines, cross.shape[1]))
        shared = np.empty((weeks, common, common))
        for week, (start, stop) in enumerate(itertools.pairwise(cuts)):
            np.matmul(self.place[start:stop].T, cross[start:stop], out=sums[week])
            np.matmul(design[start:stop].T, design[start:stop], out=shared[week])
        sums = np.cumsum(sums, axis=0, out=sums).reshape(weeks, lines, own.shape[1], -1) * self.noise
        shared = np.cumsum(shared, axis=0, out=shared) * self.noise + np.diag(precision)
        own_own = sums[..., common:] + own_precision
        self.own_common = np.ascontiguousarray(sums[..., :common])
        self.own_inverse = _inverse_of_pairs(own_own)
        self.solved = self.own_inverse @ self.own_common
        flat = (weeks, 2 * lines, common)
        schur = shared - self.own_common.reshape(flat).transpose(0, 2, 1) @ self.solved.reshape(flat)
        self.schur_inverse = np.linalg.inv(schur)

    def solve(self, goal: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return (weeks, common parameters) and (weeks, lines, 2) own sums, for goals (weeks, m)."""
        seen = np.where(self.known, goal, 0.0) * self.noise
        common = seen @ self.design
        own = np.stack([(seen * self.own[:, part]) @ self.place for part in range(2)], axis=2)
        weeks = own.shape[0]
        flat = self.solved.reshape(weeks, -1, common.shape[1])
        right = common - (own.reshape(weeks, 1, -1) @ flat)[:, 0]
        return (self.schur_inverse @ right[:, :, None])[:, :, 0], own

    def expected(self, goal: np.ndarray) -> np.ndarray:
        """Return (weeks, m) fitted values, for goals (weeks, m)."""
        shared, own = self.solve(goal)
        weeks = own.shape[0]
        told = self.own_common.reshape(weeks, -1, shared.shape[1]) @ shared[:, :, None]
        rest = own - told.reshape(own.shape)
        personal = (self.own_inverse @ rest[..., None])[..., 0]
        fitted = shared @ self.design.T
        for part in range(2):
            fitted += personal[:, self.rows.line, part] * self.own[:, part]
        return fitted


def _inverse_of_pairs(matrices: np.ndarray) -> np.ndarray:
    # Of symmetric positive 2 by 2 matrices (..., 2, 2), by Cramer's rule: many times faster than a solver.
    a, b, c = matrices[..., 0, 0], matrices[..., 0, 1], matrices[..., 1, 1]
    turned = np.stack((np.stack((c, -b), axis=-1), np.stack((-b, a), axis=-1)), axis=-2)
    return turned / (a * c - b * b)[..., None, None]
