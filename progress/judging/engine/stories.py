"""The three stories a line of results can tell, and every number the judge assumes; knows no student."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

GAINING, FLAT, SLIPPING = 0, 1, 2


@dataclass(frozen=True)
class Scale:
    """How one kind of measure is worked with: prior level, rounding, growth of the wobble with the level.

    Units are those of the working scale: repetitions, ln(seconds), grades.
    """

    name: str
    prior_level: float
    prior_sd: float
    rounding_variance: float
    wobble_floor_share: float
    wobble_per_level_share: float
    gap_limit: float
    gap_limit_is_share_of_level: bool


# A count of SEM 2.4 wobbles by sqrt(2.0^2 + (0.08 m)^2), which is 2.4 at 17 rises (published SEM 2.1 to 2.6:
# Hebert-Losier 2017, Ross 2000, Mishra 2023). The shares below are 2.0 / 2.4 and 0.08 / 2.4.
# Gap limits: 15 % of the level, 0.20 ln s, a quarter of the grade scale (half a grade on 0 to 2):
# assumptions.
COUNT = Scale("count", 14.0, 6.0, 1.0 / 12.0, 2.0 / 2.4, 0.08 / 2.4, 0.15, True)
HOLD = Scale("hold", 2.4, 0.6, 0.001, 1.0, 0.0, 0.20, False)
GRADE = Scale("grade", 1.0, 0.7, 1.0 / 12.0, 1.0, 0.0, 0.25, False)
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
    # Gains level off as a child comes nearer to what she can do (common practice, no source): half of a pace is
    # left after sixty weeks of class. A straight line keeps all of it; the rough world of the bench halves in twenty.
    pace_kept_a_week: float = 0.5 ** (1.0 / 60.0)
    slots: int = 10
    bad_day_chance: float = 0.04
    bad_day_variance: float = 16.0
    # Six predictive SD from every story, after two results: more likely a typing slip than a day.
    held_back_sd: float = 6.0
    held_back_after: int = 2
    first_correlation: float = 0.0
    # After a break most of the weight is dealt anew and the level may have moved by 3/4 SEM.
    redealt_share: float = 0.70
    break_level_sd_in_sem: float = 0.75
    # Own pace from finished terms: spread of one student's terms round the own pace, in u (prior sd then
    # falls from 0.45 u to about 0.25 u, 0.16 rises a week, once two terms are in).
    term_to_term_sd: float = 0.37
    # A next term gains a little less: between a straight line (1.0) and the rough world of the bench (0.66).
    own_pace_kept: float = 0.8
    # A new protocol learns the level again, around the old one, with this many prior sd.
    new_line_sd: float = 1.5


RULES = Rules()


def one_story(*, pace_mean: float, pace_sd: float, first_correlation: float = 0.0) -> Rules:
    """Return rules with a single story that never ends and no bad days: a plain local linear trend.

    Used to check the filter against statsmodels and against published mixed models.
    """
    return Rules(
        pace_mean=(pace_mean, 0.0, 0.0),
        pace_sd=(pace_sd, 1.0, 1.0),
        first_weights=(1.0, 0.0, 0.0),
        hazards=np.zeros((3, 3)),
        pace_kept_a_week=1.0,
        bad_day_chance=0.0,
        held_back_sd=float("inf"),
        first_correlation=first_correlation,
    )
