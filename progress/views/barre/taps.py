"""Many taps in one post: each goes to its own address, in order, and is answered as if it had come alone."""
import copy
import json
import logging
from itertools import groupby
from typing import Any

from django.core.exceptions import PermissionDenied, SuspiciousOperation
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.urls import Resolver404, ResolverMatch, resolve
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from progress.actions.together import results_together
from progress.queries.barre.taps import whose_results
from studio.audit.middleware import AuditMiddleware
from studio.pages import key_from, refused
from studio.permissions import only

log = logging.getLogger(__name__)
# More than this is halved by the tablet and sent again.
MOST_TAPS, MOST_BYTES = 50, 256 * 1024
ROOM = "/barre/"
# These change results: what comes together is judged once, in one transaction.
OF_A_SHEET = {"progress:record-result", "progress:record-missing", "progress:take-back"}


class _Audit(AuditMiddleware):
    """Where others come with it, a row that cannot be written leaves what they said whole."""

    def write(self, request: HttpRequest, response: HttpResponse) -> None:
        with transaction.atomic():
            super().write(request, response)


@require_POST
@only("measure")
def taps(request: HttpRequest) -> JsonResponse:
    """`{"taps": [{"path", "fields", "age"}]}` in; `{"answers": [{"key", "status", "told"}]}` out, one each, in order.

    Each is stored or refused by itself: one at which the server fails is answered 500 and holds up nobody.
    """
    if len(request.body) > MOST_BYTES:
        return refused(_("Too much at once."), status=413)
    try:
        found = json.loads(request.body)["taps"]
        asked = [_request_of(request, **tap) for tap in found[:MOST_TAPS + 1]]
    except (ValueError, TypeError, KeyError, AttributeError):
        return refused(_("This entry cannot be read: something in it is missing or wrong."))
    if len(asked) > MOST_TAPS:
        return refused(_("Too much at once."), status=413)
    answers = []
    for is_of_a_sheet, some in groupby(asked, key=_is_of_a_sheet):
        together = list(some)
        answers += _together(together) if is_of_a_sheet and len(together) > 1 else map(_answer, together)
    return JsonResponse({"answers": answers})


def _request_of(request: HttpRequest, *, path: str, fields: dict[str, Any], age: float) -> HttpRequest:
    """The request that this tap would have come with, alone."""
    alone = copy.copy(request)
    address, _mark, query = path.partition("?")
    alone.path = alone.path_info = address
    alone.META = request.META | {"HTTP_X_OUTBOX": "yes", "HTTP_X_OUTBOX_AGE": str(age), "QUERY_STRING": query}
    alone.GET, alone.POST = QueryDict(query), QueryDict(mutable=True)
    for name, value in fields.items():
        alone.POST.setlist(name, [str(each) for each in (value if isinstance(value, list) else [value])])
    alone.resolver_match = _match(address)
    for known in ("headers", "audit_marks"):
        alone.__dict__.pop(known, None)
    return alone


def _match(path: str) -> ResolverMatch | None:
    """What a tap is for; None where it is for nothing that is tapped at the barre."""
    try:
        found = resolve(path) if path.startswith(ROOM) else None
    except Resolver404:
        return None
    return None if found is None or found.func is taps else found


def _is_of_a_sheet(request: HttpRequest) -> bool:
    return request.resolver_match is not None and request.resolver_match.view_name in OF_A_SHEET


def _together(requests: list[HttpRequest]) -> list[dict[str, Any]]:
    """Judged once; where that fails nothing is stored yet, and each goes in alone."""
    told = [request.POST for request in requests]
    student_ids, class_ids = whose_results(
        students={key_from(each.get("student", "")) for each in told}, of={each.get("of", "") for each in told},
        screenings={request.resolver_match.kwargs["screening_id"] for request in requests},
    )
    try:
        with results_together(student_ids=student_ids, class_ids=class_ids):
            read: dict = {}
            for request in requests:
                request.read_together = read
            return [_answer(request) for request in requests]
    except Exception:
        log.exception("taps that came together go in one by one")
    return [_answer(request) for request in requests]


def _answer(request: HttpRequest) -> dict[str, Any]:
    answer, match = {"key": request.POST.get("key", ""), "status": 404, "told": None}, request.resolver_match
    if match is None:
        return answer
    # Each is a change of its own to the audit, alone or with others.
    response = _Audit(lambda alone: _one(alone, match))(request)
    is_told = response.headers.get("Content-Type", "").startswith("application/json")
    return answer | {"status": response.status_code, "told": json.loads(response.content) if is_told else None}


def _one(request: HttpRequest, match) -> HttpResponse:
    try:
        # What the database refuses is undone alone, also where others come with it.
        with transaction.atomic():
            return match.func(request, *match.args, **match.kwargs)
    except Http404:
        return HttpResponse(status=404)
    except PermissionDenied:
        return HttpResponse(status=403)
    except SuspiciousOperation:
        return HttpResponse(status=400)
    except Exception:
        log.exception("a tap in a batch failed: %s", match.view_name)
        return HttpResponse(status=500)
