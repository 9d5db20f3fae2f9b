"""Reads results as the tablets at the barre are told of them; names and today's entries only."""
import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.db.models import Count, Max
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from progress.queries.barre.out import Out
from progress.queries.barre.taps import told_tap
from screening.models import Measure, Result, Screening
from screening.queries import agreed_results
from screening.wording import write_result
from studio.models import Student


def told(rows: Iterable[Result]) -> list[dict[str, Any]]:
    """Results in the order given, each with whether a later row took its place."""
    keys = [row.pk for row in rows]
    found = {row.pk: row for row in _whole(Result.objects.filter(pk__in=keys)).select_related("superseded_by")}
    return [_told(found[pk], is_gone=hasattr(found[pk], "superseded_by")) for pk in keys]


def results_of(
    screening: Screening, measure: Measure, students: Iterable[Student], *, now: dt.datetime
) -> list[dict[str, Any]]:
    """Every row of the sheet, oldest first, of the children this person reaches."""
    results = agreed_results(screening.results.filter(measure=measure, student__in=list(students)), now=now)
    rows = list(_whole(results.order_by("pk")))
    gone = {row.supersedes_id for row in rows}
    return [_told(row, is_gone=row.pk in gone) for row in rows]


def stamp(screening: Screening, measure: Measure, out: Out) -> str:
    """Changes with every row that comes to the sheet, in whatever order the rows are committed, and with who is out."""
    seen = screening.results.filter(measure=measure).aggregate(rows=Count("pk"), last=Max("pk"))
    return f"{seen['rows']}-{seen['last'] or 0}-{'open' if screening.is_open else 'closed'}-{out.stamp}"


def _whole(rows):
    return rows.select_related("measure", "protocol", "by", "supersedes")


def _told(row: Result, *, is_gone: bool) -> dict[str, Any]:
    return told_tap(row) | {
        "student": row.student_id, "measure": row.measure.key, "side": row.side,
        "attempt": row.attempt, "written": "" if row.value is None else write_result(row),
        "value": None if row.value is None else f"{row.value.normalize():f}",
        "reached_cap": row.reached_cap, "fault": row.fault, "reason_missing": row.reason_missing,
        "reason": row.get_reason_missing_display(), "superseded": is_gone,
    }


def ways_out(screening: Screening, measure: Measure, *, is_movable: bool) -> dict[str, Any]:
    """For an entry that came to a closed day: where to open it again, and if it may move, the class's open days."""
    others = Screening.objects.filter(
        class_group=screening.class_group_id, closed_at__isnull=True, battery__entries__measure=measure
    ).exclude(pk=screening.pk)
    return {
        "reopen": "" if screening.is_imported else reverse("progress:reopen-screening", args=[screening.pk]),
        "others": [
            {
                "path": reverse("progress:record-result", args=[other.pk, measure.key]),
                "words": _("%(name)s, %(day)s") % {
                    "name": other, "day": date_format(other.held_on, "MONTH_DAY_FORMAT")
                },
            }
            for other in (others.distinct() if is_movable else ())
        ],
    }
