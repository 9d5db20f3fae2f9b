"""One entry of the copy of everything, and how its days, people and replaced rows are written."""
import datetime as dt
from dataclasses import dataclass

from django.utils import timezone
from django.utils.translation import gettext as _

from progress.words.speech import side_word
from screening.models import Measure
from studio.models import User
from studio.templatetags.wording import full_day

ALWAYS = dt.datetime.min.replace(tzinfo=dt.UTC)


@dataclass(frozen=True)
class Entry:
    """One thing that is kept. `head`: its day, or what it is; `lines` follow the words; `soft`: by whom, and when
    it was written down; `at` puts it in order."""

    words: str
    head: str = ""
    lines: tuple[str, ...] = ()
    soft: str = ""
    at: tuple = (ALWAYS, 0)


def dated(on: dt.date, words: str, *, key: int, lines: tuple[str, ...] = (), soft: str = "") -> Entry:
    """An entry under its day."""
    at = timezone.make_aware(dt.datetime.combine(on, dt.time.min))
    return Entry(words, full_day(on), tuple(line for line in lines if line), soft, (at, key))


def instant(at: dt.datetime) -> str:
    """24 March 2026, 17:00."""
    local = timezone.localtime(at)
    return f"{full_day(local.date())}, {local:%H:%M}"


def stamp(by: User | None, at: dt.datetime | None) -> str:
    """Who wrote it down and when: "Ottoline Brack, 24 March 2026, 17:00"."""
    return ", ".join(part for part in (by.name if by else "", instant(at) if at else "") if part)


def with_side(measure: Measure | None, side: str) -> str:
    """Rises, one foot, left."""
    return ", ".join(part for part in (str(measure) if measure else "", side_word(side)) if part)


def replaced(words: str, is_replaced: bool) -> str:
    """A row that a later one corrected stays, and says so."""
    return _("%(words)s (replaced later)") % {"words": words} if is_replaced else words
