"""How good a rule is on simulated terms: false alarms, stalls found, coverage; knows the truth and the readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from progress.judging.engine import ruling
from progress.judging.engine.class_arrays import ClassArrays, class_arrays
from progress.judging.engine.class_stall import JOINS_CHANCE
from progress.judging.engine.school_arrays import Followed, follow_classes, stretch_from
from tests.bench.true_lines import Strand, TrueLine
from tests.bench.worlds import ASKED_DAY, CLASS_DAY, World

# What one step of the log of "level since the term began" counts for where a threshold of chances is moved.
LEVEL_UNIT = 0.5
# It ends sooner than a flag of one week: within a quarter of what that is kept by.
LEVEL_ENDS = ruling.KEPT_BELOW / (ruling.LEVEL_NOW - ruling.LEVEL_NOW_KEPT)


@dataclass(frozen=True)
class Term:
    """One line of one class-term: its truth and, per week, the score of a rule and whether it may speak.

    from_fading: count from the week in which the pace begins to sink, not from the one in which it is no gain.
    """

    line: TrueLine
    scores: np.ndarray
    from_fading: bool = False


def arrays_of(world: World, week: int | None = None, day: int = 6) -> ClassArrays:
    """The facts known on a day of a week, laid out for the judge."""
    return class_arrays(world.facts, measures=world.measures, targets=world.targets, as_of=world.day(week, day))


def columns(world: World, followed: Followed) -> list[tuple[TrueLine, int]]:
    """Each true line with its column in the followed arrays (lines never measured are left out)."""
    place = {key: column for column, key in enumerate(followed.arrays.keys)}
    return [(line, place[line.key]) for line in world.lines if line.key in place]


def judge_scores(each: Followed, column: int) -> np.ndarray:
    """How near the judge is to a flag in each week: P(no gain) now, or the stretch, moved to the same threshold.

    Minus infinity in weeks in which it may not flag; infinity where a sudden loss is said.
    """
    history, spans = each.history, each.spans[:, column]
    stand, code = history.p_stand[:, column], each.codes[:, column]
    over = np.minimum(history.p_stretch[:, column] - stretch_from(each.arrays)[column], stand - ruling.STRETCH_NOW)
    enough = history.count[:, column] >= ruling.STRETCH_RESULTS
    enough &= history.p_reached[:, column] < ruling.STRETCH_BELOW_TARGET
    enough &= spans >= ruling.STRETCH_LASTS - ruling.SLACK_WEEKS
    level = np.minimum(LEVEL_UNIT * each.level_margin[:, column], LEVEL_ENDS * (stand - ruling.LEVEL_NOW))
    beyond = np.maximum(stand - each.flag_from[:, column], np.where(enough, np.maximum(over, level), -np.inf))
    sudden = history.late_lost[:, column] + history.late_risen[:, column]
    score = np.where(sudden < ruling.SUDDEN_CHANCE, beyond + ruling.FLAG_CHANCE, -np.inf)
    silent = (code == ruling.TOO_EARLY) | (code == ruling.AT_TARGET)
    return np.where(code == ruling.DROPPED, np.inf, np.where(silent, -np.inf, score))


def judge_terms(worlds: list[World], followed: list[Followed], strand: Strand) -> list[Term]:
    """The judge's scores for every line of a strand."""
    return [
        Term(line, judge_scores(each, column))
        for world, each in zip(worlds, followed, strict=True)
        for line, column in columns(world, each)
        if line.strand is strand
    ]


def follow_with_list(worlds: list[World], most: int) -> tuple[list[Followed], int]:
    """Follow week by week, measuring twice more in the same week whom the judge asks for; and how many results."""
    asked = 0
    for week in range(max(world.weeks for world in worlds)):
        open_worlds = [world for world in worlds if week < world.weeks]
        arrays = [arrays_of(world, week, CLASS_DAY) for world in open_worlds]
        followed = follow_classes(arrays, every_week=False)
        for world, each in zip(open_worlds, followed, strict=True):
            asked += _measure_asked(world, each, week, most)
    return follow_classes([arrays_of(world) for world in worlds]), asked


def _measure_asked(world: World, followed: Followed, week: int, most: int) -> int:
    # The rule of progress.judging.measure_again, on arrays: unsettled, nearest to the flag first, a handful a class.
    stand, codes = followed.history.p_stand[-1], followed.codes[-1]
    open_ones = (codes == ruling.GAINING) | (codes == ruling.NOT_CLEAR)
    open_ones &= (stand >= ruling.ASK_CHANCE) & (stand < followed.flag_from[-1])
    asked = sorted(np.flatnonzero(open_ones), key=lambda column: -stand[column])[:most]
    place, drawn = {line.key: index for index, line in enumerate(world.lines)}, 0
    for column in asked:
        key = followed.arrays.keys[column]
        if not world.away[key[0], week]:
            for _ in range(2):
                world.draw(place[key], week, ASKED_DAY)
            drawn += 2
    return drawn


@dataclass(frozen=True)
class Found:
    """Per 100: gaining terms with a false flag, true stalls flagged within six and eight weeks."""

    false_alarms: float
    within_6: float
    within_8: float


def found(terms: list[Term], threshold: float) -> Found:
    """Operating characteristics of a score at a threshold (flag when the score is at or above it)."""
    gaining = [np.max(_judged(term)) >= threshold for term in terms if term.line.fate == "gaining"]
    stalls = [term for term in terms if is_true_stall(term.line)]
    hits = [[np.max(_since(term, weeks), initial=-np.inf) >= threshold for weeks in (6, 8)] for term in stalls]
    share = 100.0 * np.mean(hits, axis=0) if hits else np.full(2, np.nan)
    return Found(100.0 * float(np.mean(gaining)), float(share[0]), float(share[1]))


def found_at(terms: list[Term], false_alarms: float) -> Found:
    """The same at the threshold with `false_alarms` per 100; between two thresholds by a straight line."""
    best = np.array([np.max(_judged(term)) for term in terms if term.line.fate == "gaining"])
    # Infinity is never reached: a rule that cannot be as quiet as wanted is used only some of the time.
    levels = np.append(np.unique(best[np.isfinite(best)]), np.inf)
    order = np.searchsorted(np.sort(best), levels)
    rates = 100.0 * (best.size - order) / best.size
    below = int(np.argmax(rates <= false_alarms))
    one, two = found(terms, levels[below]), found(terms, levels[max(0, below - 1)])
    width = two.false_alarms - one.false_alarms
    share = (false_alarms - one.false_alarms) / width if width > 0 else 0.0
    return Found(*(a + share * (b - a) for a, b in zip(vars(one).values(), vars(two).values(), strict=True)))


def is_true_stall(line: TrueLine) -> bool:
    """A stall in the middle of the judged term, below the target by more than the slack."""
    slack = ruling.TARGET_SLACK_IN_ERRORS * line.strand.wobble
    return line.fate == "stall" and line.level[-1] < line.target - slack


def _judged(term: Term) -> np.ndarray:
    return term.scores[term.line.term_start :]


def _since(term: Term, weeks: int) -> np.ndarray:
    # The last gain is in the level of the change's own week; w weeks later is the week numbered w higher.
    start = int(term.line.fades_from if term.from_fading else term.line.change)
    return term.scores[start : start + weeks + 1]


def share(values: list) -> float:
    """Per cent of the values that are true; NaN without any.

    >>> share([True, False])
    50.0
    """
    return 100.0 * float(np.mean(values)) if len(values) else float("nan")


def coverage(worlds: list[World], followed: list[Followed]) -> dict[str, float]:
    """Share (%) of 80 % intervals that hold the truth: pace and level weekly, weeks to target in week 8; and of true
    paces below and above theirs."""
    inside = {"rate": [], "level": [], "weeks to target": [], "rate below": [], "rate above": []}
    for world, each in zip(worlds, followed, strict=True):
        history = each.history
        for line, column in columns(world, each):
            weeks = np.arange(line.term_start, history.count.shape[0])
            weeks = weeks[history.count[weeks, column] >= ruling.FEWEST_RESULTS]
            pace = line.pace[weeks]
            below, above = pace < history.rate_low[weeks, column], pace > history.rate_high[weeks, column]
            inside["rate"].extend(~below & ~above)
            inside["rate below"].extend(below)
            inside["rate above"].extend(above)
            true_level = line.level[weeks] + line.pace[weeks] * (5 / 7)
            off = np.abs(true_level - history.level[weeks, column])
            inside["level"].extend(off <= 1.2816 * history.level_sd[weeks, column])
            if line.fate == "gaining" and line.strand.facts.scale != "grade" and 7 + line.term_start in weeks:
                inside["weeks to target"].append(_holds_target(line, history, column, 7 + line.term_start))
    return {name: 100.0 * float(np.mean(values)) for name, values in inside.items()}


def just_stopped(worlds: list[World], followed: list[Followed]) -> tuple[float, float]:
    """Share (%) of weeks, in the four after a gain stopped, whose pace is below its lower limit, and below it by more
    than a tenth of a usual gain."""
    below, far_below = [], []
    for world, each in zip(worlds, followed, strict=True):
        for line, column in columns(world, each):
            if line.fate in ("stall", "recovers"):
                weeks = np.arange(int(line.change), min(int(line.change) + 4, each.history.count.shape[0]))
                weeks = weeks[each.history.count[weeks, column] >= ruling.FEWEST_RESULTS]
                short = each.history.rate_low[weeks, column] - line.pace[weeks]
                below.extend(short > 0)
                far_below.extend(short > 0.1 * line.strand.gain)
    return share(below), share(far_below)


def _holds_target(line: TrueLine, history, column: int, week: int) -> bool:  # noqa: ANN001
    # The truth goes on at its last pace after the term.
    ahead = np.arange(0.0, 60.0, 0.1)
    level = np.interp(week + 5 / 7 + ahead, np.arange(line.level.size), line.level)
    beyond = np.maximum(week + 5 / 7 + ahead - (line.level.size - 1), 0.0)
    reached = np.flatnonzero(level + beyond * line.pace[-1] >= line.target)
    truth = ahead[reached[0]] if reached.size else np.inf
    truth = truth if truth <= 52.0 else np.inf
    return bool(history.weeks_10[week, column] <= truth + 0.1 and truth - 0.1 <= history.weeks_90[week, column])


def lingers(terms: list[Term], fate: str) -> float:
    """Share (%) of what was flagged while it lasted, and ended early enough, that is still flagged four weeks on."""
    lingering = []
    for term in terms:
        if term.line.fate == fate and term.line.ends + 4 < term.scores.size:
            start, end = int(term.line.change), int(term.line.ends)
            if np.max(term.scores[start : end + 1]) >= ruling.FLAG_CHANCE:
                lingering.append(term.scores[end + 4] >= ruling.FLAG_CHANCE - ruling.KEPT_BELOW)
    return share(lingering)


def ends_within(terms: list[Term], fate: str, results: int) -> float:
    """Share (%) of what was flagged while it lasted that is let go by so many better results after it; only of those
    with as many still to come."""
    ended = []
    for term in terms:
        if term.line.fate == fate and term.line.ends + results < term.scores.size:
            start, end = int(term.line.change), int(term.line.ends)
            if np.max(term.scores[start : end + 1]) >= ruling.FLAG_CHANCE:
                ended.append(np.min(term.scores[end + 1 : end + 1 + results]) < ruling.FLAG_CHANCE - ruling.KEPT_BELOW)
    return share(ended)


def lone_stall_told_class(worlds: list[World], followed: list[Followed], stalls) -> float:  # noqa: ANN001
    """Share (%) of true stalls in normal classes that are told "so is most of the class" at the term's end."""
    told = []
    for world, each, week_stalls in zip(worlds, followed, stalls, strict=True):
        for line, column in columns(world, each):
            if is_true_stall(line):
                stand = each.history.p_stand[-1, column]
                told.append(stand >= JOINS_CHANCE and any(s.measure in (None, line.key[1]) for s in week_stalls[-1]))
    return 100.0 * float(np.mean(told))
