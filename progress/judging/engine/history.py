"""What every week's end said about every line: the readings of the filter, kept as arrays (weeks, n).

Knows arrays only. `Recorder` is handed to trend.follow and asked for `History` afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields

import numpy as np

from progress.judging.engine import ruling
from progress.judging.engine.caps import Caps
from progress.judging.engine.lines import Moment, joined
from progress.judging.engine.readings import Stories, chance_at_least, mixed, weeks_until
from progress.judging.engine.stories import FLAT, GAINING, GAINS, LOST, RISEN, STANDS, by_story
from progress.judging.engine.stretch import read_slots, room_beside

# The earliest plausible start: one in ten that it began before.
EARLIEST_SHARE = 0.1
_DECIMALS = 9
# Lines and weeks that are read in one go: a small class's weeks together, a school's one by one (measured).
READ_TOGETHER = 512
# Same-day differences of the feet wobble by 1.22 typical errors instead of 1.41 (side_gap): a quarter of a result's
# variance is the form of the day. If six tenths of it are left a week later, the mean of four results varies 1.4
# times as much as that of four independent ones; if none, 1.0. The limits of the level take the middle.
LASTING_FORM = 1.2


@dataclass(frozen=True)
class History:
    """Readings at each week's end, (weeks, n) in the working scale; `live` is False before the first result.

    level, level_sd, result_sd (of one single result round the level, wobble and doubt together); rate,
    rate_low, rate_high (80 %) a week, rate_gaining if it gains; p_gain, p_flat, p_slip; p_flat_below (flat
    and below target) and p_slips, given no sudden change of late; p_reached; weeks_10, weeks_50, weeks_90 to the
    target (inf: not at this pace); began_gain, began_stand (week index, fractional, since which it gains, or does not
    gain); earliest_gain, earliest_stand; count of results, line_count under the present protocol; error: typical
    error at the level; last_time, time in class weeks; p_stretch to late_risen: as in stretch.read_slots; way_weight,
    way_pace, way_pace_sd (weeks, rows, n): of every way of going, for the range of the story that is said.
    """

    live: np.ndarray
    count: np.ndarray
    line_count: np.ndarray
    level: np.ndarray
    level_sd: np.ndarray
    result_sd: np.ndarray
    rate: np.ndarray
    rate_low: np.ndarray
    rate_high: np.ndarray
    rate_gaining: np.ndarray
    p_gain: np.ndarray
    p_flat: np.ndarray
    p_slip: np.ndarray
    p_flat_below: np.ndarray
    p_slips: np.ndarray
    p_reached: np.ndarray
    weeks_10: np.ndarray
    weeks_50: np.ndarray
    weeks_90: np.ndarray
    began_gain: np.ndarray
    began_stand: np.ndarray
    earliest_gain: np.ndarray
    earliest_stand: np.ndarray
    error: np.ndarray
    last_time: np.ndarray
    time: np.ndarray
    p_stretch: np.ndarray
    p_lost: np.ndarray
    loss: np.ndarray
    loss_before: np.ndarray
    lost_week: np.ndarray
    late_lost: np.ndarray
    late_risen: np.ndarray
    stand_since: np.ndarray
    way_weight: np.ndarray
    way_pace: np.ndarray
    way_pace_sd: np.ndarray

    @property
    def p_stand(self) -> np.ndarray:
        """P(no gain): flat and below the target, or slipping."""
        return self.p_flat_below + self.p_slips


@dataclass
class Recorder:
    """Collects one row per week.

    target (n,): inf where there is none; gain (n,): a usual one a week; caps: the lower of the two is what can be
    reached. since_weeks: width of `stand_since`. in_full: the weeks whose limits of the pace, projections and starts
    are wanted (None: all); in the others these are zero, and levels and chances are as ever (`stand_since` is read a
    week earlier too).
    """

    target: np.ndarray
    caps: Caps
    gain: np.ndarray
    since_weeks: int = 0
    in_full: frozenset[int] | None = None
    rows: list[dict[str, np.ndarray]] = field(default_factory=list)
    blocks: list[dict[str, np.ndarray]] = field(default_factory=list)
    waiting: list[tuple[Moment, np.ndarray, np.ndarray]] = field(default_factory=list)

    def __call__(self, moment: Moment) -> None:
        """Read the moment; called once for every week in order."""
        target, read = self.caps.lowered(self.target, moment.week), {}
        if self.in_full is None or moment.week in self.in_full:
            read = _pace(moment) | _starts(moment) | _projection(moment, target)
        # A stall of the class asks for the week before as well.
        if self.in_full is None or self.in_full & {moment.week, moment.week + 1}:
            read["stand_since"] = _stand_since(moment, self.since_weeks)
        slots = read_slots(moment, self.gain)
        self.rows.append(read | slots)
        self.waiting.append((moment, target, np.stack((slots["late_lost"], slots["late_risen"]))))
        if len(self.waiting) * target.size >= READ_TOGETHER:
            self._read_waiting()

    def _read_waiting(self) -> None:
        if self.waiting:
            moments, targets, sudden = zip(*self.waiting, strict=True)
            moment, target = joined(moments), np.concatenate(targets)
            read = _chances(moment, target, np.concatenate(sudden, axis=1)) | _level(moment)
            self.blocks.append({name: array.reshape(len(moments), -1) for name, array in read.items()})
            self.waiting = []

    def history(self) -> History:
        """Return everything read so far, rounded: the last bits depend on which lines were followed together."""
        self._read_waiting()
        weekly = {name: np.concatenate([block[name] for block in self.blocks]) for name in self.blocks[0]}
        blank = {each.name: np.zeros(self.target.size) for each in fields(History) if each.name not in weekly}
        blank["stand_since"] = np.zeros((self.since_weeks, self.target.size))
        for name in ("way_weight", "way_pace", "way_pace_sd"):
            blank[name] = next((row[name] * 0.0 for row in self.rows if name in row), blank[name])
        full = {name: np.array([row.get(name, none) for row in self.rows]) for name, none in blank.items()}
        return History(**{name: _rounded(stack) for name, stack in (weekly | full).items()})


def _chances(moment: Moment, target: np.ndarray, sudden: np.ndarray) -> dict[str, np.ndarray]:
    # sudden (2, n): weight of a loss and of a rise of late; those are asked about, and no stall.
    weight = moment.stories.weight
    reached = chance_at_least(moment.stories, target - ruling.TARGET_SLACK_IN_ERRORS * moment.error)
    gain, flat, slip = by_story(weight)
    usual, room = weight.copy(), room_beside(sudden.sum(axis=0))
    if len(weight) > RISEN:
        usual[LOST:] = np.maximum(usual[LOST:] - sudden, 0.0)
    return {
        "p_gain": gain,
        "p_flat": flat,
        "p_slip": slip,
        "p_flat_below": by_story(usual * (1.0 - reached))[FLAT] / room,
        "p_slips": slip / room,
        "p_reached": (weight * reached).sum(axis=0),
        "live": moment.live,
        "count": moment.count,
        "line_count": moment.line_count,
        "error": moment.error,
        "last_time": moment.last_time,
        "time": moment.time,
    }


def _projection(moment: Moment, target: np.ndarray) -> dict[str, np.ndarray]:
    # Of the story that gains: the sentence is about it alone, and over all stories the far end is never told.
    stories = moment.stories
    gains = [row for row in GAINS if row < len(stories.weight)]
    weight = stories.weight[gains] / np.maximum(stories.weight[gains].sum(axis=0), 1e-290)
    alone = Stories(weight, *(getattr(stories, each.name)[gains] for each in fields(Stories)[1:]))
    until = weeks_until(alone, target)
    return dict(zip(("weeks_10", "weeks_50", "weeks_90"), until, strict=True))


def _rounded(stack: np.ndarray) -> np.ndarray:
    return np.round(stack, _DECIMALS) if stack.dtype.kind == "f" else stack


def _level(moment: Moment) -> dict[str, np.ndarray]:
    stories = moment.stories
    level, variance = mixed(stories.weight, stories.level, stories.level_variance)
    return {
        "level": level,
        "level_sd": np.sqrt(LASTING_FORM * variance),
        "result_sd": np.sqrt(variance + moment.error**2 + moment.rounding),
    }


def _pace(moment: Moment) -> dict[str, np.ndarray]:
    stories = moment.stories
    return {
        "rate_gaining": stories.pace[GAINING],
        "way_weight": stories.weight,
        "way_pace": stories.pace,
        "way_pace_sd": np.sqrt(np.maximum(stories.pace_variance, 1e-12)),
    }


def _starts(moment: Moment) -> dict[str, np.ndarray]:
    row = {}
    for name, ways in (("gain", GAINS), ("stand", STANDS)):
        ways = [way for way in ways if way < len(moment.slot_weight)]
        parts = moment.slot_weight[ways]
        weight = parts.sum(axis=0)
        began = (parts * moment.slot_began[ways]).sum(axis=0) / np.maximum(weight, 1e-290)
        began = np.where(weight > 0.0, began, moment.slot_began[GAINING])
        total = np.maximum(weight.sum(axis=0), 1e-290)
        row[f"began_{name}"] = (weight * began).sum(axis=0) / total
        reached = np.cumsum(weight, axis=0) >= EARLIEST_SHARE * total
        first = reached.argmax(axis=0)
        row[f"earliest_{name}"] = np.take_along_axis(began, first[None], axis=0)[0]
    return row


def _stand_since(moment: Moment, width: int) -> np.ndarray:
    # P(no gain since week w - j or earlier), j = 0 .. width - 1; (width, n).
    ways = [way for way in STANDS if way < len(moment.slot_weight)]
    weight, began = moment.slot_weight[ways], moment.slot_began[ways]
    return (
        np.stack([(weight * (began <= moment.week - back + 1e-9)).sum(axis=(0, 1)) for back in range(width)])
        if width
        else np.zeros((0, moment.live.size))
    )
