"""The way in to the barre, which opens without the network, and the worker that keeps it; names of classes only."""
import hashlib
import json
from functools import cache

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.http import require_GET

from progress.queries.barre.hub import classes_at_the_barre, say_next_steps
from progress.queries.barre.out import class_out, outs_of
from studio.audit.marks import mark_class
from studio.pages import show
from studio.permissions import only, reachable_students

# What the barre's pages are drawn with: our own files and the letters.
KEPT_FILES = (
    "js/*.js", "js/run/*.js", "js/vendor/idb-*.js", "css/*.css", "fonts/source-sans-3-3.052/*.woff2", "img/foot.svg",
)


@require_GET
@only("measure")
def hub(request: HttpRequest) -> HttpResponse:
    """Today's classes and what is open, each with its next step and the ways to its sheets."""
    classes = classes_at_the_barre(request.user, request.today)
    say_next_steps(classes, request.today, now=request.now)
    return show(request, "progress/barre/hub.html", {
        "room": "barre", "classes": classes, "out": {"news": reverse("progress:barre-out")},
    })


@require_GET
@only("measure")
def out(request: HttpRequest) -> HttpResponse:
    """Who leaves out what in every class at the barre, for a tablet that keeps their pages; 204 with nothing new."""
    reach = set(reachable_students(request.user, today=request.today).values_list("pk", flat=True))
    groups = [row.class_group for row in classes_at_the_barre(request.user, request.today)]
    found = outs_of([class_out(group, request.today, reach) for group in groups], now=request.now)
    stamp = hashlib.sha256("".join(each.stamp for each in found).encode()).hexdigest()[:12]
    for group in groups:
        mark_class(request, group.pk)
    if request.GET.get("seen") == stamp:
        return HttpResponse(status=204)
    return JsonResponse({"stamp": stamp, "results": [], "outs": [each.told for each in found]})


@require_GET
@only("measure")
def help_page(request: HttpRequest) -> HttpResponse:
    """How sheets, runs and reports of pain are used; opens without network like the classes."""
    return show(request, "progress/barre/help.html", {"room": "barre"})


@cache
def _worker() -> str:
    """The script with the list of what it keeps; any change in one of these makes another version."""
    folder = settings.BASE_DIR / "static"
    paths = sorted(path for pattern in KEPT_FILES for path in folder.glob(pattern))
    script = (folder / "js" / "worker.js").read_text(encoding="utf-8")
    digest = hashlib.sha256(script.encode())
    for path in paths:
        digest.update(path.read_bytes())
    files = [static(path.relative_to(folder).as_posix()) for path in paths if path.name != "worker.js"]
    told = {"version": digest.hexdigest()[:12], "files": files}
    return f"const barre = {json.dumps(told)};\n{script}"


@login_not_required
@require_GET
def worker(request: HttpRequest) -> HttpResponse:
    """It keeps pages of the barre only, but is allowed the whole house, so that leaving the barre without a network
    ends at what opens without one."""
    told = {"Cache-Control": "no-cache", "Service-Worker-Allowed": "/"}
    return HttpResponse(_worker(), content_type="text/javascript", headers=told)
