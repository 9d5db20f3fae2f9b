"""The first page: today's classes with their next step, then the follow-ups that are due."""
import datetime as dt

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from progress.queries import follow_ups_in_reach
from progress.queries.first_steps import first_steps
from progress.queries.follow_ups import follow_up_rows
from progress.queries.today import ruler_of, today_rows
from studio.audit.marks import mark_class, mark_students
from studio.pages import show
from studio.permissions import reachable_classes, visit_may
from studio.queries import classes_of_day, term_on

# The first page shows what is due within a week, and no more rows than one looks at between two classes.
DUE_WITHIN, DUE_SHOWN = dt.timedelta(days=7), 6


@require_GET
def today(request: HttpRequest) -> HttpResponse:
    term = term_on(request.today)
    open_ones = follow_ups_in_reach(request.user, today=request.today, now=request.now).filter(closed_at__isnull=True)
    due = follow_up_rows(
        open_ones.filter(due_on__lte=request.today + DUE_WITHIN), term=term, today=request.today, now=request.now
    )
    meeting = classes_of_day(reachable_classes(request.user), term, request.today)
    for each in meeting:
        # Its line may say who rests and who is still to be measured.
        mark_class(request, each.class_group.pk)
    mark_students(request, [row.follow_up.student_id for row in due[:DUE_SHOWN]])
    return show(request, "progress/today.html", {
        "room": "today", "term": term, "rows": today_rows(meeting, term, request.today, now=request.now),
        "due": due[:DUE_SHOWN], "open_count": open_ones.count(),
        "has_classes": reachable_classes(request.user).exists(),
        "steps": first_steps(request.studio, today=request.today) if visit_may(request, "run_office") else [],
        "ruler": ruler_of(term, request.today) if term else None,
    })
