"""How a page or its htmx part is answered; knows no model but the studio's row."""
import datetime as dt
import re
from collections.abc import Mapping
from typing import Any

from django.db.models.fields import BLANK_CHOICE_DASH
from django.forms import BaseForm
from django.forms.renderers import TemplatesSetting
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.cache import patch_vary_headers
from django.utils.translation import gettext as _

from studio.permissions import PERMISSIONS, may, visit_may


class RoomFormRenderer(TemplatesSetting):
    """Forms are drawn by our own templates, never by Django's default table."""

    field_template_name = "studio/_field.html"
    form_template_name = "studio/_form.html"

    def render(self, template_name: str, context: dict, request: HttpRequest | None = None) -> str:
        """A choice not yet made says so in a word, not in Django's row of hyphens."""
        for _group, options, _at in context.get("widget", {}).get("optgroups", ()):
            for option in options:
                if option["label"] == BLANK_CHOICE_DASH[0][1]:
                    option["label"] = _("choose")
        return super().render(template_name, context, request)


def show(
    request: HttpRequest, page: str, context: Mapping[str, Any], *, part: str | None = None, status: int = 0
) -> HttpResponse:
    """The whole page, or only its part for htmx; both vary on the header so that Back never shows a bare part.

    status: where none is named, 422 for a page with a form that was refused, otherwise 200.
    """
    wants_part = part is not None and request.htmx and not request.htmx.history_restore_request
    status = status or (422 if any(isinstance(each, BaseForm) and each.errors for each in context.values()) else 200)
    response = render(request, part if wants_part else page, context, status=status)
    patch_vary_headers(response, ["HX-Request", "HX-History-Restore-Request"])
    return response


def asks_as_lock(request: HttpRequest) -> bool:
    """True for the lock over a page: it wants an answer, not another page."""
    return request.headers.get("Accept") == "application/json"


def is_from_outbox(request: HttpRequest) -> bool:
    """True for an entry that a tablet kept and sends by itself: it reads JSON, and follows no redirect."""
    return request.headers.get("X-Outbox") == "yes"


# A tablet keeps what was tapped for longer than this only if nobody opened it for a week.
LONGEST_KEPT = dt.timedelta(days=7)
_AGE = re.compile(r"\d{1,7}(\.\d{1,9})?")


def moment_of_tap(request: HttpRequest) -> dt.datetime:
    """When it was tapped: now, or earlier where a tablet kept it and says for how long."""
    seconds = request.headers.get("X-Outbox-Age", "") if is_from_outbox(request) else ""
    age = dt.timedelta(seconds=float(seconds)) if _AGE.fullmatch(seconds) else dt.timedelta()
    return timezone.now() - min(age, LONGEST_KEPT)


def day_of_tap(request: HttpRequest) -> dt.date:
    """The day on which it was tapped."""
    return timezone.localdate(moment_of_tap(request))


def kept(request: HttpRequest, **told: Any) -> JsonResponse:
    """An entry is stored, now or before. Its key comes back, so that no other page is taken for this answer."""
    return JsonResponse({"key": request.POST.get("key", ""), **told})


def refused(why: str, *, status: int = 422, **told: Any) -> JsonResponse:
    """An entry that is not stored, and why, in a sentence for the person who tapped it."""
    return JsonResponse({"why": why, "asks_back": False, **told}, status=status)


def too_large(request: HttpRequest) -> HttpResponse:
    """More was sent than this house takes at once."""
    if is_from_outbox(request):
        return refused(_("This is too large to send."), status=413)
    return render(request, "413.html", status=413)


def key_from(text: str) -> int | None:
    """A row's key as a browser sent it; None for a text that is none, however long."""
    # Eighteen digits fit the largest key that a database has.
    return int(text) if text.isdecimal() and len(text) <= 18 else None


def studio_context(request: HttpRequest) -> dict[str, Any]:
    """The studio, today, and what this visit may, for every template.

    shows_office: the office stands among the rooms of whoever has one; where a PIN came in, its door asks for the
    password.
    """
    user = getattr(request, "user", None)
    known = user is not None and user.is_authenticated
    return {
        "studio": getattr(request, "studio", None),
        "today": getattr(request, "today", None),
        "may": {name: known and visit_may(request, name) for name in PERMISSIONS},
        "shows_office": known and may(user, "run_office"),
    }
