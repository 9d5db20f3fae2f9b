"""One line a request, where the owner's computer wants it: route, status and time; no name, no address, no link."""
import json
import logging
import time

from django.conf import settings
from django.core.exceptions import MiddlewareNotUsed
from django.utils import timezone

log = logging.getLogger("risebook.requests")


class RequestLogMiddleware:
    """Outermost, so that the time is the whole one. Off without RISEBOOK_LOG; the address itself is never written:
    it may hold a family's key, and its numbers say which student was looked at."""

    def __init__(self, get_response):
        if not settings.REQUEST_LOG:
            raise MiddlewareNotUsed
        self.get_response = get_response

    def __call__(self, request):
        began = time.perf_counter()
        response = self.get_response(request)
        match = request.resolver_match
        log.info(line_of({
            "at": timezone.now().isoformat(timespec="milliseconds"), "method": request.method,
            "page": match.view_name if match else "-", "status": response.status_code,
            "ms": round((time.perf_counter() - began) * 1000),
        }, settings.REQUEST_LOG))
        return response


def line_of(told: dict, kind: str) -> str:
    """As JSON, or as words for an eye.

    >>> line_of({"method": "GET", "page": "progress:today", "status": 200, "ms": 31}, "lines")
    'GET progress:today 200 31'
    >>> line_of({"ms": 31}, "json")
    '{"ms": 31}'
    """
    return json.dumps(told) if kind == "json" else " ".join(str(value) for value in told.values())
