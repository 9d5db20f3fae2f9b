"""`python -m tests.bench.judge [--seed N]`: simulates terms in two worlds, prints how good judge and simple rules are.

Everything printed is measured in that run, from one seed, in two processes.
"""

from __future__ import annotations

import os

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import resource
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

import numpy as np

from progress.judging.engine import ruling
from progress.judging.engine.school_arrays import Followed, follow_classes
from progress.judging.engine.stories import WORTHWHILE_GAIN
from tests.bench.characteristics import (
    Found,
    Term,
    arrays_of,
    columns,
    coverage,
    ends_within,
    follow_with_list,
    found,
    found_at,
    is_true_stall,
    judge_terms,
    just_stopped,
    lingers,
    share,
)
from tests.bench.exact_rule import RISES, exact_scores
from tests.bench.learned_terms import careful_facts, learned_measures
from tests.bench.odd_terms import dips_report, slips_report
from tests.bench.seen_terms import seen_report
from tests.bench.simple_rules import RULES, SimpleRule
from tests.bench.speed import class_milliseconds, lines_per_second, loops_per_second
from tests.bench.true_lines import MEASURES, STRANDS, Strand, TrueLine
from tests.bench.whole_classes import whole_classes_report
from tests.bench.worlds import TERM_WEEKS, World, classes

SEED = 20_310_106
# Classes of twelve: about a quarter of 24 lines per strand stall, a third of them on one side only.
# In the rough world many grades reach their top before they can stall, so more classes give as many true stalls.
CLASSES = {"plain": 130, "rough": 200}
RULE_CLASSES = 60
ASKED = 5


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


def base_report(name: str) -> list[str]:
    """The simple rules, the judge, and everything else that needs no other classes."""
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
    return text + _sundries(worlds, followed, terms) + seen_report(name, SEED)


def listed_report(name: str, most: int, gains: str = "working") -> list[str]:
    """The judge where the measure-again list is followed, at most so many a class and week."""
    worlds = list(classes(name, CLASSES[name], SEED, gains=gains))
    followed, asked = follow_with_list(worlds, most)
    terms = {strand.facts.key: judge_terms(worlds, followed, strand) for strand in STRANDS}
    lines = sum(len(world.lines) for world in worlds)
    text = row(f"  with the list, {most} a class", terms, ruling.FLAG_CHANCE)
    return [f"{text}  (+{asked / lines:.1f} results a line)"]


def learned_report(name: str) -> list[str]:
    """The judge with values it learned in one term: as the formulas give them, and as the pages use them."""
    told = learned_measures(name, SEED + 9)
    values = ", ".join(f"{key} {facts.typical_error:.2f} and {facts.typical_gain:.3f}" for key, facts in told.items())
    careful = {key: careful_facts(facts, MEASURES[key]) for key, facts in told.items()}
    return [
        *judge_report("with values learned in a term", name, measures=careful),
        *judge_report("  the same, if they could be bolder", name, measures=told),
        f"    learned error and gain: {values}",
    ]


def judge_report(title: str, name: str, gains: str = "working", **cast: object) -> list[str]:
    """The judge on classes of another cast."""
    worlds = list(classes(name, CLASSES[name], SEED, gains=gains, **cast))
    followed = follow_classes([arrays_of(world) for world in worlds])
    held = coverage(worlds, followed)
    text = row(title, {s.facts.key: judge_terms(worlds, followed, s) for s in STRANDS}, ruling.FLAG_CHANCE)
    return [f"{text}  (inside: pace {held['rate']:.0f} %, level {held['level']:.0f} %)"]


def limits_report(gains: str, fades: bool = False) -> list[str]:
    """Rises only, plain world: the judge beside exact rules on the same lines.

    fades: stalls fade in as in the rough world and are counted from their first week.
    """
    worlds = list(classes("plain", CLASSES["plain"], SEED, gains=gains, fades=fades))
    followed = follow_classes([arrays_of(world) for world in worlds])
    ours = [replace(term, from_fading=fades) for term in judge_terms(worlds, followed, RISES)]
    kind = "fading stalls" if fades else f"{gains} gains"
    text = [row(f"rises, {kind}: the judge", {"rises": ours}, ruling.FLAG_CHANCE)]
    for told, title in ((False, "exact, published wobble"), (True, "exact, told every accident")):
        terms = [
            Term(line, exact_scores(world, line.key, gains=gains, told=told, fades=fades), fades)
            for world, each in zip(worlds, followed, strict=True)
            for line, _ in columns(world, each)
            if line.strand is RISES
        ]
        text.append(row(f"  {title}", {"rises": terms}, ruling.FLAG_CHANCE))
    return text


def _sundries(worlds: list[World], followed: list[Followed], terms: dict[str, list[Term]]) -> list[str]:
    every = [term for each in terms.values() for term in each]
    flagged = ruling.FLAG_CHANCE

    def of(fate: str, judged: Callable[[Term], np.ndarray]) -> float:
        return share([np.max(judged(term), initial=-np.inf) >= flagged for term in every if term.line.fate == fate])

    weeks = np.concatenate([t.scores[t.line.term_start :] >= flagged for t in every if t.line.fate == "gaining"])
    held, (below, far_below) = coverage(worlds, followed), just_stopped(worlds, followed)
    return [
        f"  80 % intervals hold the truth: pace {held['rate']:.1f} % ({held['rate below']:.0f} % lie below, "
        f"{held['rate above']:.0f} % above), level {held['level']:.0f} %; "
        f"weeks to target {held['weeks to target']:.0f} %",
        f"  stopped less than four weeks ago: below the lower limit of the pace {below:.0f} %, by more than a tenth "
        f"of a usual gain {far_below:.0f} %",
        f"  at-target terms flagged {of('at_target', lambda t: t.scores[int(t.line.change) :]):.1f} %; "
        f"gaining weeks called stalled or slipping {share(weeks):.1f} %",
        f"  flat from the start, flagged by week 8: {of('flat', lambda t: t.scores[: t.line.term_start + 8]):.0f} %; "
        f"flag lingers four weeks into recovery: {lingers(every, 'recovers'):.0f} % of flagged; let go by three / five "
        f"better results: {ends_within(every, 'recovers', 3):.0f} / {ends_within(every, 'recovers', 5):.0f} %",
    ]


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


def pieces(name: str) -> list[tuple]:
    """What is printed of a world, in order; each is measured on its own, so that two cores share the work."""
    slow = [(judge_report, "one gaining child in six slow", name, "slow")]
    if name == "plain":
        slow.append((listed_report, name, ASKED, "slow"))
    limits = [(limits_report, "working"), (limits_report, "slow"), (limits_report, "working", True)]
    return [
        (base_report, name),
        (listed_report, name, ASKED),
        *slow,
        (learned_report, name),
        *([*limits, (slips_report, SEED), (dips_report, SEED)] if name == "plain" else ()),
    ]


def main() -> None:
    """Print both worlds, then the speed."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seed", type=int, default=SEED, help="another one plays other children")
    seed = asked.parse_args().seed
    _begin_with(seed)
    began = time.perf_counter()
    print("FA: false alarms, gaining terms of 100 with any false flag. Found: true stalls flagged within 6 / 8 weeks.")
    print("Gains are 0.3 to 1.0 rises a week; slow: below that, still worth a word.")
    with ProcessPoolExecutor(max_workers=2, initializer=_begin_with, initargs=(seed,)) as pool:
        # The longest piece begins first and is printed last.
        whole = pool.submit(whole_classes_report, SEED)
        for report in pool.map(_measured, pieces("rough") + pieces("plain")):
            print("\n".join(report), flush=True)
        print("\n".join(whole.result()), flush=True)
    print("\n".join(speed_report()))
    used = time.process_time() + resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    print(f"all in {time.perf_counter() - began:.0f} s ({used:.0f} s of processor time), seed {SEED}")


def _begin_with(seed: int) -> None:
    global SEED
    SEED = seed


def _measured(piece: tuple) -> list[str]:
    report, *arguments = piece
    return report(*arguments)


if __name__ == "__main__":
    main()
