"""Which tablet a request comes from, and whether the visit still lasts; knows no page."""
import datetime as dt
import logging
from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login, logout
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.crypto import constant_time_compare
from django.utils.translation import gettext as _

from studio.audit.marks import mark_outcome
from studio.audit.models import AuditRow
from studio.entrance.actions import forget_tries, hash_of
from studio.entrance.browsers import browser_words
from studio.entrance.keys import Pin, Tablet, Visit
from studio.entrance.second_factor import is_asked_of
from studio.models import User
from studio.pages import asks_as_lock, is_from_outbox, refused
from studio.permissions import BY_PIN, came_by_pin

log = logging.getLogger(__name__)
# Browsers keep no cookie longer than 400 days (RFC 6265bis, 5.5); each visit sets it anew.
COOKIE_DAYS = 400
# A hand on the tablet is told to the server once a minute, so the server waits that much longer than the lock.
GRACE = dt.timedelta(minutes=2)
# Without an enrolled tablet nothing locks by itself: a desk that nobody touched for so long is nobody's. Our choice.
DESK_IDLE = dt.timedelta(minutes=60)
# How long a right password waits for its code.
CODE_WAIT = dt.timedelta(minutes=5)
BEFORE_SECOND_FACTOR = {"studio:second-factor", "studio:logout", "studio:lock", "studio:still-here"}
# When somebody was last here is written at most this often.
STEP = dt.timedelta(seconds=30)


def enter(request: HttpRequest, person: User, *, way: str = Visit.PASSWORD) -> None:
    """Lets a person in whose password or PIN was right, in a new session that belongs to this tablet."""
    logout(request)
    login(request, person, backend="django.contrib.auth.backends.ModelBackend")
    mark_outcome(request, AuditRow.CAME_IN)
    request.session["way"] = way
    request.session["browser"] = browser_words(request.headers.get("User-Agent", ""))
    if request.tablet:
        request.session["tablet"] = request.tablet.pk
        forget_tries(tablet=request.tablet, person=person)
    request.session.save()


def wait_for_code(request: HttpRequest, person: User) -> None:
    """The password was right; the person is still nobody until the code is, too."""
    request.session.cycle_key()
    request.session["waiting"] = [person.pk, person.get_session_auth_hash(), timezone.now().timestamp()]


def person_waiting(request: HttpRequest) -> User | None:
    """Whose code is waited for; None after a while, and when the password or account changed meanwhile."""
    key, auth_hash, since = request.session.get("waiting", (None, "", 0))
    person = User.objects.filter(pk=key, is_active=True).first()
    if person is None or timezone.now().timestamp() - since > CODE_WAIT.total_seconds():
        return None
    return person if constant_time_compare(auth_hash, person.get_session_auth_hash()) else None


def address_of(request: HttpRequest) -> str:
    """Whence a request comes: behind a proxy its last word is the one that the proxy itself wrote."""
    passed_on = request.META.get("HTTP_X_FORWARDED_FOR", "") if settings.BEHIND_TLS else ""
    return passed_on.rsplit(",", 1)[-1].strip() or request.META.get("REMOTE_ADDR", "")


def keep_token(response: HttpResponse, token: str) -> HttpResponse:
    """Puts the tablet's token where no script and no other site reaches it."""
    response.set_cookie(
        settings.TABLET_COOKIE_NAME, token, max_age=COOKIE_DAYS * 24 * 60 * 60, path="/", httponly=True,
        samesite="Lax", secure=settings.SESSION_COOKIE_SECURE,
    )
    return response


def tablet_of(request: HttpRequest) -> Tablet | None:
    """The enrolled tablet whose token the browser has; None for every other browser."""
    token = request.COOKIES.get(settings.TABLET_COOKIE_NAME)
    return Tablet.objects.filter(token_hash=hash_of(token), revoked_at__isnull=True).first() if token else None


class VisitMiddleware:
    """Ends a visit that lay idle or left its tablet, and writes down when somebody was last here."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        request.tablet = tablet_of(request)
        if request.tablet:
            _touch(Tablet.objects.filter(pk=request.tablet.pk), request.tablet)
        if request.user.is_authenticated and not _lasts(request):
            logout(request)
        return self.get_response(request)

    def process_view(self, request, view, args, kwargs):
        # What an outbox sends it may send by itself, long after the tap; the lock tells of the hand.
        # Where no lock stands, nobody tells of a hand, so there what an outbox sends has to say it.
        is_hand = not is_from_outbox(request) or (request.tablet is None and request.method == "POST")
        if request.user.is_authenticated and is_hand:
            _touch(Visit.objects.filter(pk=request.session.session_key), request.session.visit)
        if came_by_pin(request) and getattr(view, "permission", "measure") not in BY_PIN:
            logout(request)
            mark_outcome(request, AuditRow.REFUSED)
            messages.info(request, _("This page needs your password, not the PIN."))
            # The address of a form is no page to come back to.
            page = {"next": request.path} if request.method == "GET" else {}
            return redirect(f"{reverse('studio:login')}?{urlencode({'by_password': 'yes', **page})}")
        if request.user.is_authenticated and _lacks_second_factor(request):
            mark_outcome(request, AuditRow.REFUSED)
            if is_from_outbox(request) or asks_as_lock(request):
                return refused(_("First set up your second factor."), status=403)
            return HttpResponse(status=403) if request.htmx else redirect("studio:second-factor")


def _lacks_second_factor(request: HttpRequest) -> bool:
    """True where the owner wants one of this role and the visit began without, except on the page that sets it up."""
    if request.tablet or request.session.get("way") == Visit.CODE:
        return False
    return is_asked_of(request.user, request.studio) and request.resolver_match.view_name not in BEFORE_SECOND_FACTOR


def _lasts(request: HttpRequest) -> bool:
    here, bound = request.tablet, request.session.get("tablet")
    if bound is None and here:
        # The browser was enrolled during this visit.
        request.session["tablet"] = bound = here.pk
    idle = timezone.now() - request.session.visit.seen_at
    if bound is None:
        return idle <= DESK_IDLE
    if here is None or here.pk != bound:
        return False
    return idle <= dt.timedelta(minutes=request.studio.idle_minutes) + GRACE


def _touch(rows, row) -> None:
    now = timezone.now()
    if row.seen_at is None or now - row.seen_at >= STEP:
        try:
            # On a full disk pages can be read all the same, and a stop sign must not wait for a note of who was here.
            rows.update(seen_at=now)
        except OperationalError as problem:
            log.error("the visit could not be written down: %s", type(problem).__name__)
        row.seen_at = now


def lock_context(request: HttpRequest) -> dict[str, dict | None]:
    """What the lock over a page on an enrolled tablet knows of the visit; as text, for no language to write anew."""
    if not getattr(request, "tablet", None) or not request.user.is_authenticated:
        return {"lock": None}
    pin = Pin.objects.filter(person=request.user).first()
    began_at, set_at = request.session.visit.began_at, pin.set_at if pin else None
    return {"lock": {
        "visit": str(began_at.timestamp()), "has_pin": pin is not None,
        "pin_set": str(set_at.timestamp()) if set_at else "0",
    }}
