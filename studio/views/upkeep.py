"""How the studio's computer is doing: a word for whatever watches over it, and the owner's page."""
from pathlib import Path

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET

from studio.pages import show
from studio.permissions import only
from studio.upkeep.home import BackupNote, note_of
from studio.upkeep.wellness import BAD, SOON, findings, is_serving


@require_GET
@login_not_required
def health(request: HttpRequest) -> HttpResponse:
    """200 where pages can be read and written, 503 where not; nothing of the studio is in it."""
    serves = is_serving()
    return HttpResponse("well\n" if serves else "not well\n", content_type="text/plain", status=200 if serves else 503)


@require_GET
@only("run_office")
def how_is_it(request: HttpRequest) -> HttpResponse:
    found = findings(request.now)
    return show(request, "studio/how_is_it.html", {
        "room": "office", "findings": found, "has_backup": _note().is_there,
        "spoken": _spoken(sum(each.state == BAD for each in found), sum(each.state == SOON for each in found)),
    })


def _spoken(bad: int, soon: int) -> str:
    """How it is doing in a sentence; bad, soon: how many things need somebody now, and soon."""
    if bad:
        return ngettext("One thing needs you now.", "%(n)s things need you now.", bad) % {"n": bad}
    if soon:
        return ngettext(
            "It is doing well. One thing should be seen to soon.",
            "It is doing well. %(n)s things should be seen to soon.", soon,
        ) % {"n": soon}
    return _("It is doing well.")


@require_GET
@only("run_office")
def last_backup(request: HttpRequest) -> FileResponse:
    """The last good backup to take along; it is sealed, and opens with the passphrase on paper only."""
    path = Path(_note().path)
    try:
        return FileResponse(path.open("rb"), content_type="application/zip", as_attachment=True, filename=path.name)
    except OSError:
        raise Http404 from None


def _note() -> BackupNote:
    return note_of(Path(settings.VAR_DIR) / "backups")
