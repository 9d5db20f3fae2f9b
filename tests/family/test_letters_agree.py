"""Over the letters of a made school: no sentence of a letter contradicts the table under it."""
import datetime as dt
import functools
import re

import numpy as np
import pytest

from progress.judging.judgement import ResultFact, judge_classes
from progress.words.family import FamilyFacts, FamilyWords, family_words
from progress.words.family_strands import Strand
from tests.progress.facts_of import MEASURES, TUESDAY

CLASSES, CHILDREN = 45, 12
STARTS, ENDS = TUESDAY - dt.timedelta(days=1), TUESDAY + dt.timedelta(days=95)
FEET = {"R": "right", "L": "left"}
# Each foot's own story over fourteen weeks, as steps a week: on, still, back, on and still, on and back.
STORIES = ((0.6, 0.6), (0.0, 0.0), (-0.5, -0.5), (0.9, 0.0), (1.0, -0.6), (-0.4, 0.6))
SAME_BY_EYE = {"Rises": lambda then: 1, "Balance": lambda then: max(1, 0.1 * then)}


def levels(draw: np.random.Generator, start: float, step: float) -> np.ndarray:
    early, late = STORIES[draw.integers(len(STORIES))]
    steps = np.where(np.arange(14) < 7, early, late) * step
    return np.maximum(start + np.cumsum(steps), 1)


def results_of(name: str, draw: np.random.Generator):
    """Rises and balances of one child on both feet, with the wobble of one result and a few missed days."""
    for side in "LR":
        rises = np.round(levels(draw, draw.uniform(6, 20), 1) + draw.normal(0, 2.4, 14)).clip(0, 60)
        holds = np.round(levels(draw, draw.uniform(8, 30), 2) * np.exp(draw.normal(0, 0.32, 14))).clip(1, 90)
        for measure, values in (("rises", rises), ("balance", holds)):
            for week in np.flatnonzero(draw.random(14) > 0.15):
                on = TUESDAY + dt.timedelta(days=7 * int(week))
                yield ResultFact((name, measure, side, week), name, measure, side, on, float(values[week]))


@functools.cache
def letters() -> list[FamilyWords]:
    draw = np.random.default_rng(2031)
    school = {
        at: [fact for child in range(CHILDREN) for fact in results_of(f"{at}-{child}", draw)] for at in range(CLASSES)
    }
    last_on = TUESDAY + dt.timedelta(days=91)
    judged = judge_classes(school, measures=MEASURES, targets={}, as_of=last_on)
    made = []
    for at in range(CLASSES):
        for child in range(CHILDREN):
            lines = [line for key, line in judged[at].lines.items() if key[0] == f"{at}-{child}"]
            strands = tuple(
                Strand(name, practice, kind, unit, error, TUESDAY, tuple(x for x in lines if x.measure == key))
                for key, name, practice, kind, unit, error in (
                    ("rises", "Rises", "rising on one foot", "count", "", 2.4),
                    ("balance", "Balance", "balancing", "hold", "s", 0.32),
                )
            )
            made.append(family_words(FamilyFacts("Ama", "spring term", "", last_on, STARTS, ENDS, strands)))
    return made


def told_of(words: FamilyWords, name: str, foot: str) -> str:
    """The clause of a strand's sentence that speaks of this foot."""
    sentence = next((s for s in words.stronger.sentences if s.startswith(f"{name}: ")), "")
    clauses = sentence.removeprefix(f"{name}: ").rstrip(".").split("; ")
    return next((c for c in clauses if f"the {foot} foot" in c or "both feet" in c), "")


def contradiction(clause: str, name: str, then: int, now: int) -> bool:
    same = SAME_BY_EYE[name](then)
    if re.search(r"grew stronger until|grew stronger|do(es)? more than", clause):
        return now <= then
    if "about the same" in clause:
        return abs(now - then) > same
    if "less than" in clause:
        return now >= then
    return abs(now - then) > same and now > then and "from week to week" in clause


def test_no_sentence_of_more_than_five_hundred_letters_contradicts_its_table():
    made, against, read = letters(), [], 0
    for words in made:
        for row in words.rows:
            name, _comma, foot = row.name.partition(", ")
            clause = told_of(words, name, foot.removesuffix(" foot"))
            read += bool(clause)
            if contradiction(clause, name, int(row.then), int(row.now)):
                against.append((row.name, row.then, row.now, clause))
    assert len(made) > 500 and read > 1500
    assert against == []


@pytest.mark.parametrize("way", [
    "grew stronger until", "grew stronger", "more than in", "(have|has) stayed about the same", "less than in",
    "a little less since", "from week to week",
])
def test_the_made_school_has_letters_of_every_kind(way):
    assert any(re.search(way, sentence) for words in letters() for sentence in words.stronger.sentences)
