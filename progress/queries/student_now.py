"""Reads what stands first on a student's page: what may be done now, why, until when, and who acts today."""
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from progress.judging.judgement import Line
from progress.queries.follow_ups import FollowUpRow
from progress.queries.resting import measure_work
from progress.rules.resting import NOTHING, Rest, may_do
from progress.words.speech import names_in_a_row, voice_for
from progress.words.spoken import spoken
from screening.models import Measure
from studio.models import Student


@dataclass(frozen=True)
class Now:
    """The panel above everything else. `is_pain`: in rust; otherwise the calm one of the way back."""

    heading: str
    words: str
    may: str
    link: str
    link_words: str
    is_pain: bool


def student_now(student: Student, rest: Rest | None, follow_ups: Iterable[FollowUpRow]) -> Now | None:
    """None where everything may be done and no pain is open; of several matters the most urgent is named."""
    about_pain = [row for row in follow_ups if row.follow_up.is_about_pain and row.follow_up.is_open]
    if rest is None and not about_pain:
        return None
    may = _("May do: %(what)s.") % {"what": may_do(rest.allows, voice_for(None))} if rest is not None else ""
    if rest is not None and not rest.is_pain and not about_pain:
        words = _("%(step)s, since %(day)s.") % {"step": capfirst(rest.words), "day": voice_for(None).day(rest.since)}
        if rest.said:
            words += " " + _("Allowed by the clinician: “%(words)s”.") % {"words": rest.said}
        way = reverse("progress:way-back", args=[student.pk])
        return Now(_("On the way back."), words, may, way, _("After class, or a step back"), is_pain=False)
    heading = {None: _("Ask how it is.")}.get(rest and rest.allows, _("No rises for now."))
    if rest is not None and rest.allows == NOTHING:
        heading = _("Nothing in class now.")
    if not about_pain:
        return Now(heading, capfirst(rest.why) + ".", may, "#pain", _("To what was reported"), is_pain=True)
    first = about_pain[0]
    who = first.follow_up.acts.name if first.follow_up.acts else ""
    words = first.why + (" " + _("%(who)s, %(by)s.") % {"who": who, "by": first.by_words} if who else "")
    link = reverse("progress:follow-up", args=[first.follow_up.pk])
    return Now(heading, words, may, link, _("Open the follow-up"), is_pain=True)


def said_aloud(
    lines: Mapping[Measure, list[Line]], rest: Rest | None, *, voice, names: Mapping[str, str]
) -> str:
    """The sentence on top: of what is left out for now only that it waits, never how well it went."""
    waits = [measure for measure in lines if rest is not None and rest.forbids(measure_work(measure))]
    rest_of = [line for measure, each in lines.items() if measure not in waits for line in each]
    if not waits:
        return spoken(rest_of, voice=voice, names=names) if rest_of else ""
    called = capfirst(names_in_a_row([names[measure.key] for measure in waits]))
    if rest.is_pain and rest.is_told:
        text = _("%(names)s: not until the pain follow-up is closed.")
    else:
        text = _("%(names)s: not for now.")
    waiting = text % {"names": called}
    more = spoken(rest_of, voice=voice, names=names) if rest_of else ""
    return f"{waiting} {more}".strip()
