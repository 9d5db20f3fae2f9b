"""The class sheet: every student's verdicts side by side with what is still to measure."""
from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from progress.queries import class_sheet as queries
from studio.pages import show
from studio.permissions import reach_class
from studio.queries import term_on


@require_GET
def class_sheet(request: HttpRequest, class_id: int) -> HttpResponse:
    group, term = reach_class(request, class_id), term_on(request.today)
    sheet = queries.class_sheet(
        group, term, today=request.today, only_measure=request.GET.get("measure", ""), now=request.now
    )
    return show(request, "progress/class_sheet.html", {
        "room": "classes", "class_group": group, "term": term, "sheet": sheet,
        "week": term.week_on(request.today) if term else None,
        "teachers": list(group.teachers.order_by("name")), "meetings": list(group.meetings.all()),
    })
