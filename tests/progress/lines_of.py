"""Puts plain numbers into the arrays of the filter, for tests that follow one line without a class around it."""

import numpy as np

from progress.judging.engine import ruling
from progress.judging.engine.caps import Caps
from progress.judging.engine.history import History
from progress.judging.engine.lines import AT_LEAST, EXACT, Calendar, Lines, Moment, Results
from progress.judging.engine.stories import RULES, Rules
from progress.judging.engine.trend import follow

NO_CAPS = Caps(*(np.zeros(0, dtype=np.int64) for _ in range(4)))


def plain_lines(
    count: int,
    *,
    prior: tuple[float, float] = (14.0, 6.0),
    gain: float = 0.65,
    error: float = 2.4,
    rounding: float = 0.0,
) -> Lines:
    """Lines whose wobble does not grow with the level; a sudden loss takes about three errors."""
    one = np.ones(count)
    loss = np.outer([0.0, 3.0 * error, 0.0, error], one)
    return Lines(prior[0] * one, prior[1] * one, gain * one, error * one, one, 0.0 * one, rounding * one, loss)


def weekly(
    values: list[list[float]],
    *,
    prior: tuple[float, float],
    gain: float,
    error: float,
    rounding: float = 0.0,
    caps: float = np.inf,
    rules: Rules = RULES,
    confirmed: bool = False,
) -> tuple[list[Moment], np.ndarray]:
    """Moments of every week for lines with one result at the end of each week (NaN: none); and what was held back."""
    table = np.asarray(values, dtype=float)
    count, weeks = table.shape
    line, week = np.nonzero(~np.isnan(table))
    value = table[line, week]
    nothing = np.zeros(value.size, dtype=bool)
    results = Results(
        line=line, week=week, time=week + 1.0, value=value,
        bound=np.where(value >= caps, AT_LEAST, EXACT), error=np.full(value.size, error),
        opens_line=nothing, confirmed=nothing | confirmed, impossible=nothing,
    )  # fmt: skip
    lines = plain_lines(count, prior=prior, gain=gain, error=error, rounding=rounding)
    still = np.zeros((weeks, count), dtype=bool)
    calendar = Calendar(np.repeat(np.arange(1.0, weeks + 1.0)[:, None], count, axis=1), still, still)
    moments: list[Moment] = []
    held_back = follow(results, lines, calendar, each_week=moments.append, rules=rules)
    return moments, held_back


def seen_in(read: History) -> ruling.Seen:
    """What the last weeks say, without a look at the plain numbers; only losses of two typical results count."""
    no = np.zeros(read.count.shape, dtype=bool)
    return ruling.Seen(
        p_stretch=read.p_stretch, stretch_from=np.full(read.count.shape[1], ruling.STRETCH_CHANCE["count"]),
        level_margin=np.full(read.count.shape, -1e3), is_steady=no, is_rising=no, has_sunk=no, p_lost=read.p_lost,
        lost_from=np.full(read.count.shape[1], ruling.LOST_CHANCE["count"]), loss=read.loss,
        least_loss=2.0 * read.error,
        late_lost=read.late_lost, late_risen=read.late_risen, level=read.level, loss_before=read.loss_before,
    )  # fmt: skip


def three_stories(**others: object) -> Rules:
    """Return rules with the three usual ways only, to check the filter by hand."""
    return Rules(**({"loss_hazard": 0.0, "first_errors": (1.0, 1.0)} | others))


def one_story(*, pace_mean: float, pace_sd: float, first_correlation: float = 0.0) -> Rules:
    """Return rules with a single story that never ends and no bad days: a plain local linear trend.

    Used to check the filter against statsmodels and against published mixed models.
    """
    return three_stories(
        pace_mean=(pace_mean, 0.0, 0.0),
        pace_sd=(pace_sd, 1.0, 1.0),
        first_weights=(1.0, 0.0, 0.0),
        hazards=np.zeros((3, 3)),
        pace_kept_a_week=1.0,
        bad_day_chance=0.0,
        held_back_sd=float("inf"),
        first_correlation=first_correlation,
    )
