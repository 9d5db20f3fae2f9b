"""A student's page: what can be said, the charts, all results with their corrections, the particulars."""
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from progress.actions import measuring
from progress.drawing import charts
from progress.drawing.parts import Chart
from progress.judging.line_record import read_line
from progress.queries import student as queries
from progress.queries.charts import describe_chart
from progress.queries.classwork.student_work import student_work
from progress.queries.judged import stopped_by_pain
from progress.views.barre.sheet import reach_result
from progress.words.speech import voice_for
from screening import actions as screening_actions
from screening.forms import ResultForm, new_key
from screening.models import Measure
from screening.queries import results_of_student
from screening.wording import write_result
from studio.actions import Refused
from studio.family.queries import agreed_scopes
from studio.forms import StudentForm
from studio.models import Consent, Student, Term
from studio.pages import key_from, show
from studio.permissions import (
    only,
    reach_agreed_student,
    reach_student,
    reachable_classes,
    reachable_students,
    visit_may,
)
from studio.queries import term_asked_for
from studio.voice import Voice


def _term(request: HttpRequest) -> Term | None:
    return term_asked_for(key_from(request.GET.get("term", "")), today=request.today)


FIRST, MORE = ("large", "tablet", "upright", "phone"), ("small", "middle", "middle", "phone")


def drawings(chart: Chart, sizes: tuple[str, str, str, str], voice: Voice) -> dict[str, object]:
    """The drawing for each width of screen, of which the style sheet shows the one that fits; what the page writes
    around a narrow one, and the words of every result in the order in which they are drawn.
    """
    drawn = {size: charts.svg(chart, size=size, voice=voice) for size in dict.fromkeys(sizes)}
    names = dict(zip(("large", "tablet", "upright", "phone"), sizes, strict=True))
    return {
        **{width: drawn[size] for width, size in names.items() if size != "middle"},
        "middle": drawn.get("middle", ""), "axis": charts.axis(chart, voice), "labels": charts.labels(chart),
        "values": charts.values(chart),
    }


@require_GET
def student(request: HttpRequest, student_id: int) -> HttpResponse:
    child, term = reach_student(request, student_id), _term(request)
    view = queries.student_view(
        child, term, classes=reachable_classes(request.user), today=request.today, now=request.now
    )
    strands = [
        (strand, drawings(strand.chart, FIRST if at == 0 else MORE, voice_for(term)) if strand.chart else None)
        for at, strand in enumerate(view.strands)
    ]
    return show(request, "progress/student.html", {
        "room": "classes", "student": child, "term": term, "view": view, "strands": strands[:1],
        "more_strands": strands[1:], "terms": Term.objects.all(),
        "week": term.week_on(view.as_of or request.today) if term else None,
    })


@require_GET
def work(request: HttpRequest, student_id: int) -> HttpResponse:
    """What a student works on in class and what was logged: a page, and the part that the student's page asks for."""
    child, term = reach_agreed_student(request, student_id, Consent.MEASUREMENTS), _term(request)
    enrolments = child.enrolments.filter(term=term, class_group__in=reachable_classes(request.user))
    enrolment = enrolments.select_related("class_group").first()
    group = enrolment.class_group if enrolment else None
    return show(request, "progress/classwork/student_work.html", {
        "room": "classes", "student": child, "term": term, "class_group": group,
        "work": student_work(child, group, term, today=request.today, now=request.now),
    }, part="progress/classwork/_student_work.html")


@require_GET
def chart_figure(request: HttpRequest, student_id: int, measure_key: str) -> HttpResponse:
    """The same chart as a figure for the interactive drawing."""
    child, term = reach_agreed_student(request, student_id, Consent.MEASUREMENTS), _term(request)
    standings = queries.student_standings(child, term, now=request.now)
    agreed = agreed_scopes(child, timezone.now())
    facts = next((f for f in queries.strand_facts(child, standings, agreed) if f.measure.key == measure_key), None)
    if facts is None or term is None:
        raise Http404
    as_of = queries.as_of_day([facts], standings)
    return JsonResponse(charts.figure(describe_chart(facts, term, as_of=as_of), voice=voice_for(term)))


@require_GET
def results(request: HttpRequest, student_id: int) -> HttpResponse:
    """Every result, corrected ones included, with who and when."""
    child = reach_agreed_student(request, student_id, Consent.MEASUREMENTS)
    measure = Measure.objects.filter(key=request.GET.get("measure", "")).first()
    found = list(results_of_student(child, measure))
    stopped = stopped_by_pain(found) if Consent.PAIN in agreed_scopes(child, timezone.now()) else set()
    rows = [
        (row, write_result(row, is_stopped=row.pk in stopped) if row.value is not None else "",
         getattr(row, "superseded_by", None))
        for row in found
    ]
    standings = queries.student_standings(child, now=request.now)
    held = {key for standing in standings for key in read_line(standing.line).held_back}
    return show(request, "progress/results.html", {
        "room": "classes", "student": child, "rows": rows, "measure": measure, "held": held,
        "figure_page": _figure_page(request, child, measure),
        "measures": Measure.objects.filter(results__student=child).distinct(),
    })


def _figure_page(request: HttpRequest, child: Student, measure: Measure | None) -> str:
    """The address of the figure that the owner explores, of one measure that is judged; "" for everybody else."""
    if measure is None or not measure.is_judged or not visit_may(request, "run_office"):
        return ""
    return reverse("progress:chart-figure", args=[child.pk, measure.key])


@require_http_methods(["GET", "POST"])
@only("measure")
def correct_result(request: HttpRequest, result_id: int) -> HttpResponse:
    """Another value in the place of this one, or taking it back; the old row stays on the list."""
    result = reach_result(request, result_id)
    form = None
    if request.method == "POST" and "take_back" in request.POST:
        _try(request, lambda: measuring.correct_result(
            key=new_key(), result=result, by=request.user,
            entry=screening_actions.Entry(reason_missing=result.WITHDRAWN)))
        return redirect("progress:results", student_id=result.student_id)
    if request.method == "POST":
        data = request.POST.copy()
        data.update({"student": result.student_id, "side": result.side})
        form = ResultForm(data, measure=result.measure, protocol=result.protocol)
        if form.is_valid():
            try:
                _try(request, lambda: measuring.correct_result(
                    key=form.cleaned_data["key"], result=result, entry=form.entry, by=request.user))
                return redirect("progress:results", student_id=result.student_id)
            except measuring.ShouldRest as rests:
                form.add_error("value", str(rests))
                form.reasons = rests.reasons
    return show(request, "progress/correct_result.html", {
        "room": "classes", "result": result, "form": form, "key": new_key(),
        "typed": form.data.get("value", "") if form else "",
        "written": write_result(result) if result.value is not None else result.get_reason_missing_display(),
        "grades": [(i, _(word)) for i, (word, _anchor) in enumerate(result.protocol.grades)],
    })


def _try(request: HttpRequest, act) -> None:
    try:
        act()
    except measuring.ShouldRest:
        raise
    except Refused as refused:
        messages.warning(request, str(refused))
    except screening_actions.Conflict:
        messages.warning(request, _("This was sent before with another value. The first one stays. Please look again."))
    else:
        messages.success(request, _("Corrected. The old row stays on this list."))


@require_POST
@only("measure")
def confirm_result(request: HttpRequest, result_id: int) -> HttpResponse:
    """A held-back value was right: it counts from now on."""
    result = reach_result(request, result_id)
    if result.value is not None:
        entry = screening_actions.Entry(value=result.value, fault=result.fault, is_confirmed=True)
        _try(request, lambda: measuring.correct_result(key=new_key(), result=result, entry=entry, by=request.user))
    return redirect("progress:student", student_id=result.student_id)


@require_http_methods(["GET", "POST"])
@only("edit_roster")
def edit_student(request: HttpRequest, student_id: int) -> HttpResponse:
    """Particulars; a change of stage judges the student anew, because the targets are others."""
    child = reach_student(request, student_id)
    reach = reachable_students(request.user, today=request.today)
    form = StudentForm(request.POST or None, instance=child, today=request.today, reach=reach)
    if request.method == "POST" and form.is_valid():
        measuring.save_particulars(student=form.save(commit=False), by=request.user)
        messages.success(request, _("Saved."))
        return redirect("progress:student", student_id=child.pk)
    return show(request, "progress/edit_student.html", {
        "room": "classes", "student": child, "form": form, "guardians": child.guardians.all(),
        "enrolments": child.enrolments.select_related("class_group", "term"),
    })
