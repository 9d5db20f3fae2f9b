"""Who saw what: the audit as the owner searches it, by student, person and day."""
import datetime as dt
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from studio.audit import queries
from studio.pages import key_from, show
from studio.permissions import only


@require_GET
@only("run_office")
def who_saw_what(request: HttpRequest) -> HttpResponse:
    """Fifty rows, the newest first; a question that makes no sense asks nothing."""
    student, person = request.GET.get("student", "").strip()[:120], request.GET.get("person", "")[:30]
    day = _day(request.GET.get("day", ""))
    page = queries.audit_page(
        student=student, person=person, day=day, older_than=key_from(request.GET.get("before", ""))
    )
    asked = {"student": student, "person": person, "day": day.isoformat() if day else ""}
    older = urlencode({**{name: value for name, value in asked.items() if value}, "before": page.older or ""})
    return show(request, "studio/audit.html", {
        "room": "office", "page": page, "asked": asked, "people": queries.people(), "older": older,
    })


def _day(text: str) -> dt.date | None:
    try:
        day = dt.date.fromisoformat(text)
    except ValueError:
        return None
    # The first and last days of all have no neighbour in another time zone.
    return day if dt.date.min.year < day.year < dt.date.max.year else None
