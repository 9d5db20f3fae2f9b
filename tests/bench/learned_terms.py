"""What a studio knows of its measures after one finished term, learned as the app does when a screening is closed."""

from __future__ import annotations

import math
from dataclasses import replace

from progress.judging.engine.class_arrays import SHORTEST_HOLD_SECONDS
from progress.judging.engine.stories import SCALES
from progress.judging.judgement import MeasureFacts, judge_class
from progress.judging.learned import FinishedTerm, Repeat, learned_error, learned_gain, pair_differences
from tests.bench.true_lines import MEASURES
from tests.bench.worlds import NORMAL_CLASS, World, classes

# A small studio; with fewer terms the defaults weigh more.
FINISHED_CLASSES = 4


def learned_measures(name: str, seed: int, **cast: object) -> dict[str, MeasureFacts]:
    """The measures as the judge is told of them after one term of four usual classes of that world.

    Typical error and gain by progress.judging.learned, from the defaults; another assessor's error in the same
    proportion to it as before.
    """
    worlds = list(classes(name, FINISHED_CLASSES, seed, shares=NORMAL_CLASS, **cast))
    endings: dict[str, list[FinishedTerm]] = {key: [] for key in MEASURES}
    for world in worlds:
        judged = judge_class(world.facts, measures=MEASURES, targets=world.targets, as_of=world.day())
        for line in judged.lines.values():
            if line.pace_if_gaining is not None and line.verdict != "too_early":
                endings[line.measure].append(FinishedTerm(line.p_gain, line.pace_if_gaining))
    return {key: _learned(facts, worlds, endings[key]) for key, facts in MEASURES.items()}


def careful_facts(learned: MeasureFacts, given: MeasureFacts) -> MeasureFacts:
    """A measure as the pages judge with it: what was learned counts where it makes the judge more careful only."""
    larger = max(learned.typical_error, given.typical_error)
    return replace(
        given,
        typical_error=larger,
        typical_error_other=larger * given.typical_error_other / given.typical_error,
        typical_gain=min(learned.typical_gain, given.typical_gain),
    )


def _learned(facts: MeasureFacts, worlds: list[World], endings: list[FinishedTerm]) -> MeasureFacts:
    repeats = [
        Repeat((number, fact.student), fact.side, fact.assessor, fact.on, _working(facts, fact.value))
        for number, world in enumerate(worlds)
        for fact in world.facts
        if fact.measure == facts.key and not fact.capped
    ]
    scale = SCALES[facts.scale]
    differences = pair_differences(repeats, scale=scale)
    error = learned_error(differences, default=facts.typical_error, rounding_variance=scale.rounding_variance)
    return replace(
        facts,
        typical_error=error,
        typical_error_other=error * facts.typical_error_other / facts.typical_error,
        typical_gain=learned_gain(endings, default=facts.typical_gain),
    )


def _working(facts: MeasureFacts, value: float) -> float:
    return math.log(max(value, SHORTEST_HOLD_SECONDS)) if facts.scale == "hold" else value
