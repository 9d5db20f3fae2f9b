"""A group run at the barre: the beat or the clock counts for everyone, one tap on a name takes it."""
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_GET, require_POST

from progress.actions.day import open_screening
from progress.queries.barre.run import run_view, runnable
from progress.views.barre.sheet import reach_sheet, students_in_reach
from screening.models import Battery
from screening.queries import open_screening_of
from studio.pages import show
from studio.permissions import only, reach_class
from studio.queries import term_on


@require_POST
@only("measure")
def start_run(request: HttpRequest, class_id: int) -> HttpResponse:
    """One tap from the first page to the barre: the class's open screening or a new one, and its first run."""
    group, battery = reach_class(request, class_id), Battery.objects.first()
    if battery is None:
        return redirect("progress:open-screening", class_id=group.pk)
    opened = open_screening_of(group) or open_screening(
        class_group=group, term=term_on(request.today), battery=battery, held_on=request.today, name="", by=request.user
    )
    for measure in runnable(opened):
        return redirect("progress:run", screening_id=opened.pk, measure_key=measure.key)
    return redirect("progress:screening", screening_id=opened.pk)


@require_GET
@only("measure")
def run(request: HttpRequest, screening_id: int, measure_key: str, *, is_one: bool = False) -> HttpResponse:
    """The run of a measure in groups, or one child at a time."""
    opened, measure = reach_sheet(request, screening_id, measure_key)
    if not measure.is_runnable:
        raise Http404
    view = run_view(
        opened, measure, students_in_reach(request, opened), by=request.user, is_one=is_one, now=request.now
    )
    context = {"room": "classes", "screening": opened, "view": view, "out": view.out}
    return show(request, "progress/barre/run.html", context)
