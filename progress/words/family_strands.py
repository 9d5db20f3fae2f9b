"""What a family is told of one measure of its child: which way each foot went, as whole sentences.

Pure: knows judged lines and a voice; no language, no Django, no clock. It says neither verdict nor target.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from progress.judging.judgement import Knot, Line
from studio.voice import Voice

GREW, GREW_AND_KEPT, GREW_AND_LESS, KEPT = "grew", "grew and kept", "grew and less", "kept"
MORE, LESS, OPEN = "more", "less", "open"
# The ways that did not go forward lately: where they are told, it is said that such weeks are common.
NO_STEP = frozenset({KEPT, GREW_AND_KEPT, GREW_AND_LESS, LESS})
# Numbers this near are the same to a family: one rise, or a tenth of a balance (our choice; one result wobbles more).
SAME_COUNT, SAME_SHARE = 1.0, 0.1
# What went forward is told first, then right before left as in the table.
FORWARD_FIRST = ("R", "L", "")


@dataclass(frozen=True)
class Strand:
    """One measure of the child, in the family's words, with its judged lines.

    name: "Rises"; practice: "rising on one foot"; kind: "count", "hold" or "grade"; unit: what stands behind a
    number ("s") or nothing; typical_error: of one result, in the kind's own scale; first_on: the first day of this
    term as it is measured now; lines: one for each side.
    """

    name: str
    practice: str
    kind: str
    unit: str
    typical_error: float
    first_on: date
    lines: tuple[Line, ...]


def first_of_term(line: Line, starts_on: date) -> Knot | None:
    """The first level of this term under the present protocol; None before there is something to say."""
    if line.verdict == "too_early" or line.level is None or not line.knots:
        return None
    present = line.knots[-1].protocol
    counted = (k for k in line.knots if k.protocol == present and k.on >= starts_on and not k.stale)
    return min(counted, key=lambda knot: knot.on, default=None)


def as_written(level: float) -> float:
    """A level as the table writes it: whole rises and whole seconds.

    >>> as_written(11.4), as_written(17.6)
    (11.0, 18.0)
    """
    return float(f"{level:.0f}")


def way_of(strand: Strand, line: Line, starts_on: date) -> str:
    """Which way a line went, as a family would say it: what was judged, held to the numbers of the table.

    A foot never "kept its number" beside two that differ, and never grew beside a smaller one.
    """
    judged = {
        "gaining": GREW, "at_target": KEPT, "stalled": KEPT, "slipping": LESS, "dropped": LESS, "not_clear": OPEN,
    }[line.verdict]
    then = first_of_term(line, starts_on)
    if then is None:
        return judged
    if strand.kind == "grade":
        has_grown = line.level_low80 is not None and then.level < line.level_low80
        return GREW if line.verdict == "at_target" and has_grown else judged
    first, now = as_written(then.level), as_written(line.level)
    same = SAME_COUNT if strand.kind == "count" else max(SAME_COUNT, SAME_SHARE * first)
    if line.verdict == "gaining":
        return GREW if now > first else (KEPT if first - now <= same else OPEN)
    if now - first > same:
        return _more(line, then)
    if first - now > same or (judged == LESS and now < first):
        return LESS
    return OPEN if judged == OPEN else KEPT


def _more(line: Line, then: Knot) -> str:
    """What is said of a larger number than at first, where the line does not gain any more."""
    if line.verdict == "at_target":
        return GREW
    is_later = line.since_on is not None and line.since_on > then.on
    later = {"stalled": GREW_AND_KEPT, "slipping": GREW_AND_LESS}
    return later.get(line.verdict, MORE) if is_later else MORE


def ways_of(strand: Strand, starts_on: date) -> dict[str, str]:
    """Side to way, of the sides of which there is something to say."""
    return {line.side: way_of(strand, line, starts_on) for line in strand.lines if line.verdict != "too_early"}


def strand_sentence(strand: Strand, starts_on: date, voice: Voice) -> str:
    """ "Rises: the right foot grew stronger; the left foot has kept its number since January." or nothing yet."""
    ways = ways_of(strand, starts_on)
    lines = {line.side: line for line in strand.lines}
    if len(ways) == 2 and len(set(ways.values())) == 1:
        way = ways["L"]
        earliest = min((_month_of(lines[side], way, starts_on) for side in ways), default=starts_on)
        clauses = [_clause(strand, "both", way, earliest, voice)]
    else:
        told = [side for side in FORWARD_FIRST if side in ways]
        told.sort(key=lambda side: ways[side] != GREW)
        clauses = [
            _clause(strand, side, ways[side], _month_of(lines[side], ways[side], starts_on), voice) for side in told
        ]
    if not clauses:
        return ""
    return voice.gettext("%(name)s: %(text)s.") % {"name": strand.name, "text": "; ".join(clauses)}


def _month_of(line: Line, way: str, starts_on: date) -> date:
    """The day of the month that is named: that of the table's first number, or from which on it was judged so."""
    then = first_of_term(line, starts_on)
    if way in (MORE, LESS) and then is not None:
        return then.on
    return line.since_on if line.since_on and line.since_on >= starts_on else starts_on


def _clause(strand: Strand, feet: str, way: str, on: date, voice: Voice) -> str:
    words = (_steadier(voice) if strand.kind == "grade" else _longer(voice))[way, feet]
    return words % {"month": voice.month(on)}


def _longer(voice: Voice) -> dict[tuple[str, str], str]:
    """(way, feet) to the words about a strand of numbers; whole, for languages bend differently."""
    say = voice.gettext
    return {
        (GREW, "both"): say("both feet grew stronger"),
        (GREW, "L"): say("the left foot grew stronger"),
        (GREW, "R"): say("the right foot grew stronger"),
        (GREW, ""): say("stronger than before"),
        (GREW_AND_KEPT, "both"): say(
            "both feet grew stronger until %(month)s and have stayed about the same since"),
        (GREW_AND_KEPT, "L"): say(
            "the left foot grew stronger until %(month)s and has stayed about the same since"),
        (GREW_AND_KEPT, "R"): say(
            "the right foot grew stronger until %(month)s and has stayed about the same since"),
        (GREW_AND_KEPT, ""): say("stronger until %(month)s, about the same since"),
        (GREW_AND_LESS, "both"): say("both feet grew stronger until %(month)s and have done a little less since"),
        (GREW_AND_LESS, "L"): say("the left foot grew stronger until %(month)s and has done a little less since"),
        (GREW_AND_LESS, "R"): say("the right foot grew stronger until %(month)s and has done a little less since"),
        (GREW_AND_LESS, ""): say("stronger until %(month)s, a little less since"),
        (MORE, "both"): say("both feet do more than in %(month)s"),
        (MORE, "L"): say("the left foot does more than in %(month)s"),
        (MORE, "R"): say("the right foot does more than in %(month)s"),
        (MORE, ""): say("more than in %(month)s"),
        (KEPT, "both"): say("both feet have stayed about the same since %(month)s"),
        (KEPT, "L"): say("the left foot has stayed about the same since %(month)s"),
        (KEPT, "R"): say("the right foot has stayed about the same since %(month)s"),
        (KEPT, ""): say("about the same since %(month)s"),
        (LESS, "both"): say("both feet do less than in %(month)s"),
        (LESS, "L"): say("the left foot does less than in %(month)s"),
        (LESS, "R"): say("the right foot does less than in %(month)s"),
        (LESS, ""): say("less than in %(month)s"),
        **_open(voice),
    }


def _steadier(voice: Voice) -> dict[tuple[str, str], str]:
    """The same about a strand that is seen, not counted."""
    say = voice.gettext
    return {
        (GREW, "both"): say("both feet became steadier"),
        (GREW, "L"): say("the left foot became steadier"),
        (GREW, "R"): say("the right foot became steadier"),
        (GREW, ""): say("steadier than before"),
        (KEPT, "both"): say("both feet are as steady as in %(month)s"),
        (KEPT, "L"): say("the left foot is as steady as in %(month)s"),
        (KEPT, "R"): say("the right foot is as steady as in %(month)s"),
        (KEPT, ""): say("as steady as in %(month)s"),
        (LESS, "both"): say("both feet are a little less steady than in %(month)s"),
        (LESS, "L"): say("the left foot is a little less steady than in %(month)s"),
        (LESS, "R"): say("the right foot is a little less steady than in %(month)s"),
        (LESS, ""): say("a little less steady than in %(month)s"),
        **_open(voice),
    }


def _open(voice: Voice) -> dict[tuple[str, str], str]:
    say = voice.gettext
    return {
        (OPEN, "both"): say("both feet vary from week to week"),
        (OPEN, "L"): say("the left foot varies from week to week"),
        (OPEN, "R"): say("the right foot varies from week to week"),
        (OPEN, ""): say("varies from week to week"),
    }


def first_foot(strands: Iterable[Strand], starts_on: date) -> str:
    """The one foot that did not go forward while the other did; nothing where there is none or they differ."""
    behind = set()
    for strand in strands:
        ways = ways_of(strand, starts_on)
        slow = [side for side, way in ways.items() if side and way in NO_STEP]
        if len(ways) == 2 and len(slow) == 1:
            behind.add(slow[0])
    return behind.pop() if len(behind) == 1 else ""
