"""Entries of a sheet: recorded, missing, taken back; answered with the page, or in JSON to a tablet's outbox."""
import uuid as uuids
from dataclasses import replace

from django.contrib import messages
from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from progress.actions import measuring
from progress.actions.day import ClassDay
from progress.actions.day import take_back as take_back_tap
from progress.queries.barre import news as queries
from progress.queries.barre.out import out_of
from progress.views.barre.sheet import reach_sheet, sheet_page, students_in_reach
from screening.actions import Entry
from screening.forms import MissingForm, ResultForm, TakeBackForm
from screening.models import Measure, Protocol, Result, Screening
from studio.actions import Refused
from studio.ledger import Conflict
from studio.models import Student
from studio.pages import is_from_outbox, kept, key_from, moment_of_tap, refused
from studio.permissions import only, reach_student


class Unknown(Refused):
    """An entry speaks of another one that is not here."""


@require_POST
@only("measure")
def record(request: HttpRequest, screening_id: int, measure_key: str) -> HttpResponse:
    """One entry: kept and shown as kept, asked back, or refused with what was typed still there."""
    opened, measure = reach_sheet(request, screening_id, measure_key)
    protocol = _protocol_seen(request, measure)
    if protocol is None:
        return _unreadable(request, opened, measure)
    form = ResultForm(request.POST, measure=measure, protocol=protocol)
    form.is_valid()
    if form.errors.keys() & {"student", "key", "side", "corrects_key"}:
        return _unreadable(request, opened, measure)
    student, status = reach_student(request, form.cleaned_data["student"]), 422
    if form.is_valid():
        try:
            return _stored(request, opened, measure, [_keep(request, form, opened, student, measure)])
        except measuring.ShouldRest as rests:
            return _asks_rest(request, form, opened, measure, rests)
        except Refused as no:
            form.add_error("value", str(no))
        except Conflict:
            status = 409
            form.add_error("value", _(
                "This was sent before with another value. The first one stays. Please look again."
            ))
    if is_from_outbox(request):
        return _refused(form, opened, measure, status)
    return sheet_page(request, opened, measure, form=form)


def _asks_rest(
    request: HttpRequest, form: ResultForm, opened: Screening, measure: Measure, rests: measuring.ShouldRest
) -> HttpResponse:
    """Somebody who should rest was measured: the reasons that may be given stand beside the value, which stays."""
    if is_from_outbox(request):
        return refused(str(rests), asks_rest=bool(rests.reasons), reasons=rests.reasons)
    form.add_error("value", str(rests))
    form.despite = rests.reasons
    return sheet_page(request, opened, measure, form=form)


def _protocol_seen(request: HttpRequest, measure: Measure) -> Protocol | None:
    """The version on the page that was tapped, which may have been kept for hours; the latest where none is named."""
    named, versions = request.POST.get("protocol", ""), {each.version: each for each in measure.protocols.all()}
    return versions.get(key_from(named) if named else max(versions, default=None))


def _keep(request: HttpRequest, form: ResultForm, opened: Screening, student: Student, measure: Measure) -> Result:
    cleaned, entry = form.cleaned_data, replace(form.entry, tapped_at=moment_of_tap(request))
    if cleaned["corrects_key"]:
        before = _entry(request, opened, measure, cleaned["corrects_key"])
        if (before.student_id, before.side) != (student.pk, cleaned["side"]):
            raise Http404
        return measuring.correct_result(key=cleaned["key"], result=before, entry=entry, by=request.user)
    return measuring.record_result(
        key=cleaned["key"], screening=opened, student=student, measure=measure, side=cleaned["side"],
        entry=entry, by=request.user,
    )


def _entry(request: HttpRequest, opened: Screening, measure: Measure, key: uuids.UUID) -> Result:
    """An entry of this sheet by its tablet's key; 404 where it is another sheet's or out of reach."""
    entry = Result.objects.filter(key=key).select_related("student", "screening", "measure", "protocol").first()
    if entry is None:
        raise Unknown(_("The entry that this one changes is not here."))
    reach_student(request, entry.student_id)
    if (entry.screening_id, entry.measure_id) != (opened.pk, measure.pk):
        raise Http404
    return entry


@require_POST
@only("measure")
def record_missing(request: HttpRequest, screening_id: int, measure_key: str) -> HttpResponse:
    """Why a child is not tested in this measure, for every side that has nothing yet."""
    opened, measure = reach_sheet(request, screening_id, measure_key)
    form = MissingForm(request.POST)
    if not form.is_valid():
        return _unreadable(request, opened, measure)
    student = reach_student(request, form.cleaned_data["student"])
    entry = Entry(reason_missing=form.cleaned_data["reason"], tapped_at=moment_of_tap(request))
    answer = _try(request, opened, measure, lambda: measuring.record_missing(
        key=form.cleaned_data["key"], screening=opened, student=student, measure=measure, entry=entry, by=request.user,
    ))
    if entry.reason_missing == Result.PAIN and not is_from_outbox(request):
        # The word alone asks for nothing: where and how it hurts is asked next.
        way = reverse("progress:report-pain", args=[opened.pk, student.pk])
        return redirect(f"{way}?measure={measure.key}")
    return answer


@require_POST
@only("measure")
def take_back(request: HttpRequest, screening_id: int, measure_key: str) -> HttpResponse:
    """Undo of one entry: a first entry is withdrawn, a correction gives way to what stood before."""
    opened, measure = reach_sheet(request, screening_id, measure_key)
    form = TakeBackForm(request.POST)
    if not form.is_valid():
        return _unreadable(request, opened, measure)
    return _try(request, opened, measure, lambda: _take_back(request, opened, measure, **form.cleaned_data))


def _take_back(request: HttpRequest, opened: Screening, measure: Measure, *, key, of) -> list[Result]:
    """What stands since, the undoing first, then every row of the child's: a reason is taken back from both feet."""
    day, told = ClassDay.of(opened), Result.objects.filter(Q(key=of) | Q(origin=of)).select_related("screening").first()
    if told is None:
        raise Unknown(_("The entry that this one changes is not here."))
    student = reach_student(request, told.student_id)
    if ClassDay.of(told.screening) != day:
        raise Http404
    taken = take_back_tap(key=key, of=of, day=day, by=request.user, tapped_at=moment_of_tap(request))
    here = [row for row in taken if isinstance(row, Result) and (row.screening, row.measure) == (opened, measure)]
    return here + list(opened.results.filter(measure=measure, student=student).exclude(pk__in=[row.pk for row in here]))


def _try(request: HttpRequest, opened: Screening, measure: Measure, act) -> HttpResponse:
    """The answer to an entry that has no box of its own on the sheet to show a refusal in."""
    try:
        return _stored(request, opened, measure, act())
    except Refused as no:
        why, status = str(no), 422
    except Conflict:
        why, status = _("This was sent before with other contents. The first one stays. Please look again."), 409
    if is_from_outbox(request):
        return refused(why, status=status, **_ways_out(opened, measure, is_movable=False))
    messages.warning(request, why)
    return redirect("progress:sheet", screening_id=opened.pk, measure_key=measure.key)


def _stored(request: HttpRequest, opened: Screening, measure: Measure, rows: list[Result]) -> HttpResponse:
    if is_from_outbox(request):
        results = queries.told(rows)
        return kept(request, result=results[0] if results else None, results=results)
    return redirect("progress:sheet", screening_id=opened.pk, measure_key=measure.key)


def _unreadable(request: HttpRequest, opened: Screening, measure: Measure) -> HttpResponse:
    """A form that no page of ours sends."""
    if is_from_outbox(request):
        return refused(_("This entry cannot be read: something in it is missing or wrong."))
    return redirect("progress:sheet", screening_id=opened.pk, measure_key=measure.key)


def _refused(form: ResultForm, opened: Screening, measure: Measure, status: int) -> JsonResponse:
    why = " ".join(error for errors in form.errors.values() for error in errors)
    if status == 409:
        there = queries.told(Result.objects.filter(key=form.cleaned_data["key"]))
        return refused(why, status=status, result=there[0] if there else None)
    is_first = not form.cleaned_data.get("corrects_key")
    return refused(why, asks_back=bool(form.question), **_ways_out(opened, measure, is_movable=is_first))


def _ways_out(opened: Screening, measure: Measure, *, is_movable: bool) -> dict:
    """What a tablet may offer for an entry that came too late: open the day again, or another open day. Only a first
    result can move: a change of another entry, or a reason why there is none, belongs to its day."""
    if opened.is_open:
        return {}
    return queries.ways_out(opened, measure, is_movable=is_movable)


@require_GET
@only("measure")
def news(request: HttpRequest, screening_id: int, measure_key: str) -> HttpResponse:
    """Every result of the sheet and who is out, for the other tablets; 204 while nothing is new since the stamp."""
    opened, measure = reach_sheet(request, screening_id, measure_key)
    students = students_in_reach(request, opened)
    out = out_of(opened.class_group, students, opened.held_on, now=request.now)
    stamp = queries.stamp(opened, measure, out)
    if request.GET.get("seen") == stamp:
        return HttpResponse(status=204)
    results = queries.results_of(opened, measure, students, now=request.now)
    return JsonResponse({"stamp": stamp, "is_open": opened.is_open, "results": results, "out": out.told})
