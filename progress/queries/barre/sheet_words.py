"""What a sheet's script must know to go on without the network: addresses, limits, today's results, and its words."""
import datetime as dt
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from progress.queries.barre.news import results_of, stamp
from progress.queries.barre.out import Out
from progress.queries.resting import measure_work
from progress.words.speech import side_word
from screening.models import Measure, Protocol, Result, Screening
from studio.models import Student
from studio.templatetags.wording import write_number


def sheet_words(
    screening: Screening, measure: Measure, protocol: Protocol, students: list[Student], *, seen: str,
    out: Out, now: dt.datetime,
) -> dict[str, Any]:
    where = [screening.pk, measure.key]
    return {
        "record": reverse("progress:record-result", args=where),
        "missing": reverse("progress:record-missing", args=where),
        "takeBack": reverse("progress:take-back", args=where), "news": reverse("progress:news", args=where),
        "stamp": stamp(screening, measure, out), "isOpen": screening.is_open,
        "results": results_of(screening, measure, students, now=now),
        "work": measure_work(measure), "protocol": protocol.version, "kind": measure.kind, "rule": measure.score_rule,
        "attempts": measure.attempts, "decimals": measure.decimals,
        "unit": _(measure.unit) if measure.kind in (Measure.SECONDS, Measure.LENGTH, Measure.TALLY) else "",
        "cap": float(protocol.cap) if protocol.cap and measure.kind in (Measure.COUNT, Measure.SECONDS) else None,
        "hard": [float(measure.hard_low), float(measure.hard_high)],
        "soft": [float(measure.soft_low), float(measure.soft_high)],
        "grades": [_(word) for word, _anchor in protocol.grades],
        "reasons": {key: str(words) for key, words in Result.REASONS},
        "sides": {"L": side_word("L"), "R": side_word("R"), "": ""},
        "point": write_number(0.5, 1)[1], "words": _words(measure, protocol) | {"seen": seen},
    }


def left_words(name: str, side: str, n: int | str) -> dict[str, str]:
    """What stands beside the number of those who are to go. name, side: the one of whom only that foot is left."""
    about = {"name": name, "side": side, "n": n}
    return {
        "toGo": _("to go"), "toGoOne": _("to go, of %(name)s only the %(side)s") % about,
        "toGoMore": _("to go, of %(n)s only one foot") % about,
    }


def _words(measure: Measure, protocol: Protocol) -> dict[str, str]:
    """Sentences with places that the script fills: {value}, {text}, {name}, {side}, {n}."""
    whole = _("“%(text)s” is not a whole number.") % {"text": "{text}"}
    a_number = _("“%(text)s” is not a number here.") % {"text": "{text}"}
    sure = _("%(value)s: sure?") % {"value": "{value}"}
    limits = {"value": "{value}", "low": write_number(measure.hard_low), "high": write_number(measure.hard_high)}
    capped = {"cap": write_number(protocol.cap)} if protocol.cap else {"cap": ""}
    return {
        "notANumber": a_number if measure.decimals else whole,
        "cannotBe": _("%(value)s is not possible: from %(low)s to %(high)s.") % limits,
        "sure": sure.replace("{value}", f"{{value}} {_(measure.unit)}") if measure.kind == Measure.COUNT else sure,
        "stopsAt": _("The limit is %(cap)s. Save “at least %(cap)s”?") % capped,
        "atLeast": _("at least %(value)s") % {"value": "{value}"}, "refused": _("not accepted"),
        "closed": _("To put something right, open the screening again on its own page."),
    } | left_words("{name}", "{side}", "{n}")
