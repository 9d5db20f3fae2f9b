"""Writes what is kept of the reviews before pointe work: that they were opened, who saw what, what was decided."""
from collections.abc import Iterator

from django.utils.translation import gettext as _

from progress.models import Decision, PointSeen, Review
from progress.queries.everything.words import Entry, dated, stamp
from progress.rules.pointe_points import BY_KEY
from studio.templatetags.wording import full_day


def reviews(rows: list[Review]) -> Iterator[Entry]:
    for row in rows:
        yield dated(row.opened_on, _("A review was opened"), key=row.pk, lines=(row.why,),
                    soft=stamp(row.opened_by, row.opened_at))


def points_seen(rows: list[PointSeen]) -> Iterator[Entry]:
    for row in rows:
        words = f"{_(BY_KEY[row.point].title)}: {row.get_answer_display()}"
        whose = ", ".join(part for part in (row.said_by, str(row.get_whose_display())) if part)
        yield dated(row.said_on, words, key=row.pk, lines=(row.words, whose), soft=stamp(row.by, row.at))


def decisions(rows: list[Decision]) -> Iterator[Entry]:
    for row in rows:
        asked = ", ".join(str(words) for key, words in Decision.ASKED if key in row.asked)
        lines = (
            _("asked: %(who)s") % {"who": ", ".join(part for part in (asked, row.names) if part)},
            _("from %(day)s") % {"day": full_day(row.from_on)} if row.from_on else "",
            row.conditions,
            _("to look again on %(day)s") % {"day": full_day(row.look_again_on)} if row.look_again_on else "",
            row.for_family,
        )
        yield dated(row.decided_on, _("Decided: %(what)s") % {"what": row.decided}, key=row.pk, lines=lines,
                    soft=stamp(row.by, row.at))
