"""How tablets on the studio's network learn to trust it: shown on the door's plain page, and in the office."""
from typing import Any

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.serialization import Encoding
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from studio.network.certificates import common_name, fingerprint
from studio.network.qr_code import qr_code
from studio.network.serving import authority_of
from studio.pages import show
from studio.permissions import only


def _in_rows(pairs: str) -> list[str]:
    """Eight pairs at a time, as an eye compares them."""
    return [pairs[at:at + 24] for at in range(0, len(pairs), 24)]


def _what_to_trust() -> dict[str, Any]:
    """The authority as a tablet shows it, and where a tablet comes to fetch it."""
    certificate = authority_of(settings.NETWORK).certificate
    return {
        "authority": common_name(certificate),
        "fingerprint": _in_rows(fingerprint(certificate, hashes.SHA256())),
        # Windows shows no other; to stand in for this certificate takes more than SHA-1's known weakness.
        "thumbprint": _in_rows(fingerprint(certificate, hashes.SHA1())),  # noqa: S303
        "door_address": settings.NETWORK.door_address(),
        "studio_address": settings.NETWORK.studio_address(),
        "qr": qr_code(settings.NETWORK.door_address()),
    }


@require_GET
@login_not_required
def trust(request: HttpRequest) -> HttpResponse:
    if settings.NETWORK is None:
        raise Http404
    return show(request, "studio/trust.html", _what_to_trust())


@require_GET
@login_not_required
def authority_file(request: HttpRequest) -> HttpResponse:
    """The authority's certificate, never its key, as the type that makes a tablet offer to install it."""
    if settings.NETWORK is None:
        raise Http404
    certificate = authority_of(settings.NETWORK).certificate
    return HttpResponse(
        certificate.public_bytes(Encoding.DER), content_type="application/x-x509-ca-cert",
        headers={"Content-Disposition": 'attachment; filename="risebook.crt"'},
    )


@require_GET
@only("run_office")
def network(request: HttpRequest) -> HttpResponse:
    context = {"room": "office", "network": settings.NETWORK, "behind_tls": settings.BEHIND_TLS,
               "start_line": "./risebook run --network"}
    return show(request, "studio/network.html", context | (_what_to_trust() if settings.NETWORK else {}))
