"""The three stories a line of results can tell, and every number the judge assumes; knows no student."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

GAINING, FLAT, SLIPPING = 0, 1, 2
# Each story has ways of going, one row of the filter each: a gain or a loss much faster than usual, and level after
# a sudden loss or rise. The first three rows are the usual ways of the three stories.
FAST, FALLING, LOST, RISEN = 3, 4, 5, 6
STORY_OF_ROW = (GAINING, FLAT, SLIPPING, GAINING, SLIPPING, FLAT, FLAT)
GAINS = tuple(row for row, story in enumerate(STORY_OF_ROW) if story == GAINING)
STANDS = tuple(row for row, story in enumerate(STORY_OF_ROW) if story != GAINING)


@dataclass(frozen=True)
class Loss:
    """How much a sudden loss takes: a share of the level or so much, the larger, and its sd likewise.

    least, least_sd: of the working scale; in typical errors where `in_errors`.
    """

    share: float
    least: float
    sd_share: float
    least_sd: float
    in_errors: bool


@dataclass(frozen=True)
class Scale:
    """How one kind of measure is worked with: prior level, rounding, growth of the wobble with the level.

    Units are those of the working scale: repetitions, ln(seconds), grades. shows_wobble: fine enough to see a line's
    own; the same grade again and again says little.
    """

    name: str
    prior_level: float
    prior_sd: float
    rounding_variance: float
    wobble_floor_share: float
    wobble_per_level_share: float
    gap_limit: float
    gap_limit_is_share_of_level: bool
    loss: Loss
    shows_wobble: bool


# A count of SEM 2.4 wobbles by sqrt(2.0^2 + (0.08 m)^2), which is 2.4 at 17 rises (published SEM 2.1 to 2.6:
# Hebert-Losier 2017, Ross 2000, Mishra 2023). The shares below are 2.0 / 2.4 and 0.08 / 2.4.
# Gap limits: 15 % of the level, 0.20 ln s, a quarter of the grade scale (half a grade on 0 to 2):
# assumptions.
COUNT = Scale(
    "count", 14.0, 6.0, 1.0 / 12.0, 2.0 / 2.4, 0.08 / 2.4, 0.15, True, Loss(0.45, 2.5, 0.20, 0.75, True), True
)
HOLD = Scale("hold", 2.4, 0.6, 0.001, 1.0, 0.0, 0.20, False, Loss(0.0, 0.9, 0.0, 0.35, False), True)
GRADE = Scale("grade", 1.0, 0.7, 1.0 / 12.0, 1.0, 0.0, 0.25, False, Loss(0.0, 1.2, 0.0, 0.4, False), False)
SCALES = {scale.name: scale for scale in (COUNT, HOLD, GRADE)}

# A term's gain when training works and the error of one result: rises 0.65 a week (0.3 to 1.0, assumption)
# and 2.4; holds 0.06 and 0.32 ln s, grades 0.11 and 0.5 (assumptions). Learned from the studio's own terms
# later.
DEFAULT_GAIN = {"count": 0.65, "hold": 0.06, "grade": 0.11}
DEFAULT_ERROR = {"count": 2.4, "hold": 0.32, "grade": 0.5}
# Another assessor: 3.0 against 2.4 for rises (evidence: Mishra 2023 between raters 3.15).
OTHER_ASSESSOR_FACTOR = 3.0 / 2.4
# Smallest gain a week worth a word, used in sentences only (assumption).
WORTHWHILE_GAIN = {"count": 0.25, "hold": 0.02, "grade": 0.045}


@dataclass(frozen=True)
class Rules:
    """Everything the switching filter assumes; the defaults are those of the specification.

    pace_mean, pace_sd: per story, in units of the typical weekly gain u.
    first_weights: story weights at the first result. hazards[q, r]: chance a week to pass from q to r.
    slots: start weeks kept apart per story. Bad day: chance, and how many times the variance.
    first_correlation: of level and pace at the first result (0 but for the check against mixed models).
    """

    pace_mean: tuple[float, ...] = (0.92, 0.0, -0.8)
    pace_sd: tuple[float, ...] = (0.45, 0.08, 0.30)
    first_weights: tuple[float, ...] = (0.95, 0.03, 0.02)
    hazards: np.ndarray = field(
        default_factory=lambda: np.array([[0.0, 0.07, 0.0175], [0.06, 0.0, 0.01], [0.10, 0.02, 0.0]])
    )
    # Gains level off as a child comes nearer to what they can do (common practice, no source): half of a pace is
    # left after sixty weeks of class. A straight line keeps all of it; the rough world of the bench halves in twenty.
    pace_kept_a_week: float = 0.5 ** (1.0 / 60.0)
    # Some gain, or slip, much faster than usual: that share of the story, and its pace in u.
    fast_share: float = 0.12
    fast_pace: tuple[float, float] = (2.6, 1.5)
    falling_share: float = 0.25
    falling_pace: tuple[float, float] = (-2.8, 2.0)
    # Chance a week that much of the level is lost at once (an injury that nobody told), or won (counted another way);
    # the pace afterwards is that of "flat" with a wider sd. No hazard: none of the four ways beyond the usual three.
    loss_hazard: float = 0.008
    rise_hazard: float = 0.004
    settled_pace_sd: float = 0.2
    slots: int = 4
    # A student measured in a new way gets used to it first (common practice, no source): errors of the first two
    # results under a protocol, in usual ones.
    first_errors: tuple[float, float] = (1.35, 1.15)
    bad_day_chance: float = 0.04
    bad_day_variance: float = 16.0
    # Six predictive SD from every story, after two results: more likely a typing slip than a day.
    held_back_sd: float = 6.0
    held_back_after: int = 2
    first_correlation: float = 0.0
    # After a break most of the weight is dealt anew and the level may have moved by 3/4 SEM.
    redealt_share: float = 0.90
    break_level_sd_in_sem: float = 0.75
    # Own pace from finished terms: spread of one student's terms round the own pace, in u (prior sd then
    # falls from 0.45 u to about 0.25 u, 0.16 rises a week, once two terms are in).
    term_to_term_sd: float = 0.37
    # A next term gains a little less: between a straight line (1.0) and the rough world of the bench (0.66).
    own_pace_kept: float = 0.83
    # A new protocol learns the level again, around the old one, with this many prior sd.
    new_line_sd: float = 1.5

    @cached_property
    def rows(self) -> Rows:
        """What the filter works with, one row a way of going."""
        if not self.loss_hazard:
            return Rows(
                np.array(self.pace_mean), np.array(self.pace_sd), np.array(self.first_weights), self.hazards.copy()
            )
        story = np.array(STORY_OF_ROW)
        share = np.array(
            [1.0 - self.fast_share, 1.0, 1.0 - self.falling_share, self.fast_share, self.falling_share, 0.0, 0.0]
        )
        hazards = self.hazards[story][:, story] * share
        hazards[story[:, None] == story] = 0.0
        hazards[:, LOST], hazards[:, RISEN] = self.loss_hazard, self.rise_hazard
        beyond = [self.fast_pace, self.falling_pace, (0.0, self.settled_pace_sd), (0.0, self.settled_pace_sd)]
        return Rows(
            np.array([*self.pace_mean, *(mean for mean, _sd in beyond)]),
            np.array([*self.pace_sd, *(sd for _mean, sd in beyond)]),
            np.array(self.first_weights)[story] * share,
            hazards,
        )


@dataclass(frozen=True)
class Rows:
    """Pace (mean and sd in u), first weight and hazards a week of every way of going, as the filter has them."""

    pace_mean: np.ndarray
    pace_sd: np.ndarray
    first_weights: np.ndarray
    hazards: np.ndarray


def by_story(weight: np.ndarray) -> np.ndarray:
    """Return weights (rows, ...) summed up by story, (3, ...)."""
    if len(weight) == len((GAINING, FLAT, SLIPPING)):
        return weight
    gaining, flat, slipping, fast, falling, lost, risen = weight
    return np.stack((gaining + fast, flat + lost + risen, slipping + falling))


RULES = Rules()
