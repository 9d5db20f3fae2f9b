"""Reads a student's heights and what they say, in words that every page shares."""
import datetime as dt
from collections.abc import Iterable

from django.utils.translation import gettext as _

from progress.models import Height
from progress.rules import growth
from progress.words.speech import voice_for
from studio.models import Student, Term
from studio.templatetags.wording import write_number, write_signed


def readings(heights: Iterable[Height]) -> list[growth.Reading]:
    return [growth.Reading(float(row.height_cm), row.measured_on) for row in heights]


def growth_of(student: Student, *, as_of: dt.date) -> growth.Growth | None:
    return growth.latest_growth(readings(student.heights.saying()), as_of=as_of)


def pace_words(grown: growth.Growth, term: Term | None = None) -> str:
    """ "Grew 4.1 cm from 6 January to 7 July: 8.2 cm a year, give or take 1.7." """
    voice = voice_for(term)
    return _("Grew %(cm)s cm from %(first)s to %(last)s: %(pace)s cm a year, give or take %(error)s.") % {
        "cm": write_number(grown.cm, 1), "first": voice.day(grown.first.on), "last": voice.day(grown.last.on),
        "pace": write_number(grown.cm_a_year, 1), "error": write_number(grown.error, 1),
    }


def gentle_note(grown: growth.Growth | None) -> str:
    """The one note about growing fast; "" where it would say too much."""
    if grown is None or not grown.is_fast:
        return ""
    return _("Growing fast: be kind to balance and strength scores this term.")


def circumstance(grown: growth.Growth | None) -> str:
    """The same behind a verdict's reason."""
    if grown is None or not grown.is_fast:
        return ""
    return _("Growing about %(pace)s cm a year, which can slow things for a while.") % {
        "pace": write_number(grown.cm_a_year, 0)
    }


def since_words(before: growth.Reading, now: growth.Reading, term: Term | None) -> str:
    """ "+1.2 cm since 9 January"."""
    return _("%(cm)s cm since %(before)s") % {
        "cm": write_signed(now.height_cm - before.height_cm, 1), "before": voice_for(term).day(before.on)
    }


def event_words(before: growth.Reading, now: growth.Reading, term: Term | None) -> str:
    """ "14 February, height +1.2 cm since 9 January", for the rail of a chart."""
    return _("%(day)s, height %(grown)s") % {
        "day": voice_for(term).day(now.on), "grown": since_words(before, now, term)
    }
