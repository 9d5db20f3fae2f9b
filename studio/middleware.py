"""What every answer carries: the content policy, the studio's locale, no caching, the way in; knows no page."""
from django.conf import settings
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import BadRequest, MiddlewareNotUsed
from django.http import HttpResponse, HttpResponseRedirect
from django.http.request import split_domain_port
from django.shortcuts import resolve_url
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from studio.audit.marks import mark_outcome
from studio.audit.models import AuditRow
from studio.locale import in_the_studio
from studio.network.body import LARGEST_BODY, LARGEST_BODY_OF_NOBODY
from studio.pages import asks_as_lock, is_from_outbox, refused, too_large

# The barre keeps the screen awake; nothing else of what a browser could lend is used, by us or by a frame.
PERMISSIONS_POLICY = "screen-wake-lock=(self), " + ", ".join(f"{name}=()" for name in (
    "accelerometer", "camera", "display-capture", "geolocation", "gyroscope", "hid", "magnetometer",
    "microphone", "midi", "payment", "publickey-credentials-get", "serial", "usb",
))


class PlainDoorMiddleware:
    """On a studio's own network, plain http shows how to trust this server; everything else is sent on to HTTPS."""

    # What the page is drawn with.
    DRAWN_WITH = ("css/", "fonts/", "img/")

    def __init__(self, get_response):
        if settings.NETWORK is None:
            raise MiddlewareNotUsed
        self.get_response = get_response

    def __call__(self, request):
        trust = reverse("studio:trust")
        open_here = (trust, reverse("studio:authority-file"))
        drawn_with = tuple(settings.STATIC_URL + folder for folder in self.DRAWN_WITH)
        if request.is_secure() or request.path in open_here or request.path.startswith(drawn_with):
            return self.get_response(request)
        host, _port = split_domain_port(request.get_host())
        if request.path == "/":
            return HttpResponseRedirect(trust)
        return HttpResponseRedirect(f"https://{host}:{settings.NETWORK.port}{request.get_full_path()}")


class HeadMiddleware:
    """HEAD is answered as GET is, without what follows the headers (RFC 9110, 9.3.2), wherever GET is."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        is_head = request.method == "HEAD"
        if is_head:
            request.method = "GET"
        response = self.get_response(request)
        allowed = [method.strip() for method in response.headers.get("Allow", "").split(",")]
        if "GET" in allowed and "HEAD" not in allowed:
            response.headers["Allow"] = ", ".join([*allowed, "HEAD"])
        if is_head:
            request.method = "HEAD"
            # The length that was told stays the one of GET.
            if response.streaming:
                response.streaming_content = ()
            else:
                response.content = b""
        return response


class ContentSecurityPolicyMiddleware:
    """Sends settings.SECURE_CSP; to be dropped when Django's own middleware (6.0) is there."""

    def __init__(self, get_response):
        self.get_response = get_response
        self.policy = "; ".join(f"{name} {' '.join(values)}" for name, values in settings.SECURE_CSP.items())

    def __call__(self, request):
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", self.policy)
        response.headers.setdefault("Permissions-Policy", PERMISSIONS_POLICY)
        return response


class StudioMiddleware:
    """Puts the studio's row, the instant and its day on the request; speaks its language and time meanwhile."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        with in_the_studio() as request.studio:
            request.LANGUAGE_CODE = translation.get_language()
            request.now = timezone.now()
            request.today = timezone.localdate(request.now)
            return self.get_response(request)


class BodyMiddleware:
    """Refuses what is too large before a byte of it is read: nobody's sooner than that of whoever is in.

    Here, because all of this runs before anything looks into a form, the check of its token included.
    """

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        most = LARGEST_BODY if request.user.is_authenticated else LARGEST_BODY_OF_NOBODY
        length = request.META.get("CONTENT_LENGTH") or "0"
        if length.isdecimal() and int(length) > most:
            is_tablets = is_from_outbox(request) and not request.user.is_authenticated
            # Its entries wait until somebody is in again.
            return refused(_("Log in to send."), status=401) if is_tablets else too_large(request)
        return self.get_response(request)


class EntranceMiddleware(LoginRequiredMiddleware):
    """Everybody logs in first and comes back to the page that was asked for."""

    def process_view(self, request, view_func, view_args, view_kwargs):
        answer = super().process_view(request, view_func, view_args, view_kwargs)
        if answer is None and is_from_outbox(request):
            tapped_by = request.headers.get("X-Outbox-Person", "")
            if tapped_by and tapped_by != str(request.user.pk):
                # The person who tapped an entry sends it; the one who is logged in now never does it for them.
                return refused(_("Somebody else is logged in here."), status=401, is_held=True)
        return answer

    def handle_no_permission(self, request, view_func):
        mark_outcome(request, AuditRow.REFUSED)
        if is_from_outbox(request):
            return refused(_("Log in to send."), status=401)
        if request.htmx or asks_as_lock(request):
            # The login page would land inside a cell of the sheet; the page reloads itself on 401.
            return HttpResponse(status=401)
        if request.method not in ("GET", "HEAD"):
            # The address of a form is no page to come back to.
            return redirect_to_login(resolve_url(settings.LOGIN_REDIRECT_URL), resolve_url(settings.LOGIN_URL))
        return super().handle_no_permission(request, view_func)


class NoNulMiddleware:
    """A NUL in an address is nobody's question, and PostgreSQL cannot look for one; forms refuse theirs themselves."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        if "%00" in request.META["QUERY_STRING"]:
            raise BadRequest("NUL in the query string")
        return self.get_response(request)


class PrivatePagesMiddleware:
    """Pages about children are never kept by a browser or proxy, so Back after logout shows nothing."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        response = self.get_response(request)
        response.headers.setdefault("Cache-Control", "no-store, private")
        user = getattr(request, "user", None)
        if request.path.startswith("/barre/") and user is not None and user.is_authenticated:
            # Only what says whose it is may be kept on a tablet, and only for that person.
            response.headers["X-Barre-Person"] = str(user.pk)
        return response
