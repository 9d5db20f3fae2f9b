"""What is said of whole classes and of pairs of feet, on simulated terms: false, found, taken for something else."""

from __future__ import annotations

import numpy as np

from progress.judging.engine.class_reading import gap, gap_limit, stalls
from progress.judging.engine.school_arrays import Followed, follow_classes
from tests.bench.characteristics import arrays_of, lone_stall_told_class, share
from tests.bench.worlds import NORMAL_CLASS, World, classes

NORMAL_CLASSES, STALLED_CLASSES = 150, 100


def whole_classes_report(seed: int) -> list[str]:
    """What is said of whole classes in each world, and how often both worlds' class-wide stalls are false and found."""
    text, false, hits = [], [], []
    for name in ("plain", "rough"):
        said, false_here, hits_here = _of_world(name, seed)
        text += [f"{name} world, whole classes", *said]
        false += false_here
        hits += hits_here
    return [
        *text,
        f"both worlds' classes together: class-wide stall false in {share(false):.0f} % of {len(false)} normal "
        f"class-terms, found within 8 weeks in {share(hits):.0f} % of {len(hits)}",
    ]


def _of_world(name: str, seed: int) -> tuple[list[str], list[bool], list[bool]]:
    # Class-wide stalls, true and false, what lone stalls are told, gaps between equal feet; then class by class
    # whether a stall was said of a normal one, and of one that stopped.
    normal = list(classes(name, NORMAL_CLASSES, seed + 1, shares=NORMAL_CLASS))
    followed = follow_classes([arrays_of(world) for world in normal])
    weekly = [[stalls(each, week) for week in range(len(each.codes))] for each in followed]
    false = [any(said[world.lines[0].term_start :]) for world, said in zip(normal, weekly, strict=True)]
    told = lone_stall_told_class(normal, followed, weekly)
    apart = [said for world, each in zip(normal, followed, strict=True) for said in _equal_feet_apart(world, each)]
    stalled = list(classes(name, STALLED_CLASSES, seed + 2, class_stall=True))
    hits, weeks_off = [], []
    for world, each in zip(stalled, follow_classes([arrays_of(world) for world in stalled]), strict=True):
        start = int(np.median([line.change for line in world.lines if np.isfinite(line.change)]))
        said = [stalls(each, week) for week in range(start, min(start + 9, len(each.codes)))]
        hits.append(any(said))
        weeks_off += [abs(late - one.back) for late, found_now in enumerate(said) for one in found_now[:1]]
    spells = list(classes(name, STALLED_CLASSES, seed + 3, shares=NORMAL_CLASS, bad_spell=True))
    spelled = [
        any(stalls(each, len(each.codes) - 1 - back) for back in range(2))
        for each in follow_classes([arrays_of(world) for world in spells])
    ]
    text = [
        f"  class-wide stall: false in {share(false):.0f} % of {NORMAL_CLASSES} normal class-terms, found within 8 "
        f"weeks in {share(hits):.0f} % of {STALLED_CLASSES}; two bad weeks taken for one in {share(spelled):.0f} %; "
        f"a lone stall told so: {told:.0f} %; "
        f"its start named within two weeks in {share([off <= 2 for off in weeks_off]):.0f} %",
        f"  feet truly less than half the limit apart: called apart at the end in {share(apart):.1f} %",
    ]
    return text, false, hits


def _equal_feet_apart(world: World, followed: Followed) -> list[bool]:
    # Pairs whose true difference on the last class day is below half of what counts as a gap.
    place, week = {line.key: line for line in world.lines}, len(followed.codes) - 1
    said = []
    for left, key in enumerate(followed.arrays.keys[:-1]):
        if key[2] != "L" or followed.arrays.keys[left + 1] != (*key[:2], "R"):
            continue
        levels = [place[each].level[week] for each in followed.arrays.keys[left : left + 2]]
        limit = gap_limit(followed.arrays.measures[left], float(np.mean(levels)))
        found_gap = gap(followed, week, left, left + 1)
        if found_gap and abs(levels[1] - levels[0]) < 0.5 * limit:
            said.append(found_gap.is_apart)
    return said
