"""A small bench, always the same: the judge is as good as it was, and a worse one is noticed.

Forty classes of each world instead of 130, so single figures are further from those printed; they only move when
the judge or the worlds do. Deliberate changes to the judge that these tests have caught are listed in CAUGHT.
"""

import numpy as np
import pytest

from progress.engine import ruling
from progress.engine.class_reading import stalls
from progress.engine.school_arrays import follow_classes
from tests.bench.characteristics import arrays_of, coverage, follow_with_list, found, found_at
from tests.bench.exact_rule import RISES, exact_scores
from tests.bench.judge import judge_terms
from tests.bench.true_lines import STRANDS
from tests.bench.worlds import NORMAL_CLASS, classes

SEED, CLASSES = 7, 40
# Per 100: a false flag in a gaining term; found within 6 and 8 weeks as it is, and with ten false alarms.
FIGURES = {}
CAUGHT = ()


def follow(name, count=CLASSES, **cast):
    worlds = list(classes(name, count, SEED, **cast))
    return worlds, follow_classes([arrays_of(world) for world in worlds])


def of_strands(kind, worlds, followed):
    each = [list(vars(kind(judge_terms(worlds, followed, strand))).values()) for strand in STRANDS]
    return np.mean(each, axis=0)


def figures(name):
    worlds, followed = follow(name)
    own = of_strands(lambda terms: found(terms, ruling.FLAG_CHANCE), worlds, followed)
    at_ten = of_strands(lambda terms: found_at(terms, 10.0), worlds, followed)
    return [*own, *at_ten[1:], *coverage(worlds, followed).values()]


if __name__ == "__main__":
    for name in ("plain", "rough"):
        print(name, [round(each, 1) for each in figures(name)])
