"""How the demo's true levels go over the weeks, and what one noisy result of them is; knows no database."""
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

# Weeks of the finished term, of the holidays after it, and the week of the running term that is today.
FIRST_TERM_WEEKS, HOLIDAY_WEEKS, TODAY_WEEK = 13, 2, 12
HALF_TERM_WEEK = 7
SCALES = {"rises": "count", "passe-balance": "hold", "landing-control": "grade"}


def stories_of(script: Mapping[str, Any], student: str, class_name: str, measure: str, side: str) -> dict[str, Any]:
    """Everything the script tells about one line, in one mapping."""
    told: dict[str, Any] = {}
    for story in script["stories"]:
        if story["student"] == student and story["measure"] == measure and side in story["side"]:
            told.update(story)
    shared = script["class_stall"]
    if shared["class"] == class_name and shared["measure"] == measure and student not in shared["not"]:
        told.setdefault("stall_from", shared["from"])
        told.setdefault("wobble", shared["wobble"])
    return told


def true_levels(
    start: float, gains: Sequence[float], told: Mapping[str, Any], *, weeks: Sequence[tuple[int, float]]
) -> np.ndarray:
    """The level at each (term 0 or 1, week from 0) of `weeks`, on the measure's own scale (holds: ln seconds).

    start: level at the first week; gains: weekly gain in each term; told: add, gain, stall_from, slip_from with
    slip, ceiling, dip (first week, last week, depth as a share for counts), in weeks of the running term from 1.
    """
    before = start + told.get("add", 0.0) + gains[0] * (FIRST_TERM_WEEKS - 1)
    gain = told.get("gain", gains[1])
    levels = []
    for term, week in weeks:
        if term == 0:
            level = start + told.get("add", 0.0) + gains[0] * week
        else:
            grows = min(week, told.get("stall_from", 99) - 1, told.get("slip_from", 99) - 1)
            level = before + gain * grows - told.get("slip", 0.0) * max(0.0, week - told.get("slip_from", 99) + 1)
            level -= _dip(level, week, told)
        levels.append(min(level, told.get("ceiling", np.inf)))
    return np.array(levels)


def _dip(level: float, week: float, told: Mapping[str, Any]) -> float:
    if "dip" not in told:
        return 0.0
    first, last, depth = told["dip"]
    middle, half = (first + last) / 2 - 1, (last - first) / 2 + 0.5
    return max(0.0, 1 - abs(week - middle) / half) * depth * abs(level)


def one_result(level: float, measure: str, wobble: float, rng: np.random.Generator) -> list[float]:
    """The attempts of one day: a count, three holds in seconds, or a grade."""
    scale = SCALES[measure]
    day = level + rng.normal(0.0, wobble)
    if scale == "count":
        return [float(max(0, round(day)))]
    if scale == "grade":
        return [float(np.clip(round(day), 0, 2))]
    best = float(np.exp(day))
    attempts = [best * rng.uniform(0.55, 0.95), best * rng.uniform(0.6, 0.98), best]
    rng.shuffle(attempts)
    return [round(max(0.5, seconds), 1) for seconds in attempts]
