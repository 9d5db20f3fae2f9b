"""A group run at the barre: the beat or the clock counts for everyone, one tap on a name takes it."""
from django.http import Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from progress.queries.run import run_view
from progress.views.barre import load_measure, load_screening, students_in_reach
from screening.models import Measure
from studio.pages import show
from studio.permissions import only


@require_GET
@only("measure")
def run(request: HttpRequest, screening_id: int, measure_key: str) -> HttpResponse:
    opened = load_screening(request, screening_id)
    measure = load_measure(opened, measure_key)
    if measure.kind not in (Measure.COUNT, Measure.SECONDS):
        raise Http404
    view = run_view(
        opened, measure, students_in_reach(request, opened), by=request.user, is_one="one" in request.GET
    )
    return show(request, "progress/barre/run.html", {"room": "classes", "screening": opened, "view": view})
