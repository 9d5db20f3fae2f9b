"""Simulated terms whose truth is known, in two worlds; knows nothing of the judge but the shape of its facts.

plain: straight lines, Gaussian wobble with outliers, caps, gaps, assessors, bad weeks of the class.
rough: gains that level off, stalls that fade in, lasting day form, heavy tails, children who wobble differently,
familiarisation, absence after bad days, two terms with a break, beginners and advanced students.
All numbers are assumptions; those with a reason of their own carry it. Every draw comes from one seed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from progress.judging.judgement import MeasureFacts, ResultFact
from tests.bench.true_lines import (
    BREAK_WEEKS,
    FATES,
    FORM_SHARE,
    MEASURES,
    SIDES,
    STRANDS,
    Child,
    Strand,
    TrueLine,
    true_pair,
)

FIRST_MONDAY = date(2031, 1, 6)
STUDENTS = 12
TERM_WEEKS = 14
EARLIER_TERM_WEEKS = 10
CLASS_DAY, EXTRA_DAY, ASKED_DAY = 1, 3, 4
ATTENDS = 0.85
SECOND_RESULT = 0.47
CAP_SECONDS = 30.0
# One result in 25 is an accident of four times the usual wobble.
ACCIDENTS, ACCIDENT_WOBBLE = 0.04, 4.0
# Many stalls, to count them; and a class as it usually is, for what is said of whole classes.
MANY_STALLS = (0.52, 0.25, 0.05, 0.04, 0.06, 0.08, 0.0)
NORMAL_CLASS = (0.82, 0.07, 0.02, 0.02, 0.05, 0.02, 0.0)


@dataclass
class World:
    """One class-term: true lines, facts so far, and the means to draw more results of the same children."""

    name: str
    rng: np.random.Generator
    lines: list[TrueLine]
    facts: list[ResultFact]
    weeks: int
    assessor_by_week: np.ndarray
    eye: np.ndarray
    bad_week: np.ndarray
    away: np.ndarray
    measures: dict[str, MeasureFacts]
    familiar: dict = field(default_factory=dict)
    shifts: list[float] = field(default_factory=list)
    accidents: list[bool] = field(default_factory=list)

    @property
    def targets(self) -> dict[tuple[int, str], float]:
        """(student, measure) -> raw target."""
        return {
            line.key[:2]: float(np.exp(line.target)) if line.strand.facts.scale == "hold" else line.target
            for line in self.lines
        }

    def day(self, week: int | None = None, day: int = 6) -> date:
        """A day of a week (0 Monday to 6 Sunday), of the last week without one."""
        return FIRST_MONDAY + timedelta(days=7 * (self.weeks - 1 if week is None else week) + day)

    def draw(self, index: int, week: int, day: int) -> float:
        """Measure one line once more and keep the fact; returns how far off the result was, in wobble sd."""
        line = self.lines[index]
        noise, accident = self._noise(line)
        assessor = self.assessor_by_week[week] if day == CLASS_DAY else 0
        seen = self.familiar.get(index, 0)
        self.familiar[index] = seen + 1
        shift = line.strand.wobble * (self.bad_week[week] + self.eye[assessor])
        value = line.level[week] + line.pace[week] * (day - CLASS_DAY) / 7.0 + noise + shift
        if self.name == "rough":
            value += line.form[week] - line.strand.wobble * (0.8 * 0.5**seen if seen < 4 else 0.0)
        raw, capped = _raw(line.strand, value)
        on = FIRST_MONDAY + timedelta(days=7 * week + day)
        self.shifts.append(shift)
        self.accidents.append(accident)
        self.facts.append(ResultFact(len(self.facts), *line.key, on, raw, capped, 1, f"assessor {assessor}"))
        return noise / line.wobble

    def _noise(self, line: TrueLine) -> tuple[float, bool]:
        if self.name == "rough":
            # Student's t with four degrees of freedom, of unit variance; form takes the rest of the variance.
            return line.wobble * np.sqrt(1.0 - FORM_SHARE) * self.rng.standard_t(4) / np.sqrt(2.0), False
        accident = bool(self.rng.random() < ACCIDENTS)
        return line.wobble * (ACCIDENT_WOBBLE if accident else 1.0) * self.rng.normal(), accident


def _raw(strand: Strand, value: float) -> tuple[float, bool]:
    if strand.facts.scale == "hold":
        seconds = round(float(np.exp(value)), 1)
        return (CAP_SECONDS, True) if seconds >= CAP_SECONDS else (max(seconds, 0.3), False)
    if strand.facts.scale == "grade":
        return float(np.clip(np.rint(value), 0, 2)), False
    return float(max(0, np.rint(value))), False


@dataclass(frozen=True)
class Cast:
    """Who plays: shares of FATES; class_stall: nine in ten stop gaining in the same week in all strands; bad_spell:
    the whole class is off for the last two weeks of the term though everyone gains; gains: how fast gaining children
    do (true_lines.PACES); fades: whether stalls fade in (None: in the rough world); measures: what the judge is told
    of the strands."""

    shares: tuple[float, ...] = MANY_STALLS
    class_stall: bool = False
    bad_spell: bool = False
    gains: str = "working"
    fades: bool | None = None
    measures: dict[str, MeasureFacts] = field(default_factory=lambda: MEASURES)


def classes(name: str, count: int, seed: int, **cast: object) -> Iterator[World]:
    """Yield `count` simulated class-terms of a world, "plain" or "rough", with this Cast."""
    for number in range(count):
        yield _one_class(name, np.random.default_rng([seed, number]), number, Cast(**cast))


def _one_class(name, rng, number, cast) -> World:  # noqa: ANN001
    two_terms = name == "rough" and number % 2 == 1
    start = EARLIER_TERM_WEEKS + BREAK_WEEKS if two_terms else 0
    weeks = start + TERM_WEEKS
    change = start + int(rng.integers(3, 6)) if cast.class_stall else None
    lines = []
    for _ in range(STUDENTS):
        child = Child(len(lines) // (len(STRANDS) * len(SIDES)), rng.normal(), _wobbles(name, rng), start, weeks)
        for strand in STRANDS:
            fate = rng.choice(FATES, p=cast.shares)
            if cast.class_stall:
                fate = "stall" if rng.random() < 0.9 else "gaining"
            lines += true_pair(name, rng, child, strand, fate, change, cast.gains, fades=cast.fades)
    world = World(
        name,
        rng,
        lines,
        [],
        weeks,
        (rng.random(weeks) < 0.2).astype(int),
        rng.normal(0.0, 0.5, 2) * (0.0, 1.0),
        rng.normal(0.0, 0.3, weeks),
        _away(rng, weeks, start if two_terms else None),
        cast.measures,
    )
    if cast.bad_spell:
        world.bad_week[-2:] -= 0.8
    _measure_term(world)
    return world


def _wobbles(name: str, rng: np.random.Generator) -> float:
    return float(np.exp(rng.normal(-0.03, 0.25))) if name == "rough" else 1.0


def _away(rng: np.random.Generator, weeks: int, start: int | None) -> np.ndarray:
    away = rng.random((STUDENTS, weeks)) > ATTENDS
    for student in np.flatnonzero(rng.random(STUDENTS) < 0.15):
        gap = int(rng.integers(2, weeks - 2))
        away[student, gap : gap + 2] = True
    if start is not None:
        away[:, start - BREAK_WEEKS : start] = True
    return away


def _measure_term(world: World) -> None:
    index_of = {}
    for index, line in enumerate(world.lines):
        index_of.setdefault(line.key[0], []).append(index)
    for week in range(world.weeks):
        for student, indexes in index_of.items():
            if world.away[student, week]:
                continue
            off = [world.draw(index, week, CLASS_DAY) for index in indexes]
            for index in indexes:
                if world.rng.random() < SECOND_RESULT:
                    world.draw(index, week, EXTRA_DAY)
            shy = world.name == "rough" and np.mean(off) < -0.5
            if shy and week + 1 < world.weeks and world.rng.random() < 0.4:
                world.away[student, week + 1] = True
