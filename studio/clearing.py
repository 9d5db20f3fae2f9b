"""Throws away what nobody needs any more, so that nothing is kept for ever; run once a day in the background."""
import datetime as dt
from dataclasses import dataclass

from axes.models import AccessAttempt, AccessFailureLog, AccessLog
from django.db import transaction

from studio.audit.models import AuditRow
from studio.entrance.keys import Visit
from studio.family.queries import months_after
from studio.models import ImportDraft, Studio

# A file waits for its preview to be confirmed; whoever comes back later brings it anew. Our choice.
DRAFTS_KEPT = dt.timedelta(days=1)
# Who tried to come in, from which address: long enough to notice, and to look into it. Our choice.
ENTRIES_KEPT = dt.timedelta(days=30)


@dataclass(frozen=True)
class Cleared:
    """How many rows of what went."""

    drafts: int
    visits: int
    entries: int
    audit: int


@transaction.atomic
def clear_what_is_over(*, now: dt.datetime, today: dt.date) -> Cleared:
    """Files that nobody confirmed, visits that are over, old tries of passwords, and the audit past its end."""
    drafts, _each = ImportDraft.objects.filter(brought_at__lt=now - DRAFTS_KEPT).delete()
    visits, _each = Visit.objects.filter(expire_date__lt=now).delete()
    entries = sum(
        model.objects.filter(attempt_time__lt=now - ENTRIES_KEPT).delete()[0]
        for model in (AccessAttempt, AccessFailureLog, AccessLog)
    )
    last_day = months_after(today, -Studio.current().audit_months)
    return Cleared(drafts, visits, entries, AuditRow.objects.end_before(last_day))
