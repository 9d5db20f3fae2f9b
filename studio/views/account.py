"""The entrance: logging in and out, one's own account, and the pages shown when something is not there."""
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.forms import PasswordChangeForm
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods

from studio.forms import LoginForm
from studio.pages import is_from_outbox, refused, show


class LoginPage(LoginView):
    http_method_names = ["get", "post"]
    template_name = "studio/login.html"
    authentication_form = LoginForm
    redirect_authenticated_user = True


class LogoutPage(LogoutView):
    http_method_names = ["post"]

    def post(self, request, *args, **kwargs):
        response = super().post(request, *args, **kwargs)
        # What the browser kept of these pages goes with the person.
        response.headers["Clear-Site-Data"] = '"cache"'
        return response


@require_http_methods(["GET", "POST"])
def account(request: HttpRequest) -> HttpResponse:
    """One's own name, role and password."""
    form = PasswordChangeForm(request.user, request.POST or None)
    if request.method == "POST" and form.is_valid():
        update_session_auth_hash(request, form.save())
        messages.success(request, _("Your password is changed."))
        return redirect("studio:account")
    return show(request, "studio/account.html", {"form": form}, status=422 if form.errors else 200)


@require_GET
def fresh_token(request: HttpRequest) -> JsonResponse:
    """Who is logged in, and a token for her next form: a page that lay open for long asks for it."""
    return JsonResponse({"token": get_token(request), "person": str(request.user.pk), "name": request.user.name})


def _plain(request: HttpRequest, template: str, status: int) -> HttpResponse:
    return render(request, template, status=status)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    if is_from_outbox(request):
        return refused(_("This page is too old to send."), status=403, stale_token=True)
    return _plain(request, "studio/page_expired.html", 403)


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    if is_from_outbox(request):
        return refused(_("You may not do this."), status=403)
    return _plain(request, "403.html", 403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    if is_from_outbox(request):
        return refused(_("This is not here, or out of your reach."), status=404)
    return _plain(request, "404.html", 404)


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    if is_from_outbox(request):
        return refused(_("The server did not understand this entry."), status=400)
    return _plain(request, "400.html", 400)


def server_error(request: HttpRequest) -> HttpResponse:
    """Sent without context or template engine, because whatever failed may fail again."""
    page = settings.BASE_DIR / "templates" / "500.html"
    return HttpResponse(page.read_text(encoding="utf-8"), status=500)
