"""Turns a student's scores and judged lines into the description of a chart; draws nothing."""
import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import groupby, pairwise
from typing import Self

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from progress.drawing import parts as parts
from progress.judging.judgement import Line
from progress.models import PainReport
from progress.queries.growth import event_words
from progress.queries.pain import short_words
from progress.queries.resting import measure_work
from progress.rules.growth import Reading
from progress.rules.resting import Rest
from progress.words.speech import (
    side_word,
    verdict_word,
    voice_for,
    write_level,
    write_level_with_unit,
    write_rate,
)
from screening.models import Measure, Protocol, Target
from screening.queries import Score
from screening.wording import write_value
from studio.models import Student, Term
from studio.templatetags.wording import write_number

KINDS = {Measure.COUNT: "count", Measure.SECONDS: "hold", Measure.GRADE: "grade", Measure.TALLY: "count"}
# Beyond this many half-bands a result is called a bad day: 8 of 10 fall within one, 99 of 100 within two.
BAD_DAY_BANDS = 2.0
# Of so many reports within so many days each has its words on the rail; the others are a bar (as drawn).
MOST_NAMED, CROWDED = 2, dt.timedelta(days=14)


@dataclass(frozen=True)
class StrandFacts:
    """Everything one chart is made of. `lines` by side; `held_back`: result ids; all scores of this measure.

    rests_since: from when on the student leaves this measure out; then it is shown and neither praised nor judged.
    """

    student: Student
    measure: Measure
    protocols: Mapping[int, Protocol]
    scores: Sequence[Score]
    lines: Mapping[str, Line]
    target: Target | None
    pain: Sequence[PainReport]
    assessors: Mapping[int, str]
    heights: Sequence[Reading] = ()
    rests_since: dt.date | None = None

    def as_it_ended(self, term: Term) -> Self:
        """The same, up to the last day of a term, held to the target by which it was judged then."""
        then = next((line.target for line in self.lines.values()), None)
        is_same = then is not None and self.target is not None and float(self.target.value) == then
        target = self.target if is_same else None
        if then is not None and not is_same:
            target = Target(measure=self.measure, value=Decimal(str(then)), set_on=term.starts_on)
        return replace(self, target=target, scores=[score for score in self.scores if score.on <= term.ends_on])

    def while_resting(self, rest: Rest | None) -> Self:
        """The same, where the student rests from this measure, without asking for another result or praising it."""
        if rest is None or not rest.forbids(measure_work(self.measure)):
            return self
        asking = self.lines.items()
        lines = {side: replace(line, measure_again=False, at_cap=False) for side, line in asking}
        return replace(self, lines=lines, rests_since=rest.since)


def describe_chart(facts: StrandFacts, term: Term, *, as_of: dt.date) -> parts.Chart:
    """The chart of one strand in one term, as of one day; in a term that ended before, no judgement of today."""
    measure = facts.measure
    is_past = as_of > term.ends_on
    as_of = min(as_of, term.ends_on)
    voice = voice_for(term)
    current = max(facts.protocols.values(), key=lambda p: p.version)
    in_term = [s for s in facts.scores if term.starts_on <= s.on <= min(term.ends_on, as_of)]
    sides = tuple(_side(facts, side, in_term, as_of, voice, is_past) for side in measure.sides)
    caps = _caps(facts, in_term)
    return parts.Chart(
        key=f"{measure.key}-{facts.student.pk}",
        title=str(measure),
        unit=_("seconds") if measure.kind == Measure.SECONDS else _(measure.unit),
        kind=KINDS[measure.kind],
        starts_on=term.starts_on, ends_on=term.ends_on, as_of=as_of,
        as_of_words=voice.day(as_of),
        sides=sides,
        sentence=_sentence(facts, sides),
        target=_target(facts.target, measure, current, term, voice),
        holidays=tuple(parts.Holiday(h.name, h.starts_on, h.ends_on) for h in term.holidays.all()),
        breaks=_breaks(facts, in_term),
        caps=caps,
        events=_events(facts, term, voice),
        grades=tuple(parts.GradeWord(i, _(word)) for i, (word, _anchor) in enumerate(current.grades)),
        bad_day_words=_("one bad day counts little"),
        held_back_words=_("waiting to be confirmed"),
    )


def _events(facts: StrandFacts, term: Term, voice) -> tuple[parts.Event, ...]:
    """Pain and growth of the term; a first height tells of no growth."""
    reports = sorted(
        (r for r in facts.pain if term.starts_on <= r.reported_on <= term.ends_on), key=lambda r: (r.reported_on, r.pk)
    )
    hurt = [
        parts.Event(report.reported_on, "pain", _pain_words(report, reports[:at])) for at, report in enumerate(reports)
    ]
    grown = [
        parts.Event(now.on, "growth", event_words(before, now, term))
        for before, now in pairwise(facts.heights) if term.starts_on <= now.on <= term.ends_on
    ]
    return (*hurt, *grown)


def _pain_words(report: PainReport, earlier: Sequence[PainReport]) -> str:
    """ "left Achilles, sharp, 6 of 10"; of the same place "again"; of a third one within a fortnight nothing: the bar
    says enough.
    """
    near = [each for each in earlier if report.reported_on - each.reported_on <= CROWDED]
    if len(near) >= MOST_NAMED:
        return ""
    if any(each.places and each.places == report.places for each in earlier):
        return _("again")
    return short_words(report)


def _side(
    facts: StrandFacts, side: str, in_term: Sequence[Score], as_of: dt.date, voice, is_past: bool
) -> parts.ChartSide:
    line = facts.lines.get(side)
    held = set(line.held_back) if line else set()
    mine = [score for score in in_term if score.side == side]
    counted = [score for score in mine if score.result_id not in held]
    knots = ()
    # Before there is something to say, the results stand alone: no level is drawn that nobody knows.
    if line is not None and line.verdict != "too_early":
        knots = _knots(line, counted)
    points = tuple(_point(facts, score, knots, held, voice) for score in mine)
    name = {"L": _("Left"), "R": _("Right"), "": str(facts.measure)}[side]
    return parts.ChartSide(
        side=side, name=name, points=points, knots=knots,
        end=_end(line, name, facts, counted, voice) if line and knots and not is_past else None,
        level_since=None if is_past or facts.rests_since else _since(line, side, as_of, voice),
    )


def _knots(line: Line, counted: Sequence[Score]) -> tuple[parts.Knot, ...]:
    """The line from the first result of each protocol to the last one.

    The judge has one level a week, and knows it at the week's end: so it is drawn from the first result of its first
    week, and to the last one of its last.
    """
    found: list[parts.Knot] = []
    for protocol, group in groupby((k for k in line.knots if not k.stale), key=lambda k: k.protocol):
        days = [score.on for score in counted if score.protocol_version == protocol]
        run = [
            parts.Knot(k.on, k.level, k.level_low80, k.level_high80, k.band_low, k.band_high, k.protocol) for k in group
        ]
        if not days:
            continue
        first, last = min(days), max(days)
        ahead = [knot for knot in run if knot.on >= first]
        inside = [knot for knot in ahead if first < knot.on < last]
        ends = [knot for knot in ahead if knot.on >= last] or ahead[-1:]
        if ahead:
            found += [replace(ahead[0], on=first), *inside, replace(ends[0], on=last)]
    return tuple(found)


def _point(facts: StrandFacts, score: Score, knots, held: set[int], voice) -> parts.Point:
    value = float(score.value)
    near = min(knots, key=lambda k: abs((k.on - score.on).days), default=None)
    bad = False
    if near is not None and near.protocol == score.protocol_version and score.result_id not in held:
        middle, half = near.level, (near.band_high - near.band_low) / 2
        bad = facts.measure.kind != Measure.GRADE and half > 0 and middle - value > BAD_DAY_BANDS * half
    protocol = facts.protocols[score.protocol_id]
    written = write_value(score.value, facts.measure, protocol, capped=score.capped)
    by = score.assessor_name or facts.assessors.get(score.recorded_by_id or 0, "")
    words = ", ".join(part for part in (f"{voice.day(score.on)}: {written}", protocol.short_name, by) if part)
    return parts.Point(
        score.on, value, capped=score.capped, bad_day=bad, held_back=score.result_id in held, words=words
    )


def band_words(side: str, measure: Measure) -> str:
    """ "hatched: single counts", beside the line whose band it is."""
    if side == "L":
        return {
            Measure.SECONDS: _("hatched: single holds"), Measure.GRADE: _("hatched: single grades"),
        }.get(measure.kind, _("hatched: single counts"))
    return {
        Measure.SECONDS: _("shaded: single holds"), Measure.GRADE: _("shaded: single grades"),
    }.get(measure.kind, _("shaded: single counts"))


def band_note(side: str, measure: Measure) -> str:
    """The same in a sentence, under the chart."""
    of = {"L": _("of the left foot"), "R": _("of the right foot"), "": ""}[side]
    what = {
        Measure.SECONDS: _("single holds"), Measure.GRADE: _("single grades"),
    }.get(measure.kind, _("single counts"))
    hatched, shaded = _("Hatched: where most %(what)s %(of)s fall."), _("Shaded: where most %(what)s %(of)s fall.")
    text = hatched if side == "L" else shaded
    return " ".join((text % {"what": what, "of": of}).split())


def _end(line: Line, name: str, facts: StrandFacts, counted: Sequence[Score], voice) -> parts.EndLabel:
    """The last count, as the teacher saw it; where the level is likely stands beside it on paper."""
    measure, band = facts.measure, band_words(line.side, facts.measure)
    if line.level is None or not counted:
        return parts.EndLabel(level=name)
    last = max(counted, key=lambda score: (score.on, score.result_id))
    written = write_value(last.value, measure, facts.protocols[last.protocol_id], capped=last.capped)
    level = f"{name} {written}" if line.side else written
    if facts.rests_since is not None:
        return parts.EndLabel(level=level, state=rest_since_words(facts.rests_since, voice), band=band)
    likely = _("level likely %(low)s to %(high)s") % {
        "low": write_level(line.level_low80, measure), "high": write_level(line.level_high80, measure),
    }
    return parts.EndLabel(
        level=level, likely=likely, band=band, verdict=line.verdict, verdict_word=verdict_word(line.verdict),
        rate="" if line.verdict == "too_early" else write_rate(line),
        had=line.results_in_protocol, needed=line.results_in_protocol + line.results_missing,
    )


def rest_since_words(since: dt.date, voice) -> str:
    """ "resting since 23 November": in the place of a verdict."""
    return _("resting since %(day)s") % {"day": voice.day(since)}


def _since(line: Line | None, side: str, as_of: dt.date, voice) -> parts.LevelSince | None:
    if line is not None and line.drop is not None:
        words = _("dropped between %(usual)s and %(low)s") % {
            "usual": voice.day(line.drop.usual_on), "low": voice.day(line.drop.low_on),
        }
        words = f"{side_word(side)} {words}" if side else words
        return parts.LevelSince(solid_from=line.drop.low_on, words=words) if line.drop.low_on < as_of else None
    if line is None or line.verdict not in ("stalled", "slipping") or line.since_on is None or line.since_on >= as_of:
        return None
    what = _("stalled since about %(week)s") if line.verdict == "stalled" else _("slipping since about %(week)s")
    words = what % {"week": voice.week(line.since_on)}
    if side:
        words = f"{side_word(side)} {words}"
    return parts.LevelSince(solid_from=line.since_on, words=words, dotted_from=line.since_from)


def _target(target: Target | None, measure: Measure, current: Protocol, term: Term, voice) -> parts.Target | None:
    if target is None:
        return None
    if measure.kind == Measure.GRADE:
        value = write_level_with_unit(float(target.value), measure, current)
    else:
        value = write_number(target.value, 0 if target.value == int(target.value) else 1)
    if measure.kind == Measure.SECONDS:
        value = f"{value} {_(measure.unit)}"
    if target.set_on <= term.starts_on:
        return parts.Target(float(target.value), None, _("target %(value)s") % {"value": value})
    words = _("target %(value)s, set %(day)s") % {"value": value, "day": voice.day(target.set_on)}
    return parts.Target(float(target.value), target.set_on, words)


def _breaks(facts: StrandFacts, in_term: Sequence[Score]) -> tuple[parts.Break, ...]:
    first: dict[int, dt.date] = {}
    for score in sorted(in_term, key=lambda s: s.on):
        first.setdefault(score.protocol_id, score.on)
    order = sorted(first, key=lambda pk: first[pk])
    return tuple(
        parts.Break(first[new], facts.protocols[old].short_name, facts.protocols[new].short_name)
        for old, new in zip(order, order[1:], strict=False)
    )


def _caps(facts: StrandFacts, in_term: Sequence[Score]) -> tuple[parts.Cap, ...]:
    made = []
    for pk in {s.protocol_id for s in in_term if s.capped}:
        cap = facts.protocols[pk].cap
        days = [s.on for s in in_term if s.protocol_id == pk]
        if cap is not None:
            words = _("arrow: at least %(value)s") % {"value": write_number(cap, 0 if cap == int(cap) else 1)}
            made.append(parts.Cap(float(cap), min(days), max(days), words))
    return tuple(made)


def _sentence(facts: StrandFacts, sides: Sequence[parts.ChartSide]) -> str:
    said = [
        ", ".join(filter(None, (side.end.level, side.end.likely, side.end.state or side.end.verdict_word)))
        for side in sides if side.end is not None
    ]
    points = sum(len(side.points) for side in sides)
    text = ngettext(
        "%(measure)s in this term, %(n)s result.", "%(measure)s in this term, %(n)s results.", points
    ) % {"measure": facts.measure, "n": points}
    return " ".join([text, *(f"{words}." for words in said)])
