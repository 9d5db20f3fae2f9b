"""`python -m tests.bench.judge`: simulates terms in two worlds and prints how good the judge and simple rules are.

Everything printed is measured in that run, from one seed. One process per world.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

import numpy as np

from progress.engine import ruling
from progress.engine.class_reading import gap, gap_limit, stalls
from progress.engine.school_arrays import Followed, follow_classes
from progress.engine.stories import WORTHWHILE_GAIN
from tests.bench.characteristics import (
    Found,
    Term,
    arrays_of,
    columns,
    coverage,
    follow_with_list,
    found,
    found_at,
    is_true_stall,
    judge_scores,
    lone_stall_told_class,
)
from tests.bench.exact_rule import RISES, exact_scores
from tests.bench.learned_terms import learned_measures
from tests.bench.simple_rules import RULES, SimpleRule
from tests.bench.speed import class_milliseconds, lines_per_second, loops_per_second
from tests.bench.true_lines import STRANDS, Strand, TrueLine
from tests.bench.worlds import NORMAL_CLASS, TERM_WEEKS, World, classes

SEED = 20_310_106
# Classes of twelve: about a quarter of 24 lines per strand stall, a third of them on one side only.
# In the rough world many grades reach their top before they can stall, so more classes give as many true stalls.
CLASSES = {"plain": 130, "rough": 200}
NORMAL_CLASSES, STALLED_CLASSES, RULE_CLASSES = 120, 60, 70
ASKED = (5, 15)


def judge_terms(worlds: list[World], followed: list[Followed], strand: Strand) -> list[Term]:
    """The judge's scores for every line of a strand."""
    return [
        Term(line, judge_scores(each.history, each.codes, column))
        for world, each in zip(worlds, followed, strict=True)
        for line, column in columns(world, each)
        if line.strand is strand
    ]


def rule_terms(worlds: list[World], strand: Strand, rule: SimpleRule) -> list[Term]:
    """A simple rule's scores, week by week, from the same facts; each line's judged term only."""
    terms = []
    for world in worlds:
        values: dict[tuple, list[tuple[float, float]]] = {}
        for fact in world.facts:
            if fact.measure == strand.facts.key:
                raw = np.log(fact.value) if strand.facts.scale == "hold" else fact.value
                values.setdefault((fact.student, fact.measure, fact.side), []).append((fact.on.toordinal() / 7, raw))
        for line in world.lines:
            if line.strand is strand and line.key in values:
                terms.append(Term(line, _rule_scores(world, line, sorted(values[line.key]), strand, rule)))
    return terms


def _rule_scores(world: World, line: TrueLine, pairs: list, strand: Strand, rule: SimpleRule) -> np.ndarray:
    times, values = np.array(pairs).T
    scores = np.full(world.weeks, -np.inf)
    for week in range(line.term_start, world.weeks):
        start, end = world.day(line.term_start, 0).toordinal() / 7, world.day(week).toordinal() / 7
        known = (times >= start) & (times <= end)
        if known.sum() >= rule.fewest:
            scores[week] = rule.score(times[known], values[known], WORTHWHILE_GAIN[strand.facts.scale])
    return scores


def row(name: str, terms: dict[str, list[Term]], own: float) -> str:
    """One line of the table: means over the strands of own false alarms and of what is found."""
    kinds = [lambda one: found(one, own), lambda one: found_at(one, 10.0), lambda one: found_at(one, 20.0)]
    means = [_mean([kind(one) for one in terms.values()]) for kind in kinds]
    first, ten, twenty = means
    each = " ".join(f"{found_at(one, 10.0).within_8:3.0f}" for one in terms.values())
    return (
        f"  {name:<34}{first.false_alarms:5.1f}  {first.within_6:5.1f} /{first.within_8:5.1f}"
        f"  {ten.within_6:5.1f} /{ten.within_8:5.1f}  {twenty.within_6:5.1f} /{twenty.within_8:5.1f}    {each}"
    )


def _mean(parts: list[Found]) -> Found:
    return Found(*np.mean([list(vars(part).values()) for part in parts], axis=0))


HEADING = (
    f"  {'':<34}{'own FA':>6} {'found at own':>13}{'at FA 10':>14}{'at FA 20':>14}    at FA 10 within 8, by strand"
)


def world_report(name: str) -> list[str]:
    """Everything about one world, as lines of text."""
    began = time.perf_counter()
    worlds = list(classes(name, CLASSES[name], SEED))
    followed = follow_classes([arrays_of(world) for world in worlds])
    terms = {strand.facts.key: judge_terms(worlds, followed, strand) for strand in STRANDS}
    stalls_seen = {key: int(sum(is_true_stall(term.line) for term in each)) for key, each in terms.items()}
    text = [f"{name} world: {CLASSES[name]} class-terms of {TERM_WEEKS} weeks; true stalls {stalls_seen}", HEADING]
    few = worlds[:RULE_CLASSES]
    for rule in RULES:
        text.append(row(rule.name, {s.facts.key: rule_terms(few, s, rule) for s in STRANDS}, rule.own))
    text.append(row("the judge", terms, ruling.FLAG_CHANCE))
    if name == "rough":
        fading = {key: [replace(term, from_fading=True) for term in each] for key, each in terms.items()}
        text.append(row("  counted from the start of fading", fading, ruling.FLAG_CHANCE))
    text += [_listed(name, most) for most in ASKED]
    text += _variants(name)
    if name == "plain":
        text += _limits()
    text += _sundries(worlds, followed, terms) + _whole_classes(name)
    return [*text, f"  ({time.perf_counter() - began:.0f} s)"]


def _listed(name: str, most: int, **cast: object) -> str:
    worlds = list(classes(name, CLASSES[name], SEED, **cast))
    followed, asked = follow_with_list(worlds, most)
    terms = {strand.facts.key: judge_terms(worlds, followed, strand) for strand in STRANDS}
    lines = sum(len(world.lines) for world in worlds)
    text = row(f"  with the list, {most} a class", terms, ruling.FLAG_CHANCE)
    return f"{text}  (+{asked / lines:.1f} results a line)"


def _variants(name: str) -> list[str]:
    """The judge again where gaining children may be slower than the judge is told, or with values it learned."""
    told = learned_measures(name, SEED + 9)
    values = ", ".join(f"{key} {facts.typical_error:.2f} and {facts.typical_gain:.3f}" for key, facts in told.items())
    learned = _judge_row("with values learned in a term", name, measures=told)
    return [
        f"{learned}  (error and gain: {values})",
        _judge_row("one gainer in six slower", name, slow=True),
        _listed(name, ASKED[0], slow=True),
    ]


def _judge_row(title: str, name: str, **cast: object) -> str:
    worlds = list(classes(name, CLASSES[name], SEED, **cast))
    followed = follow_classes([arrays_of(world) for world in worlds])
    held = coverage(worlds, followed)
    text = row(title, {s.facts.key: judge_terms(worlds, followed, s) for s in STRANDS}, ruling.FLAG_CHANCE)
    return f"{text}  (inside: pace {held['rate']:.0f} %, level {held['level']:.0f} %)"


def _limits() -> list[str]:
    """Rises only: the judge beside exact rules on the same lines."""
    text = []
    for slow in (False, True):
        worlds = list(classes("plain", CLASSES["plain"], SEED, slow=slow))
        followed = follow_classes([arrays_of(world) for world in worlds])
        kind = ", slower gainers too" if slow else ""
        text.append(row(f"rises{kind}: the judge", {"rises": judge_terms(worlds, followed, RISES)}, ruling.FLAG_CHANCE))
        for told, title in ((False, "exact, published wobble"), (True, "exact, told every accident")):
            terms = [
                Term(line, exact_scores(world, line.key, slow=slow, told=told))
                for world, each in zip(worlds, followed, strict=True)
                for line, _ in columns(world, each)
                if line.strand is RISES
            ]
            text.append(row(f"  {title}", {"rises": terms}, ruling.FLAG_CHANCE))
    return text


def _share(values: list) -> float:
    return 100.0 * float(np.mean(values)) if len(values) else float("nan")


def _sundries(worlds: list[World], followed: list[Followed], terms: dict[str, list[Term]]) -> list[str]:
    every = [term for each in terms.values() for term in each]
    flagged = ruling.FLAG_CHANCE

    def of(fate: str, judged: Callable[[Term], np.ndarray]) -> float:
        return _share([np.max(judged(term), initial=-np.inf) >= flagged for term in every if term.line.fate == fate])

    weeks = np.concatenate([t.scores[t.line.term_start :] >= flagged for t in every if t.line.fate == "gaining"])
    held = coverage(worlds, followed)
    return [
        f"  80 % intervals hold the truth: pace {held['rate']:.0f} %, level {held['level']:.0f} %; "
        f"weeks to target {held['weeks to target']:.0f} %",
        f"  at-target terms flagged {of('at_target', lambda t: t.scores[int(t.line.change) :]):.1f} %; "
        f"gaining weeks called stalled or slipping {_share(weeks):.1f} %",
        f"  flat from the start, flagged by week 8: {of('flat', lambda t: t.scores[: t.line.term_start + 8]):.0f} %; "
        f"flag lingers four weeks into recovery: {_lingers(every):.0f} % of flagged",
    ]


def _lingers(terms: list[Term]) -> float:
    # Of terms flagged by the end of a stall that ends early enough: still kept four weeks later.
    lingering = []
    for term in terms:
        if term.line.fate == "recovers" and term.line.ends + 4 < term.scores.size:
            start, end = int(term.line.change), int(term.line.ends)
            if np.max(term.scores[start : end + 1]) >= ruling.FLAG_CHANCE:
                lingering.append(term.scores[end + 4] >= ruling.KEEP_CHANCE)
    return _share(lingering)


def _whole_classes(name: str) -> list[str]:
    normal = list(classes(name, NORMAL_CLASSES, SEED + 1, shares=NORMAL_CLASS))
    followed = follow_classes([arrays_of(world) for world in normal])
    weekly = [[stalls(each, week) for week in range(len(each.codes))] for each in followed]
    false = _share([any(said[world.lines[0].term_start :]) for world, said in zip(normal, weekly, strict=True)])
    told = lone_stall_told_class(normal, followed, weekly)
    apart = [said for world, each in zip(normal, followed, strict=True) for said in _equal_feet_apart(world, each)]
    stalled = list(classes(name, STALLED_CLASSES, SEED + 2, class_stall=True))
    hits, weeks_off = [], []
    for world, each in zip(stalled, follow_classes([arrays_of(world) for world in stalled]), strict=True):
        start = int(np.median([line.change for line in world.lines if np.isfinite(line.change)]))
        said = [stalls(each, week) for week in range(start, min(start + 9, len(each.codes)))]
        hits.append(any(said))
        weeks_off += [abs(late - one.back) for late, found_now in enumerate(said) for one in found_now[:1]]
    spells = list(classes(name, STALLED_CLASSES, SEED + 3, shares=NORMAL_CLASS, bad_spell=True))
    spelled = [
        any(stalls(each, len(each.codes) - 1 - back) for back in range(2))
        for each in follow_classes([arrays_of(world) for world in spells])
    ]
    return [
        f"  class-wide stall: false in {false:.0f} % of {NORMAL_CLASSES} normal class-terms, found within 8 weeks in "
        f"{_share(hits):.0f} % of {STALLED_CLASSES}; two bad weeks taken for one in {_share(spelled):.0f} %; "
        f"a lone stall told so: {told:.0f} %; "
        f"its start named within two weeks in {_share([off <= 2 for off in weeks_off]):.0f} %",
        f"  feet truly less than half the limit apart: called apart at the end in {_share(apart):.1f} %",
    ]


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


def speed_report() -> list[str]:
    """Speed on one core, after the worlds are done."""
    found_classes = [(number, *class_milliseconds(number)) for number in (1, 3)]
    return [
        "speed, one core: every week's verdict, interval and projection, 30 results a line",
        *(f"  {count:>7} lines: {lines_per_second(count):,.0f} lines a second" for count in (1_000, 10_000, 100_000)),
        *(f"  a loop over {name}, one week only: {each:,.0f} a second" for name, each in loops_per_second().items()),
        *(
            f"  one class of 12, {number} of the measures, {lines} lines, from facts to lines: {milliseconds:.0f} ms"
            for number, milliseconds, lines in found_classes
        ),
    ]


def main() -> None:
    """Print both worlds, then the speed."""
    argparse.ArgumentParser(description=__doc__).parse_args()
    began = time.perf_counter()
    print("FA: false alarms, gaining terms of 100 with any false flag. Found: true stalls flagged within 6 / 8 weeks.")
    with ProcessPoolExecutor(max_workers=2) as pool:
        for report in pool.map(world_report, ("plain", "rough")):
            print("\n".join(report), flush=True)
    print("\n".join(speed_report()))
    print(f"all in {time.perf_counter() - began:.0f} s, seed {SEED}")


if __name__ == "__main__":
    main()
