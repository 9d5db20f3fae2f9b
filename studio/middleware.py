"""What every answer carries: the content security policy, the studio's locale, and no caching; knows no page."""
import zoneinfo

from django.conf import settings
from django.utils import timezone, translation

from studio.models import Studio


class ContentSecurityPolicyMiddleware:
    """Sends settings.SECURE_CSP; to be dropped when Django's own middleware (6.0) is there."""

    def __init__(self, get_response):
        self.get_response = get_response
        self.policy = "; ".join(f"{name} {' '.join(values)}" for name, values in settings.SECURE_CSP.items())

    def __call__(self, request):
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", self.policy)
        response.headers.setdefault(
            "Permissions-Policy", "camera=(), microphone=(), geolocation=(), payment=(), usb=()"
        )
        return response


class StudioMiddleware:
    """Puts the studio's row and its today on the request and speaks its language and time for as long as it lasts."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        request.studio = Studio.current()
        with (
            translation.override(request.studio.language_code),
            timezone.override(zoneinfo.ZoneInfo(request.studio.time_zone)),
        ):
            request.LANGUAGE_CODE = translation.get_language()
            request.today = timezone.localdate()
            return self.get_response(request)


class PrivatePagesMiddleware:
    """Pages about children are never kept by a browser or proxy, so Back after logout shows nothing."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        response = self.get_response(request)
        response.headers.setdefault("Cache-Control", "no-store, private")
        return response
