"""Reads where it hurt, for the drawn feet: each place once, with the days on which it was told."""
from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from progress.models import PainReport
from progress.queries.pain import was_mistake
from progress.rules import feet
from progress.words.speech import names_in_a_row
from studio.templatetags.wording import day as write_day

_ELSEWHERE = {key for key, _words in feet.ELSEWHERE}


@dataclass(frozen=True)
class PlacesTold:
    """`on_feet`: keys of the places that the drawing shows; `days`: (place, its days) in words, the newest first."""

    on_feet: tuple[str, ...]
    days: tuple[tuple[str, str], ...]


def places_told(reports: Iterable[PainReport]) -> PlacesTold | None:
    """What these reports tell together, those tapped by mistake apart; None where they name no place."""
    told: dict[str, set] = {}
    for report in sorted(reports, key=lambda report: report.reported_on, reverse=True):
        if not was_mistake(report):
            for place in report.places:
                told.setdefault(place, set()).add(report.reported_on)
    if not told:
        return None
    days = tuple(
        (capfirst(feet.place_words([place], gettext=_)), names_in_a_row([write_day(on) for on in sorted(found)]))
        for place, found in told.items()
    )
    return PlacesTold(tuple(place for place in told if place not in _ELSEWHERE), days)
