"""Simulated terms whose truth is known, in two worlds; knows nothing of the judge but the shape of its facts.

plain: straight lines, Gaussian wobble with outliers, caps, gaps, assessors, bad weeks of the class.
rough: gains that level off, stalls that fade in, lasting day form, heavy tails, children who wobble differently,
familiarisation, absence after bad days, two terms with a break, beginners and advanced students.
All numbers are assumptions (trends 1 and 7); every draw comes from one seed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from progress.judgement import MeasureFacts, ResultFact

FIRST_MONDAY = date(2031, 1, 6)
STUDENTS = 12
SIDES = ("L", "R")
TERM_WEEKS = 14
EARLIER_TERM_WEEKS = 10
BREAK_WEEKS = 4
CLASS_DAY, EXTRA_DAY, ASKED_DAY = 1, 3, 4
ATTENDS = 0.85
SECOND_RESULT = 0.47
CAP_SECONDS = 30.0
FATES = ("gaining", "stall", "flat", "slipping", "at_target", "recovers")
# Many stalls, to count them; and a class as it usually is, for what is said of whole classes.
MANY_STALLS = (0.52, 0.25, 0.05, 0.04, 0.06, 0.08)
NORMAL_CLASS = (0.82, 0.07, 0.02, 0.02, 0.05, 0.02)


@dataclass(frozen=True)
class Strand:
    """One measure as simulated: start level mean and sd, wobble sd, typical weekly gain, working scale."""

    facts: MeasureFacts
    start: tuple[float, float]
    wobble: float
    gain: float


STRANDS = (
    Strand(MeasureFacts("rises", "count", 2.4, 3.0, 0.65), (13.0, 3.5), 2.4, 0.65),
    Strand(MeasureFacts("balance", "hold", 0.32, 0.40, 0.06), (2.1, 0.45), 0.32, 0.06),
    Strand(MeasureFacts("control", "grade", 0.5, 0.6, 0.11, 0.0, 2.0), (0.5, 0.35), 0.5, 0.11),
)
MEASURES = {strand.facts.key: strand.facts for strand in STRANDS}


@dataclass
class TrueLine:
    """The truth of one line: fate, week of the change (inf: none), weekly level and pace, start of the judged term."""

    key: tuple[int, str, str]
    strand: Strand
    fate: str
    change: float
    ends: float
    level: np.ndarray
    pace: np.ndarray
    target: float
    wobble: float
    term_start: int
    form: np.ndarray = field(repr=False, default=None)


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
    familiar: dict = field(default_factory=dict)

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
        noise = self._noise(line)
        assessor = self.assessor_by_week[week] if day == CLASS_DAY else 0
        seen = self.familiar.get(index, 0)
        self.familiar[index] = seen + 1
        value = line.level[week] + line.pace[week] * (day - CLASS_DAY) / 7.0 + noise
        value += line.strand.wobble * (self.bad_week[week] + self.eye[assessor])
        if self.name == "rough":
            value += line.form[week] - line.strand.wobble * (0.8 * 0.5**seen if seen < 4 else 0.0)
        raw, capped = _raw(line.strand, value)
        on = FIRST_MONDAY + timedelta(days=7 * week + day)
        self.facts.append(ResultFact(len(self.facts), *line.key, on, raw, capped, 1, f"assessor {assessor}"))
        return noise / line.wobble

    def _noise(self, line: TrueLine) -> float:
        if self.name == "rough":
            # Student's t with four degrees of freedom, of unit variance; form takes a fifth of the variance.
            return line.wobble * np.sqrt(0.8) * self.rng.standard_t(4) / np.sqrt(2.0)
        widely = 3.0 if self.rng.random() < 0.03 else 1.0
        return line.wobble * widely * self.rng.normal()


def _raw(strand: Strand, value: float) -> tuple[float, bool]:
    if strand.facts.scale == "hold":
        seconds = round(float(np.exp(value)), 1)
        return (CAP_SECONDS, True) if seconds >= CAP_SECONDS else (max(seconds, 0.3), False)
    if strand.facts.scale == "grade":
        return float(np.clip(np.rint(value), 0, 2)), False
    return float(max(0, np.rint(value))), False


def classes(
    name: str,
    count: int,
    seed: int,
    *,
    shares: tuple[float, ...] = MANY_STALLS,
    class_stall: bool = False,
    bad_spell: bool = False,
) -> Iterator[World]:
    """Yield `count` simulated class-terms. class_stall: nine in ten stop gaining in the same week in all strands;
    bad_spell: the whole class is off for the last two weeks of the term though everyone gains."""
    for number in range(count):
        yield _one_class(name, np.random.default_rng([seed, number]), number, shares, class_stall, bad_spell)


def _one_class(name, rng, number, shares, class_stall, bad_spell) -> World:  # noqa: ANN001
    two_terms = name == "rough" and number % 2 == 1
    start = EARLIER_TERM_WEEKS + BREAK_WEEKS if two_terms else 0
    weeks = start + TERM_WEEKS
    change = start + int(rng.integers(3, 6))
    lines = []
    for student in range(STUDENTS):
        talent = rng.normal()
        for strand in STRANDS:
            fate = rng.choice(FATES, p=shares)
            if class_stall:
                fate = "stall" if rng.random() < 0.9 else "gaining"
            lines.extend(_pair(name, rng, student, strand, fate, start, weeks, talent, change if class_stall else None))
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
    )
    if bad_spell:
        world.bad_week[-2:] -= 0.8
    _measure_term(world)
    return world


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


def _pair(name, rng, student, strand, fate, start, weeks, talent, change) -> list[TrueLine]:  # noqa: ANN001
    middle, spread = strand.start
    level = middle + spread * (0.6 * talent + 0.8 * rng.normal())
    if name == "rough" and strand.facts.scale == "count":
        level = rng.uniform(20.0, 30.0) if rng.random() < 0.25 else rng.uniform(4.0, 14.0)
    pace = strand.gain * float(np.clip(rng.normal(0.92, 0.45), 0.35, 1.7))
    change = start + int(rng.integers(3, 6)) if change is None else change
    if strand.facts.scale == "grade" and fate == "at_target":
        # A grade's target is its top: they come to it and stay.
        level = 2.0 - pace * change
    one_sided = fate == "stall" and rng.random() < 0.3
    moves = int(rng.integers(2))
    lines = []
    for place, side in enumerate(SIDES):
        own = "gaining" if one_sided and place == moves else fate
        base = level + 0.35 * strand.wobble * rng.normal()
        lines.append(
            _line(
                name,
                rng,
                (student, strand.facts.key, side),
                strand,
                own,
                start,
                weeks,
                base,
                pace * rng.uniform(0.85, 1.15),
                change,
            )
        )
    # A target counts for both feet: the higher plateau of those who stay at it, else out of this term's reach.
    reached = [line.level[-1] for line in lines if line.fate == "at_target"]
    top = min(reached) if reached else max(line.level[start] for line in lines) + 16.0 * strand.gain
    for line in lines:
        line.target = 2.0 if strand.facts.scale == "grade" else top
    return lines


def _line(name, rng, key, strand, fate, start, weeks, base, pace, change) -> TrueLine:  # noqa: ANN001
    paces = np.full(weeks, pace)
    if name == "rough":
        # Toward a ceiling: the pace starts a third faster and halves in 20 weeks of training.
        trained = np.arange(weeks) - np.clip(np.arange(weeks) - start + BREAK_WEEKS, 0, BREAK_WEEKS) * (start > 0)
        paces = np.maximum(1.33 * pace * 0.5 ** (trained / 20.0), 0.4 * strand.gain)
    if start:
        paces[start - BREAK_WEEKS : start] = 0.0
    ends = np.inf
    if fate == "flat":
        change = start
    if fate == "gaining":
        change = np.inf
    else:
        after = np.arange(weeks) >= change
        goes = -0.8 * strand.gain * rng.uniform(0.7, 1.3) if fate == "slipping" else 0.0
        fade = np.clip((np.arange(weeks) - change + 1) / 4.0, 0.0, 1.0) if name == "rough" and fate != "flat" else 1.0
        paces = np.where(after, goes * fade + paces * (1.0 - fade), paces)
        if fate == "recovers":
            ends = change + 5
            paces = np.where(np.arange(weeks) >= ends, pace, paces)
    level = base + np.concatenate(([0.0], np.cumsum(paces)[:-1]))
    wobble = strand.wobble * (np.exp(rng.normal(-0.03, 0.25)) if name == "rough" else 1.0)
    if name == "rough" and strand.facts.scale == "count":
        wobble *= np.sqrt(2.0**2 + (0.08 * base) ** 2) / 2.4
    form = np.zeros(weeks)
    for week in range(1, weeks):
        form[week] = 0.6 * form[week - 1] + 0.8 * np.sqrt(0.2) * wobble * rng.normal()
    return TrueLine(key, strand, fate, float(change), float(ends), level, paces, 0.0, wobble, start, form)
