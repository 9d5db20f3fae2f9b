"""The words of the judgement: one sentence of reason per line, how sure it is, one question to a class.

Pure: knows judged lines and a voice; no language, no Django, no clock. It describes; it never diagnoses.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from progress.judging.engine.facts import ClassStall, Line
from progress.judging.engine.ruling import VERDICTS
from progress.judging.engine.stories import WORTHWHILE_GAIN
from studio.voice import PLAIN, Voice

__all__ = ["VERDICTS", "class_question", "label", "how_sure", "loss_words", "reason"]

# The judge grants more level lines than an ordinary class has: there one in seven is, and it halves the odds (measured,
# tests/bench). Beyond the largest they are no number: the model is not that good.
ORDINARY_CLASS, LARGEST_ODDS = 0.5, 4.0
# Below this two stories are called about equally likely (our choice).
EVEN_ODDS, TWICE_BELOW = 1.5, 2.5
# With two results, three weeks apart, a range can be told; with one there is none.
FEWEST_SO_FAR, SHORTEST_SO_FAR = 2, 3.0
_DECIMALS = {"count": 1, "hold": 0, "grade": 2}


def label(verdict: str, *, voice: Voice = PLAIN) -> str:
    """Return the word for a verdict, as on a chip.

    >>> label("not_clear")
    'Too soon to say'
    """
    words = {
        "too_early": voice.gettext("Too early"),
        "at_target": voice.gettext("At target"),
        "stalled": voice.gettext("Stalled"),
        "slipping": voice.gettext("Slipping"),
        "gaining": voice.gettext("Gaining"),
        "not_clear": voice.gettext("Too soon to say"),
        "dropped": voice.gettext("Dropped"),
    }
    return words[verdict]


def reason(
    line: Line,
    *,
    voice: Voice = PLAIN,
    units: Mapping[str, str] | None = None,
    circumstances: Sequence[str] = (),
) -> str:
    """Return why the verdict is what it is: what, since when, rate with range, odds, target ahead, side, class.

    units: measure key -> word for its unit ("rises"), already translated; the key itself otherwise.
    circumstances: whole sentences of the caller (growth, attendance), put at the end.
    """
    unit = (units or {}).get(line.measure, line.measure)
    if line.verdict == "too_early":
        parts = [_too_early(line, voice), _so_far(line, voice, unit)]
    elif line.verdict == "at_target":
        parts = [_at_target(line, voice, unit)]
    elif line.verdict == "dropped":
        parts = [loss_words(line, voice=voice, unit=unit)]
    else:
        parts = [_trend(line, voice, unit), _odds(line, voice), _ahead(line, voice)]
    return " ".join([*(part for part in [*parts, *_around(line, voice)] if part), *circumstances])


def how_sure(
    line: Line,
    *,
    voice: Voice = PLAIN,
    units: Mapping[str, str] | None = None,
    circumstances: Sequence[str] = (),
) -> tuple[str, ...]:
    """Return the same in at most three short paragraphs, for a page that shows the verdict's word already: since when
    and how likely; where the level lies and how it changed; what stands around it. Arguments as `reason`.
    """
    unit = (units or {}).get(line.measure, line.measure)
    around = " ".join([*filter(None, _around(line, voice)), *circumstances])
    if line.verdict == "too_early" or line.level is None:
        return tuple(filter(None, (_too_early(line, voice), around)))
    if line.verdict == "dropped":
        return tuple(filter(None, (loss_words(line, voice=voice, unit=unit), around)))
    if line.verdict == "at_target":
        return tuple(filter(None, (_at_target(line, voice, unit), around)))
    first, is_grade = " ".join(filter(None, (_when(line, voice), _odds(line, voice)))), line.scale == "grade"
    changed = voice.gettext("it changed by %(rate)s, likely %(low)s to %(high)s.") % {
        "rate": _rate(line, voice, unit), "low": _signed(line, line.rate_low80, voice),
        "high": _signed(line, line.rate_high80, voice),
    }
    level = voice.gettext("The level is most likely %(low)s to %(high)s; %(changed)s") % {
        "low": _level(line, line.level_low80, voice, unit) if is_grade else _bare(line, line.level_low80, voice),
        "high": _bare(line, line.level_high80, voice) if is_grade else _level(line, line.level_high80, voice, unit),
        "changed": changed,
    }
    return tuple(filter(None, (first, " ".join(filter(None, (level, _ahead(line, voice)))), around)))


def _when(line: Line, voice: Voice) -> str:
    if line.since_on is None:
        return ""
    return voice.gettext("Since about %(since)s.") % {"since": voice.week(line.since_on)}


def _around(line: Line, voice: Voice) -> list[str]:
    """Which foot, what to ask, the class, what may change it, what waits: a sentence each, or an empty one."""
    parts = []
    if line.verdict in ("stalled", "slipping", "dropped") and line.one_sided:
        parts.append(_one_foot(line, voice))
    parts.append(_asked(line, voice))
    if line.with_class:
        parts.append(voice.gettext("So is most of the class: ask about the programme first."))
    elif line.verdict in ("stalled", "slipping"):
        # Of flags on simulated lines that gained again more than half went by three results (tests/bench/).
        ending = voice.gettext("The last results are better: it may be ending.")
        parts.append(ending if line.easing else _usually_changes(line, voice))
    if line.held_back:
        text = voice.ngettext(
            "One result waits to be confirmed.", "%(count)s results wait to be confirmed.", len(line.held_back)
        )
        parts.append(text % {"count": len(line.held_back)})
    return parts


def _usually_changes(line: Line, voice: Voice) -> str:
    return {
        "count": voice.gettext("Three to five better counts usually change this."),
        "hold": voice.gettext("Three to five better holds usually change this."),
        "grade": voice.gettext("Three to five better days usually change this."),
    }[line.scale]


def loss_words(line: Line, *, voice: Voice = PLAIN, unit: str) -> str:
    """Return what was lost at once, between which days, and what to do about it; unit: already translated."""
    words = {
        "before": _bare(line, line.drop.before, voice),
        "after": _level(line, line.drop.after, voice, unit),
        "usual": voice.day(line.drop.usual_on),
        "low": voice.day(line.drop.low_on),
    }
    fact = voice.gettext("Down from about %(before)s to %(after)s between %(usual)s and %(low)s.") % words
    return f"{fact} {voice.gettext('Ask what happened, and look at the foot.')}"


def _asked(line: Line, voice: Voice) -> str:
    return {
        "": "",
        "low": voice.gettext("The last result is suddenly low: measure again, and ask whether it hurts."),
        "high": voice.gettext("The last results are suddenly higher: were they counted another way?"),
        "class": voice.gettext("Most of the class was suddenly lower that day: look at the day first."),
    }[line.asks]


def _too_early(line: Line, voice: Voice) -> str:
    missing = line.results_missing
    return voice.ngettext(
        "Too early to say: at least %(count)s more result is needed, over three weeks or longer.",
        "Too early to say: at least %(count)s more results are needed, over three weeks or longer.",
        missing,
    ) % {"count": missing}


def _so_far(line: Line, voice: Voice, unit: str) -> str:
    # What two or three results of a term can say is said: nearly everything is possible.
    weeks = (line.last_on - line.first_on).days / 7.0 if line.results >= FEWEST_SO_FAR else 0.0
    if weeks < SHORTEST_SO_FAR or line.rate is None:
        return ""
    ends = [weeks * rate for rate in (line.rate_low80, line.rate_high80)]
    if line.scale == "hold":
        ends = [100.0 * ((1.0 + rate / 100.0) ** weeks - 1.0) for rate in (line.rate_low80, line.rate_high80)]
    low, high = (voice.signed(end, 1 if line.scale == "grade" else 0) for end in ends)
    words = {"low": low, "high": high, "unit": unit, "day": voice.day(line.first_on)}
    return {
        "count": voice.gettext("Anything from %(low)s to %(high)s %(unit)s since %(day)s is possible so far."),
        "hold": voice.gettext("Anything from %(low)s to %(high)s %% since %(day)s is possible so far."),
        "grade": voice.gettext("Anything from %(low)s to %(high)s grades since %(day)s is possible so far."),
    }[line.scale] % words


def _at_target(line: Line, voice: Voice, unit: str) -> str:
    if line.at_cap:
        return voice.gettext("This is the most the test can show. Use a harder version.")
    words = {
        "level": _level(line, line.level, voice, unit),
        "low": _bare(line, line.level_low80, voice),
        "high": _bare(line, line.level_high80, voice),
    }
    if line.target is None:
        return voice.gettext("At the top: level about %(level)s (likely %(low)s to %(high)s).") % words
    words["target"] = _target(line, voice)
    return voice.gettext("At the target of %(target)s: level about %(level)s (likely %(low)s to %(high)s).") % words


def _target(line: Line, voice: Voice) -> str:
    return voice.number(line.target, 0 if line.target == int(line.target) else 1)


def _ahead(line: Line, voice: Voice) -> str:
    # A range of eight in ten, never a lone week: that is no sharper than a straight line. Grades are too coarse for it,
    # and how often theirs is right was not measured.
    if line.verdict != "gaining" or line.target is None or line.scale == "grade":
        return ""
    words, (first, _middle, last) = {"target": _target(line, voice)}, line.weeks_to_target
    if first is None:
        return voice.gettext("At this pace the target of %(target)s is more than a year away.") % words
    if last is None:
        weeks = max(1, math.floor(first))
        text = voice.ngettext(
            "If this goes on, the target of %(target)s may come in %(early)s week at the earliest.",
            "If this goes on, the target of %(target)s may come in %(early)s weeks at the earliest.",
            weeks,
        )
        return text % (words | {"early": voice.number(weeks, 0)})
    early = max(1, math.floor(first))
    words["early"] = voice.number(early, 0)
    words["late"] = voice.number(max(early + 1, math.ceil(last)), 0)
    return voice.gettext("If this goes on, the target of %(target)s may come in %(early)s to %(late)s weeks.") % words


def _bare(line: Line, value: float, voice: Voice) -> str:
    return voice.number(value, 1 if line.scale == "grade" else 0)


def _level(line: Line, value: float, voice: Voice, unit: str) -> str:
    number = _bare(line, value, voice)
    if line.scale == "hold":
        return voice.gettext("%(number)s seconds") % {"number": number}
    if line.scale == "grade":
        return voice.gettext("grade %(number)s") % {"number": number}
    return f"{number} {unit}"


def _trend(line: Line, voice: Voice, unit: str) -> str:
    words = {
        "rate": _rate(line, voice, unit),
        "low": _signed(line, line.rate_low80, voice),
        "high": _signed(line, line.rate_high80, voice),
    }
    if line.since_on is not None:
        words["since"] = voice.week(line.since_on)
    sentences = {
        "stalled": voice.gettext("Stalled since about %(since)s: %(rate)s (likely %(low)s to %(high)s)."),
        "slipping": voice.gettext("Slipping since about %(since)s: %(rate)s (likely %(low)s to %(high)s)."),
        "gaining": voice.gettext("Gaining since about %(since)s: %(rate)s (likely %(low)s to %(high)s)."),
        "not_clear": voice.gettext("Too soon to say: %(rate)s (likely %(low)s to %(high)s)."),
    }
    return sentences[line.verdict] % words


def _signed(line: Line, value: float, voice: Voice) -> str:
    return voice.signed(value, _DECIMALS[line.scale])


def _rate(line: Line, voice: Voice, unit: str) -> str:
    number = _signed(line, line.rate, voice)
    if line.scale == "hold":
        return voice.gettext("%(number)s %% a week") % {"number": number}
    if line.scale == "grade":
        return voice.gettext("%(number)s grades a week") % {"number": number}
    return voice.gettext("%(number)s %(unit)s a week") % {"number": number, "unit": unit}


def _odds(line: Line, voice: Voice) -> str:
    if line.verdict == "not_clear":
        return _what_would_settle(line, voice)
    if line.verdict == "gaining":
        return _if_small(line, voice)
    if line.seen and line.verdict == "stalled":
        return _over_six_weeks(line, voice)
    odds = ORDINARY_CLASS * line.p_no_gain / max(line.p_gain, 1e-9)
    if line.verdict == "slipping":
        return _odds_of_slipping(odds, voice)
    if odds > LARGEST_ODDS:
        return voice.gettext("Clearly likelier to have levelled off than to be still gaining.")
    if odds < EVEN_ODDS:
        return voice.gettext("At least as likely to have levelled off as to be still gaining.")
    if odds < TWICE_BELOW:
        return voice.gettext("Twice as likely to have levelled off as to be still gaining.")
    return voice.gettext("Three times as likely to have levelled off as to be still gaining.")


def _over_six_weeks(line: Line, voice: Voice) -> str:
    return {
        "count": voice.gettext("No gain to speak of in six weeks, however much one count wobbles."),
        "hold": voice.gettext("No gain to speak of in six weeks, however much one hold wobbles."),
        "grade": voice.gettext("No gain to speak of in six weeks, coarse as one grade is."),
    }[line.scale]


def _odds_of_slipping(odds: float, voice: Voice) -> str:
    if odds > LARGEST_ODDS:
        return voice.gettext("Clearly likelier to slip or stand still than to be gaining.")
    return voice.gettext("Likelier to slip or stand still than to be gaining.")


def _what_would_settle(line: Line, voice: Voice) -> str:
    if line.measure_again:
        return voice.gettext("Two more results on another day may settle it.")
    odds = line.p_no_gain / max(line.p_gain, 1e-9)
    if odds > EVEN_ODDS:
        return voice.gettext("Probably stalled, not certain yet.")
    if odds < 1.0 / EVEN_ODDS:
        return voice.gettext("Probably gaining, not certain yet.")
    return voice.gettext("It could be either; we cannot tell yet.")


def _if_small(line: Line, voice: Voice) -> str:
    worthwhile = WORTHWHILE_GAIN[line.scale] * (100.0 if line.scale == "hold" else 1.0)
    return voice.gettext("The gain is small.") if line.rate < worthwhile else ""


def _one_foot(line: Line, voice: Voice) -> str:
    return voice.gettext("Left foot only.") if line.side == "L" else voice.gettext("Right foot only.")


def class_question(stall: ClassStall, *, voice: Voice = PLAIN, names: Mapping[str, str] | None = None) -> str:
    """Return the question a class-wide stall asks: of the programme, never of one child."""
    name = (names or {}).get(stall.measure, stall.measure)
    words = {"since": voice.week(stall.since_on), "day": voice.day(stall.since_on), "measure": name}
    if stall.is_drop:
        fact = voice.gettext("Most of this class was suddenly lower in %(measure)s on %(day)s.")
        question = voice.gettext("What was different that day? Measure once more before you ask about the students.")
    elif not stall.firm:
        fact = voice.gettext("Over the last two weeks most of this class stood still or did less in several measures.")
        question = voice.gettext("Look again after the next class before you ask about the programme.")
    elif stall.measure is None:
        fact = voice.gettext("Several measures have hardly moved since about %(since)s for most of the class.")
        question = voice.gettext("Measure once more before you change anything: what changed in the programme?")
    else:
        fact = voice.gettext("%(measure)s: hardly any change since about %(since)s for most of the class.")
        question = voice.gettext("Measure once more before you change anything: is there enough work on it?")
    text = f"{fact % words} {question}"
    return text[:1].upper() + text[1:]
