"""It hurts: where and how in two taps, then the next step and the caution; nothing here is ever deleted."""
import json
import uuid
from collections.abc import Iterable

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from progress.actions import pain as actions
from progress.forms.pain import PainForm
from progress.models import PainReport
from progress.queries.pain import (
    as_report,
    cut_short,
    effect_words,
    referral_so_far,
    report_words,
    stricter_rule,
    was_mistake,
)
from progress.rules import feet, pain, red_words
from progress.views.barre.sheet import reach_screening
from progress.views.ring_home import home_context
from progress.words.speech import voice_for
from screening.forms import new_key
from screening.models import Measure, Result, Screening
from screening.queries import students_of
from studio.actions import Refused
from studio.family.queries import consented
from studio.ledger import Conflict
from studio.models import ClassGroup, Consent, Student
from studio.pages import day_of_tap, is_from_outbox, kept, key_from, moment_of_tap, refused, show
from studio.permissions import (
    only,
    reach_agreed_student,
    reach_class,
    reach_student,
    reachable_classes,
    reachable_students,
)
from studio.queries import barre_names, barre_order, term_on


@require_http_methods(["GET", "POST"])
@only("measure")
def report_pain(
    request: HttpRequest, student_id: int, screening_id: int | None = None, class_id: int | None = None
) -> HttpResponse:
    student = reach_student(request, student_id)
    logged = _reach_class_of(request, student, class_id) if class_id else None
    screening = reach_screening(request, screening_id) if screening_id else None
    measure = Measure.objects.filter(key=request.GET.get("measure", "")).first() if screening else None
    way_back = _way_back(request, student, screening, measure, logged)
    if not consented([student.pk], Consent.PAIN, timezone.now()):
        return _not_written_down(request, student, way_back)
    # A student who was up in a run when it hurt did not go on with this exercise.
    form = PainForm(request.POST or None, initial={"stopped": "exercise"} if "run" in request.GET else None)
    if request.method == "POST" and form.is_valid():
        group = screening.class_group if screening else logged or _class_of(request, student)
        try:
            return _told(request, _reported(request, form, student, screening, measure, group), logged)
        except Conflict:
            if is_from_outbox(request):
                return refused(_("This was sent before with other contents. The first one stays."), status=409)
            form.add_error(None, _("Another report was saved from this page. Look at this one and send it again."))
            form.data = {**form.data.dict(), "key": ""}
    if form.errors and is_from_outbox(request):
        return refused(" ".join(error for errors in form.errors.values() for error in errors))
    return show(request, "progress/barre/hurts.html", {
        "room": "classes", "student": student, "screening": screening, "measure": measure, "form": form,
        "key": form.data.get("key") or new_key(), "chosen": request.POST.getlist("region"), **_choices(form),
        "way_back": way_back, "from_run": "run" in request.GET,
        "at_count": form.data.get("at_count") or key_from(request.GET.get("at", "")) or "",
    })


def _reported(
    request: HttpRequest, form: PainForm, student: Student, screening: Screening | None, measure: Measure | None,
    group: ClassGroup | None,
) -> PainReport:
    cleaned = form.cleaned_data
    return actions.report_pain(
        key=cleaned["key"], student=student, screening=screening, measure=measure, class_group=group,
        places=cleaned["region"], feels=cleaned["feels"], signs=cleaned["signs"],
        not_meant=cleaned["not_meant"], at_count=cleaned["at_count"], intensity=cleaned["intensity"],
        stopped_result=_stopped_result(request, student, screening, measure, cleaned["stopped"]),
        stopped=cleaned["stopped"], since=cleaned["since"], note=cleaned["note"],
        reported_on=day_of_tap(request), by=request.user,
    )


def _stopped_result(
    request: HttpRequest, student: Student, screening: Screening | None, measure: Measure | None, stopped: str
) -> Result | None:
    """The count that the pain cut short: named by its tablet's key, or else the last one that was kept just before."""
    try:
        key = uuid.UUID(request.GET.get("of", ""))
    except ValueError:
        return cut_short(student, screening, measure, moment_of_tap(request)) if stopped in pain.NOT_THIS else None
    return Result.objects.filter(key=key, student=student, screening=screening, value__isnull=False).first()


def _choices(form: PainForm) -> dict:
    """What can be tapped, and the whole triage for a tablet without a network."""
    def rows(name: str, choices: Iterable[tuple[str, str]]) -> list[tuple[str, str, bool]]:
        chosen = form[name].value() or ()
        chosen = chosen if isinstance(chosen, list | tuple) else [str(chosen)]
        return [(key, _(words), key in chosen) for key, words in choices]

    return {
        "elsewhere_places": feet.elsewhere(_), "feels": rows("feels", pain.FEELS), "signs": rows("signs", pain.SIGNS),
        "stopped": rows("stopped", pain.STOPPED), "since": rows("since", pain.SINCE),
        "numbers": rows("intensity", [(str(number), str(number)) for number in range(11)]),
        "red_questions": [(key, _(words)) for key, words in red_words.QUESTIONS], "steps": _steps(),
        "table": json.dumps(pain.table(stricter_rule())), "patterns": json.dumps(red_words.PATTERNS),
    }


def _steps() -> list[tuple[str, str, str, str]]:
    """Every answer that one report alone can have: (what it asks for, why it is to be seen, heading, sentence)."""
    voice = voice_for(None)
    asked = [(pain.WATCH, why) for why in pain.BY_ITSELF] + [(pain.STOP, why) for why in pain.BY_ITSELF]
    return [
        (each, why, *pain.next_step(each, referred=why, voice=voice))
        for each, why in [*asked, (pain.DOCTOR_TODAY, ""), (pain.HEAD, ""), (pain.EMERGENCY, "")]
    ]


def _not_written_down(request: HttpRequest, student: Student, way_back: tuple[str, str]) -> HttpResponse:
    """What to do all the same where the family did not agree to notes; nothing is asked and nothing kept."""
    if is_from_outbox(request):
        return refused(_(
            "The family has not agreed to pain notes, so nothing was saved. Stop, and tell the family today."
        ))
    heading, sentence = pain.next_step(pain.STOP, referred="", voice=voice_for(None))
    return show(request, "progress/barre/no_notes.html", {
        "room": "classes", "student": student, "way_back": way_back, "heading": heading, "sentence": sentence,
    }, status=200 if request.method == "GET" else 422)


def _told(request: HttpRequest, report: PainReport, logged: ClassGroup | None) -> HttpResponse:
    """The next step: as a page, or its address to a tablet that kept the report and sent it later."""
    next_step = reverse("progress:pain-next-step", args=[report.pk]) + _from_where(request, logged)
    if is_from_outbox(request):
        return kept(request, report={
            "key": str(report.uuid), "student": report.student_id, "asks": report.asks, "next_step": next_step,
        })
    return redirect(next_step)


def _from_where(request: HttpRequest, logged: ClassGroup | None) -> str:
    """The part of a next step's address that says where the report came from, for the way back."""
    if "run" in request.GET:
        return "?run&one" if "one" in request.GET else "?run"
    return f"?log={logged.pk}" if logged else ""


def _logged(request: HttpRequest) -> ClassGroup | None:
    return reachable_classes(request.user).filter(pk=key_from(request.GET.get("log", ""))).first()


def _way_back(
    request: HttpRequest, student: Student | None, screening: Screening | None, measure: Measure | None,
    logged: ClassGroup | None,
) -> tuple[str, str]:
    """Where the student was when it hurt, and its name: the run, the sheet, the day, the log, or the student's page."""
    if logged is not None:
        return reverse("progress:class-log", args=[logged.pk]), _("Back to the log")
    if screening is None:
        return reverse("progress:student", args=[student.pk]), _("To the student")
    if measure is None:
        return reverse("progress:screening", args=[screening.pk]), _("Back to the screening")
    if "run" in request.GET and measure.is_runnable:
        way, words = ("run-one", _("Back to the run")) if "one" in request.GET else ("run", _("Back to the group"))
        return reverse(f"progress:{way}", args=[screening.pk, measure.key]), words
    return reverse("progress:sheet", args=[screening.pk, measure.key]), _("Back to the sheet")


def _reach_class_of(request: HttpRequest, student: Student, class_id: int) -> ClassGroup:
    """The class that is being logged, with this student in it; otherwise 404."""
    group = reach_class(request, class_id)
    if not group.enrolments.filter(student=student).exists():
        raise Http404
    return group


def _class_of(request: HttpRequest, student: Student) -> ClassGroup | None:
    """The class whose teacher acts: one of this person's own first, else the student's latest."""
    open_ones = student.enrolments.filter(left_on__isnull=True).select_related("class_group")
    own = open_ones.filter(class_group__in=reachable_classes(request.user)).first()
    enrolment = own or open_ones.first()
    return enrolment.class_group if enrolment else None


def reach_report(request: HttpRequest, report_id: int) -> PainReport:
    """A report about a student whom this person reaches; otherwise 404."""
    rows = PainReport.objects.select_related("student", "screening", "measure", "reported_by")
    report = get_object_or_404(rows, pk=report_id)
    reach_agreed_student(request, report.student_id, Consent.PAIN)
    return report


@require_GET
@only("measure")
def next_step(request: HttpRequest, report_id: int) -> HttpResponse:
    """What the teacher does now, right after the report and whenever the page is opened again."""
    report = reach_report(request, report_id)
    referred = referral_so_far(report)
    heading, sentence = pain.next_step(
        report.asks, referred=referred, is_ache=pain.is_expected_ache(as_report(report)), voice=voice_for(None)
    )
    is_stop = pain.is_stop_sign(report.asks)
    logged = _logged(request)
    is_mistake = was_mistake(report)
    if is_mistake:
        heading, sentence = _("Taken back."), _("Nobody has to do anything about it.")
    return show(request, "progress/barre/next_step.html", {
        "room": "classes", "report": report, "heading": heading, "sentence": sentence,
        "words": report_words(report), "effect": effect_words(report), "is_followed": report.follow_ups.exists(),
        "answer": report.answer, "referred": referred, "is_stop": is_stop,
        "may_take_back": report.reported_on == request.today and report.reported_by == request.user,
        "needs_first_aid": (is_stop or referred) and not is_mistake, "is_mistake": is_mistake,
        "way_back": _way_back(request, report.student, report.screening, report.measure, logged),
        "from_run": "run" in request.GET, "from_where": _from_where(request, logged), **home_context(report),
    })


@require_POST
@only("measure")
def take_back(request: HttpRequest, report_id: int) -> HttpResponse:
    """A mistaken tap: the report stays and says so."""
    report = reach_report(request, report_id)
    try:
        actions.take_back_report(report=report, by=request.user, on=request.today)
    except Refused as refused:
        messages.warning(request, str(refused))
    way = reverse("progress:pain-next-step", args=[report.pk])
    return redirect(way + _from_where(request, _logged(request)))


@require_GET
@only("measure")
def whose_pain(request: HttpRequest, screening_id: int | None = None, class_id: int | None = None) -> HttpResponse:
    """It hurts, of a whole class: a tablet keeps this one page, which then stands for that of any of its children."""
    screening = reach_screening(request, screening_id) if screening_id else None
    logged = None if screening else reach_class(request, class_id)
    group = screening.class_group if screening else logged
    route, where = ("report-pain", screening.pk) if screening else ("report-pain-in-class", group.pk)
    reach = set(reachable_students(request.user, today=request.today).values_list("pk", flat=True))
    here = students_of(screening) if screening else [
        each.student for each in barre_order(group, term_on(request.today), request.today)
    ]
    names = barre_names([student for student in here if student.pk in reach])
    noted = consented(names, Consent.PAIN, timezone.now())
    heading, sentence = pain.next_step(pain.STOP, referred="", voice=voice_for(None))
    form = PainForm()
    return show(request, "progress/barre/whose_pain.html", {
        "room": "classes", "student": {"first_name": "{name}"}, "screening": screening, "form": form,
        "key": new_key(), "chosen": [], **_choices(form), "heading": heading, "sentence": sentence,
        "way_back": _way_back(request, None, screening, None, logged),
        "children": [
            {"id": pk, "name": name, "hasNotes": pk in noted, "address": reverse(f"progress:{route}", args=[where, pk])}
            for pk, name in names.items()
        ],
    })
