"""Writes what is kept about who a student is: particulars, family, consents, classes, stages, heights."""
from collections.abc import Iterable, Iterator
from itertools import groupby

from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from progress.models import Height
from progress.queries.everything.words import Entry, dated, instant, replaced, stamp
from studio.models import Consent, Enrolment, Guardian, StageChange, Student
from studio.templatetags.wording import full_day, write_number


def particulars(rows: list[Student]) -> Iterator[Entry]:
    for row in rows:
        facts = (
            (_("Name"), row.name), (_("Known as"), row.called), (_("Birth date"), full_day(row.birth_on)),
            (_("Stage"), row.stage and str(row.stage)), (_("In training since"), row.training_since_year),
            (_("Classes a week"), row.classes_per_week), (_("Stronger foot"), row.get_dominant_foot_display()),
            (_("Added by"), stamp(row.added_by, row.added_at)),
        )
        yield from (Entry(str(value), str(name)) for name, value in facts if value)


def guardians(rows: list[Guardian]) -> Iterator[Entry]:
    for row in rows:
        lines = (row.phone, row.email, row.get_language_code_display() if row.language_code else "")
        yield Entry(row.name, _("Parent or guardian"), tuple(line for line in lines if line))


def consents(rows: list[Consent]) -> Iterator[Entry]:
    """What was said at one time for several things is one entry."""
    def said(row: Consent) -> tuple:
        return row.at, row.is_given, row.said_by, row.way, stamp(row.recorded_by, row.recorded_at)

    for (at, is_given, who, _way, kept), found in groupby(sorted(rows, key=said), said):
        together = list(found)
        scopes = ", ".join(str(row.get_scope_display()) for row in sorted(together, key=lambda row: row.pk))
        answer = _("given") if is_given else _("taken back, or not given")
        yield dated(
            timezone.localdate(at), f"{capfirst(scopes)}: {answer}", key=together[0].pk,
            lines=(f"{who}, {together[0].get_way_display()}, {instant(at)}",), soft=kept,
        )


def enrolments(rows: Iterable[Enrolment]) -> Iterator[Entry]:
    for row in rows:
        place = row.line_position
        lines = (
            _("left on %(day)s") % {"day": full_day(row.left_on)} if row.left_on else "",
            "" if place is None else _("place %(n)s in the line at the barre") % {"n": place},
        )
        yield dated(row.joined_on, f"{row.class_group}, {row.term}", key=row.pk, lines=lines,
                    soft=stamp(row.enrolled_by, row.enrolled_at))


def stages(rows: Iterable[StageChange]) -> Iterator[Entry]:
    for row in rows:
        yield dated(row.on, _("Stage: %(stage)s") % {"stage": row.stage}, key=row.pk, soft=stamp(row.by, row.at))


def heights(rows: list[Height]) -> Iterator[Entry]:
    old = {row.supersedes_id for row in rows}
    for row in rows:
        words = _("Height %(cm)s cm") % {"cm": write_number(row.height_cm, 1)}
        yield dated(row.measured_on, replaced(words, row.pk in old), key=row.pk,
                    soft=stamp(row.by, row.received_at))
