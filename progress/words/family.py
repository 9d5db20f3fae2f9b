"""What a family is told of its child: headings and sentences, the same for the page and the letter of a term.

Pure: knows judged lines and a voice; no language, no Django, no clock, no other child. What comes out holds no
verdict word, no target, no range, no rank, and nothing about being ready: there is no field to put one in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta

from progress.judging.judgement import Knot, Line
from progress.words.family_pain import NO_PAIN, Hurt, Pain, not_at_home, pain_heading, pain_sentences
from progress.words.family_strands import NO_STEP, Strand, first_foot, first_of_term, strand_sentence, ways_of
from studio.voice import PLAIN, Voice

__all__ = ["FamilyFacts", "FamilyWords", "Hurt", "Pain", "Part", "Row", "Strand", "family_words"]

# Within this time before the end of the term what comes next is told of the next one (our choice).
NEARLY_OVER = timedelta(days=14)
# Two levels nearer than this in time are no "then" and "now" (our choice).
FEWEST_DAYS_APART = 14
# Right first, as in the table of the page.
SIDES = ("R", "L", "")
# The drawings beside the steps at home (progress/drawing/body), "" where none shows it.
AT_HOME = ("rise-at-home", "stand-on-one-foot", "")


@dataclass(frozen=True)
class FamilyFacts:
    """Everything the words are made of; about one child and one term.

    called: the child's name at the barre; term: "spring term", as it stands in a sentence; teacher: who writes, or
    nothing; as_of: the last day that counted; days_held, days_came: classes of which the log says whether the child
    was there, and those with the child; where no log is kept (not is_log), measuring days;
    has_grown: taller lately, beyond the error of a height; pain: only what the family may be told; may_exercise:
    False also where it may not; tells_measures: the family agreed to measurements; measured_next: a day that is known.
    """

    called: str
    term: str
    teacher: str
    as_of: date
    term_starts_on: date
    term_ends_on: date
    strands: tuple[Strand, ...]
    days_held: int = 0
    days_came: int = 0
    is_log: bool = False
    pain: Pain = NO_PAIN
    has_grown: bool = False
    may_exercise: bool = True
    tells_measures: bool = True
    measured_next: date | None = None


@dataclass(frozen=True)
class Row:
    """A line of the table: "Rises, right foot", "10", "about", "18", "s"."""

    name: str
    then: str
    about: str
    now: str
    unit: str


@dataclass(frozen=True)
class Part:
    """A heading and the sentences under it."""

    heading: str
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class FamilyWords:
    """The whole of it, top to bottom. then_words, now_words, about: over and in the table; hurt: None if nothing;
    poses: beside each step the key of its drawing, as in `AT_HOME`, none where nothing may be practised."""

    title: str
    subtitle: str
    practised: Part
    stronger: Part
    then_words: str
    now_words: str
    about: str
    rows: tuple[Row, ...]
    wobble: str
    hurt: Part | None
    next: Part
    help: Part
    steps: tuple[str, ...]
    poses: tuple[str, ...]
    stop: Part
    only_her: str
    write: str
    ask: str

    @property
    def drawn_steps(self) -> tuple[tuple[str, str], ...]:
        """(step, key of its drawing or "") in their order."""
        return tuple(zip(self.steps, self.poses or ("",) * len(self.steps), strict=True))


def family_words(facts: FamilyFacts, *, voice: Voice = PLAIN) -> FamilyWords:
    """Return what the family of one child is told, from the same lines as the pages of the staff.

    Levels are rounded like everywhere else: to whole rises and seconds. A strand without anything to say yet
    is practised all the same and has no row.

    >>> facts = FamilyFacts("Ama", "spring term", "", date(2031, 3, 24), date(2031, 1, 6), date(2031, 4, 5), ())
    >>> words = family_words(facts)
    >>> words.title, words.stronger.sentences
    ('Ama’s spring term', ('Numbers follow after the first measuring day.',))
    """
    say = voice.gettext
    told = {"name": facts.called, "term": facts.term, "teacher": facts.teacher, "day": voice.day(facts.as_of)}
    teacher = {"teacher": facts.teacher.split(" ")[0]}
    starts = [pair for strand in facts.strands for pair in _pairs(strand, facts)]
    months = {voice.month(then.on) for _strand, _line, then in starts}
    return FamilyWords(
        title=say("%(name)s’s %(term)s") % told,
        subtitle=(say("For the family, from %(teacher)s, %(day)s") if facts.teacher else say("For the family, %(day)s"))
        % told,
        practised=Part(say("What %(name)s practised") % told, _practised(facts, voice)),
        stronger=Part(say("What got stronger"), _stronger(facts, voice)),
        then_words=say("in %(month)s") % {"month": months.pop()} if len(months) == 1 else say("at first"),
        now_words=say("now"), about=say("about"),
        rows=tuple(_row(strand, line, then, voice) for strand, line, then in starts),
        wobble=_wobble([strand for strand, _line, _then in starts], voice),
        hurt=_hurt(facts, voice),
        next=Part(say("What comes next"), _next(facts, voice)),
        help=Part(say("How to help at home"), _help(facts, voice)),
        steps=_steps(facts, voice), poses=AT_HOME if _may_practise(facts) else (),
        stop=Part(say("When to stop"), (
            say("Stop, and tell us, if anything hurts sharply or in one spot."),
            say("See a doctor the same day if your child limps or cannot stand on the foot, or if it swells, goes "
                "numb or hurts at night."),
        )),
        only_her=say(
            "This page is about %(name)s only. It describes strength and control. It does not say whether a child "
            "is ready for pointe, and it is not medical advice."
        ) % told,
        write=(say("Write to %(teacher)s") if facts.teacher else say("Write to the studio")) % teacher,
        ask=(say("Questions? Ask %(teacher)s at the next class.") if facts.teacher
             else say("Questions? Ask the studio.")) % teacher,
    )


def _pairs(strand: Strand, facts: FamilyFacts) -> list[tuple[Strand, Line, Knot]]:
    """(strand, line, first level of the term) of each side that has a then and a now; grades have words only."""
    if strand.kind == "grade":
        return []
    made = []
    for line in sorted(strand.lines, key=lambda each: SIDES.index(each.side)):
        then = first_of_term(line, facts.term_starts_on)
        if then is not None and (facts.as_of - strand.first_on).days >= FEWEST_DAYS_APART:
            made.append((strand, line, then))
    return made


def _row(strand: Strand, line: Line, then: Knot, voice: Voice) -> Row:
    say = voice.gettext
    foot = {"L": say("%(name)s, left foot"), "R": say("%(name)s, right foot"), "": "%(name)s"}[line.side]
    about = say("at least") if line.at_cap else say("about")
    return Row(
        foot % {"name": strand.name}, voice.number(then.level, 0), about, voice.number(line.level, 0), strand.unit
    )


def _practised(facts: FamilyFacts, voice: Voice) -> tuple[str, ...]:
    sentences = []
    practices = [strand.practice for strand in facts.strands]
    if practices:
        listed = practices[0]
        if len(practices) > 1:
            listed = voice.gettext("%(first)s and %(last)s") % {
                "first": ", ".join(practices[:-1]), "last": practices[-1]}
        sentences.append(f"{listed[:1].upper()}{listed[1:]}.")
    told = {"name": facts.called, "came": facts.days_came, "held": facts.days_held}
    if facts.days_held and facts.is_log:
        sentences.append(voice.ngettext(
            "%(name)s came to %(came)s of %(held)s class.", "%(name)s came to %(came)s of %(held)s classes.",
            facts.days_held,
        ) % told)
    elif facts.days_held:
        sentences.append(voice.ngettext(
            "%(name)s was there on %(came)s of %(held)s measuring day.",
            "%(name)s was there on %(came)s of %(held)s measuring days.", facts.days_held,
        ) % told)
    if not facts.tells_measures:
        sentences.append(voice.gettext("There are no numbers here: we measure only with your consent."))
    return tuple(sentences) or (voice.gettext("The term has just begun."),)


def _stronger(facts: FamilyFacts, voice: Voice) -> tuple[str, ...]:
    known = [line for strand in facts.strands for line in strand.lines]
    if not facts.tells_measures:
        return ()
    if not known:
        return (voice.gettext("Numbers follow after the first measuring day."),)
    sentences, all_ways = [], set()
    for strand in facts.strands:
        all_ways |= set(ways_of(strand, facts.term_starts_on).values())
        sentences.append(strand_sentence(strand, facts.term_starts_on, voice))
    sentences = [sentence for sentence in sentences if sentence]
    if not sentences:
        return (voice.gettext("Numbers follow when there are a few more results."),)
    if all_ways & NO_STEP and facts.has_grown:
        sentences.append(voice.gettext("%(name)s has grown a little, and that can slow things for a while.") % {
            "name": facts.called})
    elif all_ways & NO_STEP:
        sentences.append(voice.gettext("A few weeks without a step forward are normal. We are working on it in class."))
    return tuple(sentences)


def _wobble(strands: list[Strand], voice: Voice) -> str:
    """How much one result may be off, of the first strand in the table."""
    if not strands:
        return ""
    first = strands[0]
    if first.kind == "hold":
        share = round(100 * (math.exp(first.typical_error) - 1), -1)
        return voice.gettext(
            "One balance can easily be %(share)s %% longer or shorter, so small steps up or down mean little."
        ) % {"share": voice.number(share, 0)}
    low, high = max(1, math.floor(first.typical_error)), max(1, math.ceil(first.typical_error))
    if low == high:
        return voice.gettext("One count can be %(high)s off, so small steps up or down mean little.") % {
            "high": _counted(high, voice)}
    return voice.gettext("One count can be %(low)s or %(high)s off, so small steps up or down mean little.") % {
        "low": _counted(low, voice), "high": _counted(high, voice)}


def _counted(number: int, voice: Voice) -> str:
    say = voice.gettext
    words = {1: say("one"), 2: say("two"), 3: say("three"), 4: say("four"), 5: say("five"), 6: say("six")}
    return words.get(number) or voice.number(number, 0)


def _hurt(facts: FamilyFacts, voice: Voice) -> Part | None:
    if not facts.pain.is_open:
        return None
    return Part(pain_heading(facts.pain, voice), pain_sentences(facts.pain, voice))


def _next(facts: FamilyFacts, voice: Voice) -> tuple[str, ...]:
    say = voice.gettext
    together = say("When pointe shoes come is something we decide together with you. No number decides it.")
    if facts.pain.on_way_back and not facts.pain.hurts:
        return (say("Step by step back into class, without hurry."), together)
    if facts.pain.is_resting:
        return (say("Rest comes first. Work on rises goes on once that is settled."), together)
    foot = first_foot(facts.strands, facts.term_starts_on)
    if facts.term_ends_on - facts.as_of <= NEARLY_OVER:
        same = {
            "L": say("After the holidays we carry on with the same work, left foot first."),
            "R": say("After the holidays we carry on with the same work, right foot first."),
            "": say("After the holidays we carry on with the same work."),
        }[foot]
    else:
        same = {
            "L": say("We carry on with the same work, left foot first."),
            "R": say("We carry on with the same work, right foot first."),
            "": say("We carry on with the same work."),
        }[foot]
    if facts.measured_next is None:
        return (same, together)
    measured = say("The next measuring day is on %(day)s.") % {"day": voice.day(facts.measured_next)}
    return (same, measured, together)


def _may_practise(facts: FamilyFacts) -> bool:
    return facts.may_exercise and not facts.pain.is_open


def _help(facts: FamilyFacts, voice: Voice) -> tuple[str, ...]:
    if facts.pain.is_open:
        return (voice.gettext("Rest helps most now."),)
    if not facts.may_exercise:
        return (voice.gettext("Please ask us before practising at home."),)
    return (voice.gettext("Five minutes, three times a week."),)


def _steps(facts: FamilyFacts, voice: Voice) -> tuple[str, ...]:
    """Two-foot work at the lowest level of any programme, and rest: common practice, no source."""
    say = voice.gettext
    sleep = say("Enough sleep, and a day off. Rest makes feet stronger too.")
    if not _may_practise(facts):
        return (*not_at_home(facts.pain, voice), sleep)
    return (
        say("Slow rises on both feet, fingertips on the kitchen counter. Ten times, heels down gently."),
        say("Stand on one foot while brushing teeth. Twenty seconds each side."),
        sleep,
    )
