"""`python -m tests.bench.rhythm`: how many weeks of measuring it takes until half of true stalls are said, by rhythm.

Simulated classes of both worlds as in worlds.py, in terms so long that the slowest rhythm has its answer; a stall is
said when the judge's own verdict is "stalled", "slipping" or "dropped". Each child misses one day in seven.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from unittest import mock

import numpy as np

from progress.judging.engine import ruling
from progress.judging.engine.school_arrays import follow_classes
from tests.bench import worlds
from tests.bench.characteristics import arrays_of, columns, is_true_stall

FLAGS = (ruling.STALLED, ruling.SLIPPING, ruling.DROPPED)
WEEKS = 26
CLASSES = 60
# Days of the week on which the class is measured, and every how many weeks.
RHYTHMS = {
    "twice a week": ((worlds.CLASS_DAY, worlds.EXTRA_DAY), 1),
    "weekly": ((worlds.CLASS_DAY,), 1),
    "every second week": ((worlds.CLASS_DAY,), 2),
    "every third week": ((worlds.CLASS_DAY,), 3),
}


def measured_on(world: worlds.World, days: tuple[int, ...], every: int) -> worlds.World:
    """The same class, measured on these days only."""
    facts = []
    for fact in world.facts:
        week, day = divmod((fact.on - worlds.FIRST_MONDAY).days, 7)
        if day in days and week % every == 0:
            facts.append(fact)
    return replace(world, facts=facts)


def weeks_to_a_flag(made: list[worlds.World], days: tuple[int, ...], every: int) -> tuple[np.ndarray, float]:
    """Weeks from the stall to the verdict, infinite where there is none; and false alarms of 100 gaining terms."""
    known = [measured_on(world, days, every) for world in made]
    took, false = [], []
    for world, each in zip(known, follow_classes([arrays_of(world) for world in known]), strict=True):
        for line, column in columns(world, each):
            flagged = np.isin(each.codes[:, column], FLAGS)
            if line.fate == "gaining":
                # As long as a term of the bench: a longer one only has more weeks to be wrong in.
                false.append(flagged[line.term_start : line.term_start + worlds.TERM_WEEKS].any())
            elif is_true_stall(line):
                at = np.flatnonzero(flagged[int(line.change) :])
                took.append(float(at[0]) if at.size else np.inf)
    return np.array(took), 100.0 * float(np.mean(false))


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--seed", type=int, default=20310106)
    asked.add_argument("--classes", type=int, default=CLASSES)
    told = asked.parse_args()
    for name in ("plain", "rough"):
        with mock.patch.object(worlds, "TERM_WEEKS", WEEKS), mock.patch.object(worlds, "SECOND_RESULT", 1.0):
            made = list(worlds.classes(name, told.classes, told.seed))
        for rhythm, (days, every) in RHYTHMS.items():
            took, false = weeks_to_a_flag(made, days, every)
            quarter, half, most = np.quantile(took, [0.25, 0.5, 0.75], method="lower")
            print(
                f"{name}, {rhythm}: of {took.size} stalls a quarter is said after {quarter:.0f} weeks, half after "
                f"{half:.0f}, three quarters after {most:.0f}; false alarms {false:.1f} of 100 terms", flush=True
            )


if __name__ == "__main__":
    main()
