"""The measuring day at the barre: open it, one sheet a measure, close it; entries are in entries.py."""
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from progress.actions import measuring
from progress.actions.day import open_screening as open_day
from progress.queries.barre import sheet as queries
from progress.queries.barre.out import out_of
from screening import actions as screening_actions
from screening.forms import OpenScreeningForm
from screening.models import Battery, Measure, Result, Screening
from screening.queries import battery_measures, students_of
from studio.audit.marks import mark_class
from studio.models import Consent, Student
from studio.pages import is_from_outbox, kept, show
from studio.permissions import only, reach_agreed_student, reach_class, reachable_classes, reachable_students
from studio.queries import term_on


def reach_screening(request: HttpRequest, screening_id: int) -> Screening:
    """A screening of a class that this person reaches; otherwise 404."""
    screenings = Screening.objects.filter(class_group__in=reachable_classes(request.user))
    found = get_object_or_404(screenings.select_related("class_group", "battery", "term"), pk=screening_id)
    mark_class(request, found.class_group_id)
    return found


def students_in_reach(request: HttpRequest, opened: Screening) -> list[Student]:
    """The children of a measuring day whom this person reaches."""
    reach = set(reachable_students(request.user, today=request.today).values_list("pk", flat=True))
    return [student for student in students_of(opened) if student.pk in reach]


def reach_result(request: HttpRequest, result_id: int) -> Result:
    """A result of a student whom this person reaches; otherwise 404."""
    rows = Result.objects.select_related("student", "screening", "measure", "protocol")
    result = get_object_or_404(rows, pk=result_id)
    reach_agreed_student(request, result.student_id, Consent.MEASUREMENTS)
    return result


def reach_sheet(request: HttpRequest, screening_id: int, measure_key: str) -> tuple[Screening, Measure]:
    """A screening of a class that this person reaches, and a measure that it asks for, or has results of; otherwise
    404. Where many taps of one sheet come together both are read once."""
    read, where = getattr(request, "read_together", {}), (screening_id, measure_key)
    if where not in read:
        opened = reach_screening(request, screening_id)
        read[where] = opened, _measure_of(opened, measure_key)
    opened, measure = read[where]
    mark_class(request, opened.class_group_id)
    return opened, measure


def _measure_of(screening: Screening, measure_key: str) -> Measure:
    measure = get_object_or_404(Measure.objects.prefetch_related("protocols"), key=measure_key)
    asked = {m.pk for m in battery_measures(screening.battery)}
    if measure.pk not in asked and not screening.results.filter(measure=measure).exists():
        raise Http404
    return measure


@require_http_methods(["GET", "POST"])
@only("measure")
def open_screening(request: HttpRequest, class_id: int) -> HttpResponse:
    group, term = reach_class(request, class_id), term_on(request.today)
    initial = {"held_on": request.today, "battery": Battery.objects.first()}
    form = OpenScreeningForm(request.POST or None, today=request.today, initial=initial)
    if request.method == "POST" and form.is_valid():
        cleaned = form.cleaned_data
        opened = open_day(
            class_group=group, term=term_on(cleaned["held_on"]), battery=cleaned["battery"],
            held_on=cleaned["held_on"], name=cleaned["name"], by=request.user,
        )
        return redirect("progress:screening", screening_id=opened.pk)
    return show(request, "progress/barre/open.html", {
        "room": "classes", "class_group": group, "term": term, "form": form,
        "batteries": Battery.objects.prefetch_related("entries__measure"),
    })


@require_GET
@only("measure")
def screening(request: HttpRequest, screening_id: int) -> HttpResponse:
    opened = reach_screening(request, screening_id)
    students = students_in_reach(request, opened)
    out = out_of(opened.class_group, students, opened.held_on, now=request.now)
    return show(request, "progress/barre/screening.html", {
        "room": "classes", "screening": opened,
        "day": queries.measuring_day(opened, students, now=request.now),
        "out": out.told | {"news": reverse("progress:barre-out")},
    })


@require_POST
@only("measure")
def close_screening(request: HttpRequest, screening_id: int) -> HttpResponse:
    opened = reach_screening(request, screening_id)
    missing = measuring.close_screening(screening=opened, closed_on=request.today, by=request.user)
    if missing:
        messages.warning(request, _("Closed. Who was not measured stands below."))
    else:
        messages.success(request, _("Closed. Nobody is missing."))
    return redirect("progress:screening", screening_id=opened.pk)


@require_POST
@only("measure")
def reopen_screening(request: HttpRequest, screening_id: int) -> HttpResponse:
    opened = reach_screening(request, screening_id)
    screening_actions.reopen_screening(screening=opened, by=request.user)
    if is_from_outbox(request):
        return kept(request, is_open=True)
    messages.success(request, _("The screening is open again."))
    return redirect("progress:screening", screening_id=opened.pk)


def sheet_page(request: HttpRequest, opened: Screening, measure: Measure, *, form=None) -> HttpResponse:
    """The sheet; `form`, a refused entry, is shown in its cell with what was typed."""
    view = queries.sheet_view(
        opened, measure, students_in_reach(request, opened), by=request.user, form=form,
        reopen=request.GET.get("again", ""), now=request.now,
    )
    context = {"room": "classes", "screening": opened, "view": view, "out": view.out}
    return show(request, "progress/barre/sheet.html", context, status=200 if form is None else 422)


@require_GET
@only("measure")
def sheet(request: HttpRequest, screening_id: int, measure_key: str) -> HttpResponse:
    return sheet_page(request, *reach_sheet(request, screening_id, measure_key))
