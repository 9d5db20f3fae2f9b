"""Reads the studio's years for the owner: term by term what was measured, what moved, what hurt, what was learned.

It asks questions of the programme. Nothing is told of one child, one teacher or of groups under eight.
"""
import datetime as dt
from collections import Counter, defaultdict
from dataclasses import dataclass

from django.utils.translation import gettext as _

from progress.models import FollowUp, LearnedValue
from progress.queries.finished_terms import standings_in
from progress.queries.papers.term_overview import FollowUpCount, TermOverview, term_overview
from progress.rules.shares import Share, share
from screening.queries import judged_measures
from studio.family.queries import consented
from studio.models import Consent, Enrolment, Term
from studio.templatetags.wording import write_number

MOST_TERMS = 9
# Lines of which nobody can say yet how they go are no part of the whole.
SAID = ("at_target", "gaining", "stalled", "slipping", "dropped")
MOVED = ("at_target", "gaining")


@dataclass(frozen=True)
class MeasureYear:
    """One measure in one term: how many lines gained or stood at the target; None where too few students were there."""

    name: str
    share: Share | None

    @property
    def words(self) -> str:
        """ "31 of 40 lines; likely 62 to 88 in 100"."""
        if self.share is None:
            return _("too few to say")
        low, high = (write_number(100 * limit) for limit in (self.share.low, self.share.high))
        return _("%(part)s of %(whole)s lines; likely %(low)s to %(high)s in 100") % {
            "part": self.share.part, "whole": self.share.whole, "low": low, "high": high}


@dataclass(frozen=True)
class TermYear:
    """One term. students: enrolled on its last day; complete: of whom every measure that was asked for is there;
    stood_still: (class, question) of what a whole class shared; pain: follow-ups about pain."""

    term: Term
    students: int
    complete: int
    withheld: int
    measures: tuple[MeasureYear, ...]
    stood_still: tuple[tuple[str, str], ...]
    pain: tuple[FollowUpCount, ...]


@dataclass(frozen=True)
class StudioYears:
    """The newest term first; learned: what the studio's own results taught, and what that rests on."""

    terms: tuple[TermYear, ...]
    learned: tuple[tuple[str, str], ...]


def studio_years(*, today: dt.date, now: dt.datetime) -> StudioYears:
    begun = Term.objects.filter(starts_on__lte=today).order_by("-starts_on")[:MOST_TERMS]
    return StudioYears(tuple(_term(term, today, now) for term in begun), _learned())


def _term(term: Term, today: dt.date, now: dt.datetime) -> TermYear:
    overview: TermOverview = term_overview(term, today=today, now=now)
    pain = {str(words) for kind, words in FollowUp.KINDS if kind in FollowUp.ABOUT_PAIN}
    return TermYear(
        term=term,
        students=sum(each.students for each in overview.classes),
        complete=sum(each.complete for each in overview.classes),
        withheld=sum(each.withheld for each in overview.classes),
        measures=_measures(term, min(today, term.ends_on), now),
        stood_still=tuple((each.name, words) for each in overview.classes for words in each.questions),
        pain=tuple(each for each in overview.follow_ups if each.words in pain),
    )


def _measures(term: Term, day: dt.date, now: dt.datetime) -> tuple[MeasureYear, ...]:
    enrolled = set(Enrolment.objects.on(day).filter(term=term).values_list("student", flat=True))
    said, people = defaultdict(Counter), defaultdict(set)
    for row in standings_in(term, consented(enrolled, Consent.MEASUREMENTS, now), until=day):
        if row.verdict in SAID:
            said[row.measure_id][row.verdict in MOVED] += 1
            people[row.measure_id].add(row.student_id)
    return tuple(
        MeasureYear(str(m), share(said[m.pk][True], said[m.pk].total(), students=len(people[m.pk])))
        for m in judged_measures() if m.pk in said
    )


def _learned() -> tuple[tuple[str, str], ...]:
    """Of each measure and kind the value in force, and what it rests on."""
    latest = {}
    for row in LearnedValue.objects.select_related("measure").order_by("learned_on", "pk"):
        latest[row.measure, row.kind] = row
    return tuple(
        (f"{measure}, {row.get_kind_display()}", _("%(value)s, from %(n)s pairs of results or lines") % {
            "value": write_number(row.value, 2), "n": row.evidence})
        for (measure, _kind), row in sorted(latest.items(), key=lambda each: (each[0][0].position, each[0][1]))
    )
