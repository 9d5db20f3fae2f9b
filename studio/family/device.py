"""The two signed cookies of a family: a link that was just followed, and a device that knows the birth date."""
import datetime as dt

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse

from studio.family.actions import token_hash
from studio.family.models import GuardianKey, KeyTry

PATH = "/family/"
FOLLOWED, KNOWN = "family-link", "family"
# From the link to the typed birth date.
FOLLOWED_SECONDS = 60 * 60


def standing_key(*, today: dt.date, **which) -> GuardianKey | None:
    """The key, while it has not ended and is still valid."""
    keys = GuardianKey.objects.filter(ended_at__isnull=True, valid_until__gte=today, **which)
    return keys.select_related("guardian").first()


def key_of_link(token: str, *, today: dt.date) -> GuardianKey | None:
    return standing_key(today=today, token_hash=token_hash(token))


def remember_link(response: HttpResponse, key: GuardianKey) -> None:
    """So that the page with the form has an address without the token."""
    _set(response, FOLLOWED, {"key": key.pk}, FOLLOWED_SECONDS)


def followed_key(request: HttpRequest) -> GuardianKey | None:
    found = _read(request, FOLLOWED, FOLLOWED_SECONDS)
    return standing_key(today=request.today, pk=found["key"]) if found else None


def remember_device(response: HttpResponse, tried: KeyTry, *, today: dt.date) -> None:
    days = (tried.key.valid_until - today).days + 1
    _set(response, KNOWN, {"key": tried.key_id, "try": tried.pk}, days * 24 * 3600)
    response.delete_cookie(FOLLOWED, path=PATH)


def known_device(request: HttpRequest) -> GuardianKey | None:
    """The key of this device, if it was opened here and stands; a cookie of an ended link is nobody's."""
    found = _read(request, KNOWN, None)
    if not found:
        return None
    which = {"tries__pk": found["try"], "tries__was_right": True, "tries__left_at": None}
    return standing_key(today=request.today, pk=found["key"], **which)


def opened_here(request: HttpRequest) -> KeyTry | None:
    """The birth date that opened this device, while it is open."""
    key, found = known_device(request), _read(request, KNOWN, None)
    return key.tries.get(pk=found["try"]) if key is not None and found else None


def forget_device(response: HttpResponse) -> None:
    for name in (FOLLOWED, KNOWN):
        response.delete_cookie(name, path=PATH)


def _set(response: HttpResponse, name: str, content: dict, seconds: int) -> None:
    response.set_cookie(
        name, signing.dumps(content, salt=f"studio.family.{name}"), max_age=seconds, path=PATH, httponly=True,
        samesite="Lax", secure=settings.SESSION_COOKIE_SECURE,
    )


def _read(request: HttpRequest, name: str, max_age: int | None) -> dict | None:
    try:
        return signing.loads(request.COOKIES.get(name, ""), salt=f"studio.family.{name}", max_age=max_age)
    except signing.BadSignature:
        return None
