"""Many taps in one post: each goes to its own address, in order, and is answered as if it had come alone."""
import copy
import json
import logging
from typing import Any

from django.core.exceptions import PermissionDenied, SuspiciousOperation
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.urls import Resolver404, resolve
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from studio.audit.middleware import AuditMiddleware
from studio.pages import refused
from studio.permissions import only

log = logging.getLogger(__name__)
# More than this is halved by the tablet and sent again.
MOST_TAPS, MOST_BYTES = 50, 256 * 1024
ROOM = "/barre/"


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
    return JsonResponse({"answers": [_answer(each) for each in asked]})


def _request_of(request: HttpRequest, *, path: str, fields: dict[str, Any], age: float) -> HttpRequest:
    """The request that this tap would have come with, alone."""
    alone = copy.copy(request)
    address, _mark, query = path.partition("?")
    alone.path = alone.path_info = address
    alone.META = request.META | {"HTTP_X_OUTBOX": "yes", "HTTP_X_OUTBOX_AGE": str(age), "QUERY_STRING": query}
    alone.GET, alone.POST = QueryDict(query), QueryDict(mutable=True)
    for name, value in fields.items():
        alone.POST.setlist(name, [str(each) for each in (value if isinstance(value, list) else [value])])
    for known in ("headers", "audit_marks"):
        alone.__dict__.pop(known, None)
    return alone


def _answer(request: HttpRequest) -> dict[str, Any]:
    answer = {"key": request.POST.get("key", ""), "status": 404, "told": None}
    try:
        if not request.path.startswith(ROOM):
            return answer
        request.resolver_match = match = resolve(request.path)
    except Resolver404:
        return answer
    if match.func is taps:
        return answer
    # Each is a change of its own to the audit, alone or with others.
    response = AuditMiddleware(lambda alone: _one(alone, match))(request)
    is_told = response.headers.get("Content-Type", "").startswith("application/json")
    return answer | {"status": response.status_code, "told": json.loads(response.content) if is_told else None}


def _one(request: HttpRequest, match) -> HttpResponse:
    try:
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
