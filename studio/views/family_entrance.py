"""The family's own entrance: a private link, the birth date once on a device, and leaving; no account, no script."""
from collections.abc import Callable
from functools import wraps

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone, translation
from django.utils.translation.trans_real import parse_accept_lang_header
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio.actions import Refused
from studio.audit.marks import mark_outcome, mark_person
from studio.audit.models import AuditRow
from studio.family import actions, device
from studio.family.forms import BirthDateForm
from studio.family.style import page_style
from studio.models import Guardian


def family_page(view: Callable) -> Callable:
    """A page without login that no search engine lists, no browser keeps and no other site hears of.

    An address with a token is not even told to the studio's own pages. The others are: a browser that tells no
    referrer sends forms from nowhere, and those are refused. For a slow phone the styles are in it and it is sent
    compressed: Django masks each form's token and pads what it compresses, so its length tells nothing (BREACH).
    """
    compressed = gzip_page(view)

    @login_not_required
    @wraps(view)
    def guarded(request: HttpRequest, *args, **kwargs) -> HttpResponse:
        request.page_style = page_style()
        response = compressed(request, *args, **kwargs)
        response.headers["Content-Security-Policy"] = request.page_style.policy
        response.headers["Referrer-Policy"] = "no-referrer" if "token" in kwargs else "same-origin"
        response.headers["X-Robots-Tag"] = "noindex, nofollow, noarchive"
        response.headers["Cache-Control"] = "no-store, private"
        return response

    return guarded


def speaking_to(request: HttpRequest, guardian: Guardian | None):
    """The guardian's language for as long as it lasts; the studio's where none was chosen."""
    code = (guardian.language_code if guardian else "") or request.studio.language_code
    request.LANGUAGE_CODE = code
    return translation.override(code)


def closed(request: HttpRequest) -> HttpResponse:
    """The one answer to a link or device that opens nothing, whatever the reason: unknown, ended, or of another.

    In the language of the browser, as far as families' pages speak it: whose link it was is told to nobody.
    """
    code = browser_language(request.headers.get("Accept-Language", ""))
    with translation.override(code or request.studio.language_code):
        request.LANGUAGE_CODE = translation.get_language()
        return render(request, "family/closed.html", status=404)


def browser_language(accepted: str) -> str:
    """The first language of the header that families' pages speak beside the studio's; "" where that does."""
    spoken = {code.partition("-")[0]: code for code, _name in settings.FAMILY_LANGUAGES}
    spoken |= {code.partition("-")[0]: "" for code, _name in settings.LANGUAGES}
    asked = (name.partition("-")[0] for name, _weight in parse_accept_lang_header(accepted))
    return next((spoken[name] for name in asked if name in spoken), "")


@family_page
@require_safe
def card(request: HttpRequest, token: str) -> HttpResponse:
    """The link itself. It leads straight on to an address without the token."""
    key = device.key_of_link(token, today=request.today)
    if key is None:
        return closed(request)
    mark_person(request, AuditRow.GUARDIAN, key.guardian_id)
    known = device.known_device(request)
    if known == key:
        return redirect("progress:family")
    response = redirect("studio:family-entrance")
    device.remember_link(response, key)
    return response


@family_page
@require_http_methods(["GET", "HEAD", "POST"])
def entrance(request: HttpRequest) -> HttpResponse:
    """The birth date, asked once on a device. A wrong one and too many of them are told apart, nothing else is."""
    key = device.followed_key(request)
    if key is None:
        return closed(request)
    mark_person(request, AuditRow.GUARDIAN, key.guardian_id)
    with speaking_to(request, key.guardian):
        form = BirthDateForm(request.POST or None)
        if request.method == "POST" and form.is_valid():
            try:
                tried = actions.try_birth_date(
                    key=key, birth_on=form.cleaned_data["birth_on"], at=timezone.now()
                )
            except Refused as reason:
                mark_outcome(request, AuditRow.REFUSED)
                form.add_error(None, str(reason))
            else:
                if tried is not None:
                    response = redirect("progress:family")
                    device.remember_device(response, tried, today=request.today)
                    mark_outcome(request, AuditRow.CAME_IN)
                    return response
                mark_outcome(request, AuditRow.REFUSED)
                form.add_error("birth_on", form.WRONG)
        return render(request, "family/entrance.html", {"form": form}, status=422 if form.errors else 200)


@family_page
@require_POST
def leave(request: HttpRequest) -> HttpResponse:
    """This device forgets the link; the card opens it again."""
    opened = device.opened_here(request)
    if opened is not None:
        actions.close_device(opened=opened, at=timezone.now())
        mark_person(request, AuditRow.GUARDIAN, opened.key.guardian_id)
        mark_outcome(request, AuditRow.WENT_OUT)
    else:
        # Nobody was in, so nothing changed.
        mark_outcome(request, AuditRow.SAW)
    response = render(request, "family/left.html")
    device.forget_device(response)
    return response
