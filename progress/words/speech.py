"""Speaks the pure files' sentences in the studio's language: a voice for a term, and the verdicts' words."""
import datetime as dt

from django.utils.formats import date_format
from django.utils.translation import gettext, ngettext, pgettext

from progress.judging.judgement import Line
from screening.models import Measure, Protocol
from studio.models import Term
from studio.templatetags.wording import write_number, write_signed
from studio.voice import Voice

_RATE_DECIMALS = {"count": 1, "hold": 0, "grade": 2}


def voice_for(term: Term | None) -> Voice:
    """Numbers and days as the locale writes them; weeks by the term's numbers, other days by their date."""

    def week(on: dt.date) -> str:
        if term is not None and term.first_monday <= on <= term.ends_on:
            return gettext("week %(number)s") % {"number": term.week_number(on)}
        return date_format(on, "MONTH_DAY_FORMAT")

    return Voice(
        gettext=gettext, ngettext=ngettext, number=write_number, signed=write_signed,
        day=lambda on: date_format(on, "MONTH_DAY_FORMAT"), week=week, month=lambda on: date_format(on, "F"),
    )


def verdict_word(verdict: str) -> str:
    """The word that stands beside a verdict's mark."""
    return {
        "too_early": gettext("too early"), "at_target": gettext("at target"), "stalled": gettext("stalled"),
        "slipping": gettext("slipping"), "gaining": gettext("gaining"), "not_clear": gettext("too soon to say"),
        "dropped": gettext("dropped"),
    }[verdict]


def side_word(side: str) -> str:
    return {"L": pgettext("foot", "left"), "R": pgettext("foot", "right"), "": ""}[side]


def write_level(value: float | None, measure: Measure) -> str:
    """A level as every page writes it: whole rises and seconds, a grade to one decimal; no unit."""
    if value is None:
        return ""
    return write_number(value, 1 if measure.kind in (Measure.GRADE, Measure.TALLY) else 0)


def write_level_with_unit(value: float | None, measure: Measure, protocol: Protocol | None) -> str:
    """A level where it stands alone: "18", "15 s", "corrected"."""
    if value is None:
        return ""
    if measure.kind == Measure.GRADE and protocol is not None and protocol.grades:
        grade = min(max(round(value), 0), len(protocol.grades) - 1)
        return gettext(protocol.grades[grade][0])
    text = write_level(value, measure)
    return f"{text} {gettext(measure.unit)}" if measure.kind in (Measure.SECONDS, Measure.TALLY) else text


def write_rate(line: Line) -> str:
    """The pace with its range: "+0.7 a week, likely 0.0 to +1.0"; holds in per cent."""
    if line.rate is None:
        return ""
    decimals = _RATE_DECIMALS[line.scale]
    words = {
        "rate": write_signed(line.rate, decimals),
        "low": write_signed(line.rate_low80, decimals),
        "high": write_signed(line.rate_high80, decimals),
    }
    if line.scale == "hold":
        return gettext("%(rate)s %% a week, likely %(low)s to %(high)s %%") % words
    return gettext("%(rate)s a week, likely %(low)s to %(high)s") % words


def write_pace(line: Line) -> str:
    """The pace with its range as a table writes it: "+0.7 (0.0 to +1.0)", holds "+5 % (0 to +9 %)"."""
    if line.rate is None:
        return ""
    rate, low, high = (
        write_signed(value, _RATE_DECIMALS[line.scale]) for value in (line.rate, line.rate_low80, line.rate_high80)
    )
    words = {"rate": rate, "low": low, "high": high}
    if line.scale == "hold":
        return gettext("%(rate)s %% (%(low)s to %(high)s %%)") % words
    return gettext("%(rate)s (%(low)s to %(high)s)") % words


def names_in_a_row(names: list[str]) -> str:
    """ "Ama", "Ama and Bo", "Ama, Bo and Elif"."""
    if len(names) < 2:
        return "".join(names)
    return gettext("%(first)s and %(last)s") % {"first": ", ".join(names[:-1]), "last": names[-1]}


def line_state(line: Line, voice: Voice) -> str:
    """What a line does now, to stand behind its name: "stalled since about week 7"."""
    since = {"since": voice.week(line.since_on)} if line.since_on else {"since": gettext("a while")}
    return {
        "stalled": gettext("stalled since about %(since)s") % since,
        "slipping": gettext("slipping since about %(since)s") % since,
        "gaining": gettext("gaining again"),
        "at_target": gettext("at target"),
        "not_clear": gettext("no longer clearly stalled"),
        "dropped": gettext("dropped suddenly"),
        "too_early": gettext("starting anew"),
    }[line.verdict]
