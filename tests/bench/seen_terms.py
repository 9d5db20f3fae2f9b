"""What everyone can see, measured: lines level from the start, sudden losses, ranges of slow, usual and fast paces.

Counted by the words that are said, not by a threshold that is moved.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from progress.judging.engine import ruling
from progress.judging.engine.school_arrays import Followed, follow_classes
from progress.judging.judgement import ResultFact
from tests.bench.characteristics import arrays_of, columns, share
from tests.bench.exact_losses import loss_evidence
from tests.bench.true_lines import TrueLine
from tests.bench.worlds import World, classes

CLASSES = 60
FLAGS = (ruling.STALLED, ruling.SLIPPING, ruling.DROPPED)
ALL_GAIN = (1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
# A third of the lines lose from two fifths to four fifths at once, some time after the fourth week of the term.
LOSING, LOSES = 1 / 3, (0.4, 0.8)
FOUND_WITHIN = 2
# So many wobbles of one result stand clearly above it.
LARGE = 4.0
GAINS = ("slow ones", "working", "fast ones")


def seen_report(name: str, seed: int, count: int = CLASSES) -> list[str]:
    """The rows of one world: level from the start, false losses, losses found, ranges of the pace."""
    return [
        *_level_and_false(name, seed, count),
        _losses(name, seed, count),
        *([_loss_limit(seed, count)] if name == "plain" else ()),
        "  80 % range of the pace while a gain is said holds the truth: "
        + ", ".join(f"{gains} {_held(name, seed, count, gains):.0f} %" for gains in GAINS),
    ]


def _codes(worlds: list[World]) -> list[tuple[TrueLine, Followed, int, np.ndarray]]:
    followed = follow_classes([arrays_of(world) for world in worlds])
    return [
        (line, each, column, each.codes[:, column])
        for world, each in zip(worlds, followed, strict=True)
        for line, column in columns(world, each)
    ]


def _level_and_false(name: str, seed: int, count: int) -> list[str]:
    said = _codes(list(classes(name, count, seed)))
    flat = [np.isin(codes[line.term_start :], FLAGS) for line, _each, _at, codes in said if line.fate == "flat"]
    false = [(codes == ruling.DROPPED).any() for line, _each, _at, codes in said if line.fate != "slipping"]
    own = [
        np.isin(codes[line.term_start :], FLAGS).any() for line, _each, _at, codes in said if line.fate == "gaining"
    ]
    dips = _codes(list(classes(name, count, seed, shares=(0.0,) * 6 + (1.0,))))
    spells = _codes(list(classes(name, count, seed, shares=ALL_GAIN, bad_spell=True)))
    return [
        f"  as the words are said: false alarms {share(own):.1f} of 100 gaining terms; level from the start, said by "
        f"week 8 / 12: {share([each[:8].any() for each in flat]):.0f} / "
        f"{share([each[:12].any() for each in flat]):.0f} %",
        f"  said to have dropped, of 100 terms: nothing lost {share(false):.1f}, a growth dip "
        f"{share([(codes == ruling.DROPPED).any() for *_rest, codes in dips]):.1f}, two bad weeks of the class "
        f"{share([(codes == ruling.DROPPED).any() for *_rest, codes in spells]):.1f}",
    ]


def _losses(name: str, seed: int, count: int) -> str:
    found: dict[str, list[bool]] = {"count": [], "hold": [], "grade": []}
    large: dict[str, list[bool]] = {"count": [], "hold": []}
    rng = np.random.default_rng(seed)
    worlds = list(classes(name, count, seed, shares=ALL_GAIN))
    losing = [with_losses(world, rng) for world in worlds]
    followed = follow_classes([arrays_of(world) for world, _lost in losing])
    for (world, lost), each in zip(losing, followed, strict=True):
        for line, column in columns(world, each):
            if line.key in lost:
                week, part = lost[line.key]
                hit = _said_within(each, column, week)
                if hit is not None:
                    found[line.strand.facts.scale].append(hit)
                    if line.strand.facts.scale in large and _wobbles(line, week, part) >= LARGE:
                        large[line.strand.facts.scale].append(hit)
    told, of_large = (
        ", ".join(f"{scale}s {share(hits):.0f} %" for scale, hits in each.items()) for each in (found, large)
    )
    return (
        f"  losses of 40 to 80 % said within {FOUND_WITHIN} results: {told}; of those of {LARGE:.0f} wobbles and more: "
        f"{of_large}"
    )


def _wobbles(line: TrueLine, week: int, part: float) -> float:
    # How large a loss is, in wobbles of one result.
    lost = -np.log(1.0 - part) if line.strand.facts.scale == "hold" else part * line.level[week]
    return lost / line.wobble


def _loss_limit(seed: int, count: int) -> str:
    # The exact rule's threshold is the one with one false loss in a hundred terms, of counts and of holds alike.
    rng = np.random.default_rng(seed)
    usual = list(classes("plain", count, seed))
    text = []
    losing = [with_losses(world, rng) for world in classes("plain", count, seed, shares=ALL_GAIN)]
    for scale in ("count", "hold"):
        false = [loss_evidence(w, one) for w in usual for one in w.lines if _plays(w, one, scale, "gaining")]
        threshold, hits, large = np.quantile(false, 0.99), [], []
        for world, lost in losing:
            for line in (one for one in world.lines if one.key in lost and _plays(world, one, scale, "gaining")):
                week, part = lost[line.key]
                weeks = [(f.on - world.day(0, 0)).days // 7 for f in world.facts if _key(f) == line.key]
                place = int(np.searchsorted(weeks, week))
                if place >= ruling.FEWEST_RESULTS and len(weeks) - place >= FOUND_WITHIN:
                    hits.append(loss_evidence(world, line, first_lost=place) > threshold)
                    large += [hits[-1]] if _wobbles(line, week, part) >= LARGE else []
        text.append(f"{scale}s {share(hits):.0f} %, of large ones {share(large):.0f} %")
    return f"    limit, an exact rule told every accident and bad week, one false in a hundred terms: {'; '.join(text)}"


def _plays(world: World, line: TrueLine, scale: str, fate: str) -> bool:
    measured = line.strand.facts.scale == scale and line.fate == fate
    return measured and sum(_key(fact) == line.key for fact in world.facts) > ruling.FEWEST_RESULTS


def _key(fact: ResultFact) -> tuple:
    return fact.student, fact.measure, fact.side


def with_losses(world: World, rng: np.random.Generator) -> tuple[World, dict]:
    """The world with some lines that lose much at once, and which: key of the line to week and share."""
    lost, facts = {}, []
    for line in world.lines:
        if rng.random() < LOSING:
            lost[line.key] = (line.term_start + int(rng.integers(4, 10)), float(rng.uniform(*LOSES)))
    for fact in world.facts:
        key = _key(fact)
        week = (fact.on - world.day(0, 0)).days // 7
        if key in lost and week >= lost[key][0]:
            left = fact.value * (1.0 - lost[key][1])
            value = left if fact.measure == "balance" else float(np.floor(left + 0.5))
            fact = replace(fact, value=max(value, 0.0), capped=False)
        facts.append(fact)
    return replace(world, facts=facts), lost


def _said_within(each: Followed, column: int, week: int) -> bool | None:
    # Within the week of the second result after the loss; None where there are not so many, or too few before.
    count = each.history.count[:, column]
    if count[week - 1] < ruling.FEWEST_RESULTS or count[-1] - count[week - 1] < FOUND_WITHIN:
        return None
    second = int(np.argmax(count >= count[week - 1] + FOUND_WITHIN))
    return bool((each.codes[week : second + 1, column] == ruling.DROPPED).any())


def _held(name: str, seed: int, count: int, gains: str) -> float:
    inside: list[bool] = []
    for line, each, column, codes in _codes(list(classes(name, count, seed, gains=gains, shares=ALL_GAIN))):
        weeks = np.flatnonzero(codes == ruling.GAINING)
        weeks = weeks[weeks >= line.term_start]
        low, high = each.history.rate_low[weeks, column], each.history.rate_high[weeks, column]
        inside.extend((low <= line.pace[weeks]) & (line.pace[weeks] <= high))
    return share(inside)


