"""What the last weeks say beside the last one: whether there was a gain worth a word, a sudden loss, a sudden rise.

Knows arrays only. A story that begins anew every week can never be ruled out by one week; over six it can.
"""

from __future__ import annotations

import numpy as np

from progress.judging.engine import normal
from progress.judging.engine.lines import Moment
from progress.judging.engine.stories import DEFAULT_GAIN, FALLING, FAST, GAINING, LOST, RISEN, STANDS, WORTHWHILE_GAIN

# The stretch that is looked at, in weeks.
STRETCH_WEEKS = 6.0
# Below this share of a usual gain there was none worth a word: the same share for all three scales, nearly.
WORTHWHILE_SHARE = WORTHWHILE_GAIN["count"] / DEFAULT_GAIN["count"]
# A loss or a rise is spoken of for so many weeks, then the line is judged from where it is.
SUDDEN_WEEKS = 5.0
# Who loses so much of a count within those weeks has dropped, not slipped.
SHEER_SHARE = 0.4


def read_slots(moment: Moment, gain: np.ndarray) -> dict[str, np.ndarray]:
    """Return (n,) chances that need the start weeks; gain (n,): a usual gain a week, working scale.

    late_lost, late_risen: weight of a sudden loss or rise of late; p_stretch: of no gain worth a word over the last six
    weeks, given neither; p_lost: of a sudden loss, or of a fall so fast that it comes to
    the same; loss, loss_before: how much, and from where; lost_week: the week it is first seen in.
    """
    none = np.zeros(gain.size)
    late_lost, late_risen = (_late(moment, row) for row in (LOST, RISEN)) if _has_sudden(moment) else (none[None],) * 2
    sudden = late_lost.sum(axis=0), late_risen.sum(axis=0)
    read = {
        "late_lost": sudden[0],
        "late_risen": sudden[1],
        "p_stretch": _no_gain_over(moment, np.full(gain.size, STRETCH_WEEKS), gain, sum(sudden)),
    }
    if not _has_sudden(moment):
        return read | {name: none for name in ("p_lost", "loss", "loss_before", "lost_week")}
    weight, loss, before, began = _losses(moment, late_lost)
    share = weight / np.maximum(weight.sum(axis=0), 1e-290)
    return read | {
        "p_lost": weight.sum(axis=0),
        "loss": (share * loss).sum(axis=0),
        "loss_before": (share * before).sum(axis=0),
        "lost_week": (share * began).sum(axis=0),
    }


def _has_sudden(moment: Moment) -> bool:
    return len(moment.slot_weight) > LOST


def _late(moment: Moment, row: int) -> np.ndarray:
    return np.where(moment.slot_began[row] > moment.week - SUDDEN_WEEKS, moment.slot_weight[row], 0.0)


def _losses(moment: Moment, late_lost: np.ndarray) -> tuple[np.ndarray, ...]:
    # Slots (2 slots, n) that lost at once of late, or fall so fast that it comes to the same: weight, loss, level
    # before, week it began in.
    slots = moment.slot_began[FALLING]
    gone = np.clip(moment.week + 1.0 - slots, 0.0, SUDDEN_WEEKS)
    fallen = -gone * moment.slot_pace[FALLING]
    level = moment.stories.level[FALLING]
    sheer = fallen >= SHEER_SHARE * (level + fallen)
    return tuple(
        np.concatenate(pair)
        for pair in (
            (late_lost, np.where(sheer, moment.slot_weight[FALLING], 0.0)),
            (moment.slot_before - moment.slot_level, fallen),
            (moment.slot_before, level + fallen),
            (moment.slot_began[LOST], np.maximum(slots, moment.week + 1.0 - SUDDEN_WEEKS)),
        )
    )


def _no_gain_over(moment: Moment, weeks: np.ndarray, gain: np.ndarray, sudden: np.ndarray) -> np.ndarray:
    # A slot that gains since s weeks at pace B has brought min(s, weeks) B; level and slipping ones nothing.
    wanted = WORTHWHILE_SHARE * gain * weeks
    chance = (moment.slot_weight[[row for row in STANDS if row < len(moment.slot_weight)]]).sum(axis=(0, 1)) - sudden
    for row in (GAINING, FAST) if _has_sudden(moment) else (GAINING,):
        gone = np.clip(moment.week + 1.0 - moment.slot_began[row], 0.25, weeks)
        none = normal.near_cdf((wanted / gone - moment.slot_pace[row]) / moment.slot_pace_sd[row])
        chance += (moment.slot_weight[row] * none).sum(axis=0)
    return chance / room_beside(sudden)


def room_beside(sudden: np.ndarray) -> np.ndarray:
    """Return what is left for the stories without a sudden change of late."""
    return np.maximum(1.0 - sudden, 0.05)
