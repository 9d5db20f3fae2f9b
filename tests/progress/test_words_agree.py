"""Word, pace, range, since and sentence of simulated lines, week by week, read together: none denies another."""

import numpy as np
import pytest

from progress.judging.judgement import judge_weekly
from progress.words.verdict import reason
from tests.bench.seen_terms import ALL_GAIN, with_losses
from tests.bench.worlds import classes

BEGINS = {
    "gaining": "Gaining since", "stalled": "Stalled since", "slipping": "Slipping since",
    "not_clear": "Too soon to say", "dropped": "Down from", "at_target": "At the ", "too_early": "Too early",
}  # fmt: skip


def contradictions(line, as_of) -> list[str]:
    """What of this line denies its word."""
    text = reason(line)
    begins = text.startswith(BEGINS[line.verdict]) or "the most the test can show" in text
    wrong = [] if begins else ["the sentence begins otherwise"]
    if line.verdict == "dropped":
        wrong += ["a loss that is none"] * (line.drop.after >= line.drop.before)
        wrong += ["a loss before its day"] * (line.drop.low_on <= line.drop.usual_on)
        return wrong + ["a pace beside a loss"] * (line.rate is not None) + ["no loss"] * (line.drop is None)
    if line.rate is not None and not line.rate_low80 <= line.rate <= line.rate_high80:
        wrong.append("the pace lies outside its range")
    if line.verdict == "gaining" and line.rate_low80 < 0.0:
        wrong.append("a gain that may be a loss")
    if line.verdict == "slipping" and line.rate_high80 > 0.0:
        wrong.append("a loss that may be a gain")
    if line.verdict == "stalled" and not line.rate_low80 <= 0.0 <= line.rate_high80:
        wrong.append("level without nothing in its range")
    if (line.verdict in ("gaining", "stalled", "slipping")) != (line.since_on is not None):
        wrong.append("since when is missing or too much")
    if line.since_on is not None and not line.since_from <= line.since_on <= as_of:
        wrong.append("since is out of order")
    if line.verdict != "gaining" and "may come in" in text:
        wrong.append("a target is promised to a line that does not gain")
    if "in six weeks" in text and (as_of - line.since_on).days < 5 * 7:
        wrong.append("six weeks of a shorter time")
    first, _middle, last = line.weeks_to_target
    if "may come in" in text and last is not None and first > last:
        wrong.append("a target that comes before it may")
    if line.asks == "low" and "suddenly low" not in text and line.verdict != "at_target":
        wrong.append("a low result is not asked about")
    return wrong


def losing(world):
    return with_losses(world, np.random.default_rng(7))[0]


CASTS = {
    "as they are": ({}, None), "fast": ({"gains": "fast ones"}, None), "slow": ({"gains": "slow ones"}, None),
    "losing": ({"shares": ALL_GAIN}, losing), "dipping": ({"shares": (0.5, *(0.0,) * 5, 0.5)}, None),
}


@pytest.mark.parametrize("cast", CASTS)
@pytest.mark.parametrize("name", ["plain", "rough"])
def test_word_pace_range_since_and_sentence_never_deny_each_other(name, cast):
    found, (play, changed) = {}, CASTS[cast]
    for world in classes(name, 3, 20310107, **play):
        world = changed(world) if changed else world
        weeks = judge_weekly(
            world.facts, measures=world.measures, targets=world.targets, as_of=world.day(), with_knots=False
        )
        for week in weeks:
            for key, line in week.lines.items():
                for wrong in contradictions(line, week.as_of):
                    found.setdefault(wrong, []).append((key, week.as_of, reason(line)))
    assert {wrong: cases[0] for wrong, cases in found.items()} == {}
