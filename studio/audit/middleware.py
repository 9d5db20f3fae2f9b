"""Writes the audit after each answer, from what the loaders noted and what the status says; names no page."""
import logging
from datetime import timedelta
from hashlib import sha256

from django.core.cache import cache
from django.db import DatabaseError
from django.utils import timezone

from studio.audit import queries
from studio.audit.actions import append
from studio.audit.marks import Marks, marks_of
from studio.audit.models import AuditRow
from studio.audit.page_words import silent_pages
from studio.entrance.browsers import browser_words

log = logging.getLogger(__name__)
# The same person on the same page about the same students is written once in so many seconds.
SAME_LOOK = 180
# Of what one person, or all whom nobody knows together, are refused in that time, so many rows are written: each
# guess of somebody who guesses by hand, and a flood by a machine does not fill the disk. Studio's own rule.
MOST_REFUSALS = 60
COPIES = (
    "application/pdf", "application/zip", "text/csv",
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
)


class AuditMiddleware:
    """Outside of the token check and the login, so that what these refuse is written too.

    Where a row cannot be written it is logged and the answer goes out: a full disk must not hide a stop sign.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        response = self.get_response(request)
        try:
            self.write(request, response)
        except DatabaseError as problem:
            log.error("an audit row could not be written: %s", type(problem).__name__)
        return response

    def process_view(self, request, view, args, kwargs):
        # A person who logs out is nobody afterwards.
        request.audit_before = person_of(request)

    def write(self, request, response) -> None:
        match, marks = request.resolver_match, marks_of(request)
        if match is None:
            return
        outcome, before, after = outcome_of(request, response, marks), request.audit_before, person_of(request)
        if before[1] is not None and after[1] is None and outcome != AuditRow.REFUSED:
            outcome = AuditRow.WENT_OUT
        role, key = marks.person or (after if after[1] is not None else before)
        if not outcome or (match.view_name in silent_pages() and outcome != AuditRow.REFUSED):
            return
        row = {
            "outcome": outcome, "page": match.view_name, "role": role, "person_key": key,
            "students": marks.students, "classes": marks.classes,
            "tablet_key": tablet.pk if (tablet := getattr(request, "tablet", None)) else None,
            "browser": browser_words(request.headers.get("User-Agent", "")),
        }
        if is_new(row, request.method):
            append(**row)


def person_of(request) -> tuple[str, int | None]:
    user = getattr(request, "user", None)
    return (user.role, user.pk) if user is not None and user.is_authenticated else (AuditRow.NOBODY, None)


def outcome_of(request, response, marks: Marks) -> str:
    """In the audit's word; empty where nothing was shown and nothing done."""
    status, reads = response.status_code, request.method in ("GET", "HEAD")
    if marks.outcome:
        return marks.outcome
    if 400 <= status < 500 and status not in (405, 422):
        return AuditRow.REFUSED
    if status == 422 or (reads and status == 200):
        # A form that comes back with its errors was seen, and changed nothing.
        is_copy = response.headers.get("Content-Type", "").partition(";")[0] in COPIES
        return AuditRow.EXPORTED if is_copy else AuditRow.SAW
    return AuditRow.CHANGED if not reads and status < 400 else ""


def is_new(row: dict, method: str) -> bool:
    """False for a look like one a short while ago, and for what one person is refused beyond the most that is written.

    Changes, copies and entries are all written, however many. Looks are remembered by each process for itself: two
    rows of one look do no harm, and a question to the database would cost every page. Refusals are counted together.
    """
    is_refused = row["outcome"] == AuditRow.REFUSED
    if method in ("GET", "HEAD") and (is_refused or row["outcome"] == AuditRow.SAW):
        look = repr([(name, sorted(value) if isinstance(value, set) else value) for name, value in row.items()])
        if not cache.add(f"audit-{sha256(look.encode()).hexdigest()}", True, SAME_LOOK):
            return False
    since = timezone.now() - timedelta(seconds=SAME_LOOK)
    return not is_refused or queries.refusals(row["role"], row["person_key"], since=since) < MOST_REFUSALS
