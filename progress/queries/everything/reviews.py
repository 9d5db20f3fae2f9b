"""Writes what is kept of pointe work: reviews, who saw what, what was decided, steps and minutes."""
from collections.abc import Iterator

from django.utils.translation import gettext as _

from progress.models import Decision, PointeStep, PointeTime, PointSeen, Review
from progress.queries.everything.words import Entry, dated, replaced, stamp
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


def pointe_steps(rows: list[PointeStep]) -> Iterator[Entry]:
    for row in rows:
        words = _("Step %(n)s: %(words)s, %(minutes)s minutes") % {
            "n": row.step, "words": _(row.words), "minutes": row.minutes}
        yield dated(row.on, words, key=row.pk, lines=(row.note,), soft=stamp(row.by, row.at))


def pointe_times(rows: list[PointeTime]) -> Iterator[Entry]:
    last = {(row.student_id, row.held_on): row.pk for row in rows}
    for row in rows:
        words = _("%(class)s: %(minutes)s minutes on pointe; heel and big toe: %(said)s") % {
            "class": row.class_group, "minutes": row.minutes, "said": row.get_said_display()}
        yield dated(row.held_on, replaced(words, row.pk != last[row.student_id, row.held_on]), key=row.pk,
                    soft=stamp(row.by, row.at))
