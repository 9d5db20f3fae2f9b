"""One's own account: password and PIN; and the pages shown when something is not there."""
import sys

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio.entrance.actions import end_visits_elsewhere, set_pin
from studio.entrance.actions import remove_pin as take_pin_away
from studio.entrance.forms import NewPasswordForm, NewPinForm, OwnPasswordForm
from studio.entrance.queries import visits_of
from studio.entrance.second_factor import has_second_factor
from studio.pages import is_from_outbox, refused, show
from studio.upkeep.wellness import says_disk_full
from studio.views.entrance import fresh_login


@require_GET
def help_page(request: HttpRequest) -> HttpResponse:
    """How each room is used, in a few sentences; about nobody."""
    return show(request, "studio/help/help.html", {})


@require_http_methods(["GET", "POST"])
def account(request: HttpRequest) -> HttpResponse:
    """One's own name, role and password, and where one is logged in; a new password ends that everywhere else."""
    form = NewPasswordForm(request, request.POST or None)
    if request.method == "POST" and form.is_valid():
        update_session_auth_hash(request, form.save())
        end_visits_elsewhere(person=request.user, here=request.session.session_key)
        messages.success(request, _("Your password is changed. You are logged out everywhere else."))
        return redirect("studio:account")
    return show(request, "studio/account.html", {
        "form": form, "visits": visits_of(request.user, now=request.now), "here": request.session.session_key,
        "has_second_factor": has_second_factor(request.user),
    })


@require_POST
def leave_elsewhere(request: HttpRequest) -> HttpResponse:
    end_visits_elsewhere(person=request.user, here=request.session.session_key)
    messages.success(request, _("You are logged out everywhere else."))
    return redirect("studio:account")


@require_GET
def fresh_token(request: HttpRequest) -> JsonResponse:
    """Who is logged in, and a token for the next form: a page that lay open for long asks for it."""
    return JsonResponse({"token": get_token(request), "person": str(request.user.pk), "name": request.user.name})


@require_http_methods(["GET", "POST"])
def edit_pin(request: HttpRequest) -> HttpResponse:
    """One's PIN for enrolled tablets; the password is asked for, because the page may have been left open."""
    form = NewPinForm(request.POST or None, request=request)
    if request.method == "POST" and form.is_valid():
        set_pin(person=request.user, pin=form.cleaned_data["pin"])
        messages.success(request, _("Your PIN is set. It opens the studio’s enrolled tablets."))
        return redirect("studio:account")
    return show(request, "studio/edit_pin.html", {"form": form})


@require_http_methods(["GET", "POST"])
def password_again(request: HttpRequest) -> HttpResponse:
    """Asks whoever is in for the password, before what a page left open must not do; then back to where that was."""
    asked = request.POST.get("next", request.GET.get("next", ""))
    safe = url_has_allowed_host_and_scheme(asked, {request.get_host()}, require_https=request.is_secure())
    back = asked if safe else reverse("progress:today")
    form = OwnPasswordForm(request.POST or None, request=request)
    if request.method == "POST" and form.is_valid():
        request.session["proved_at"] = request.now.timestamp()
        return redirect(back)
    return show(request, "studio/password_again.html", {"form": form, "back": back})


@require_POST
def remove_pin(request: HttpRequest) -> HttpResponse:
    take_pin_away(person=request.user, here=request.session.session_key)
    messages.success(request, _("Your PIN is removed. You come in with your password."))
    return redirect("studio:account")


def _plain(request: HttpRequest, template: str, status: int) -> HttpResponse:
    return render(request, template, status=status)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    if is_from_outbox(request):
        return refused(_("This page is too old to send."), status=403, stale_token=True)
    if request.path == reverse("studio:login"):
        return fresh_login(request)
    return _plain(request, "studio/page_expired.html", 403)


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    if is_from_outbox(request):
        return refused(_("You may not do this."), status=403)
    return _plain(request, "403.html", 403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    if is_from_outbox(request):
        return refused(_("This is not here, or not yours to see."), status=404)
    return _plain(request, "404.html", 404)


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    if is_from_outbox(request):
        return refused(_("The server did not understand this entry."), status=400)
    return _plain(request, "400.html", 400)


def server_error(request: HttpRequest) -> HttpResponse:
    """Sent without context or template engine, because what failed may fail again; a database that does not take or
    give anything just now is told in its own words, with 503, which a tablet reads as: keep it and try again."""
    problem = sys.exc_info()[1]
    if isinstance(problem, OperationalError | InterfaceError):
        is_full = says_disk_full(problem)
        answer = HttpResponse(render_to_string("503.html", {"is_full": is_full}), status=503)
        answer.headers["Retry-After"] = "60" if is_full else "5"
        if request.method == "GET" and not is_full:
            answer.headers["Refresh"] = "5"
        return answer
    page = settings.BASE_DIR / "templates" / "500.html"
    return HttpResponse(page.read_text(encoding="utf-8"), status=500)
