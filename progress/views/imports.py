"""Confirming a roster, and bringing in past results: file, preview, questions, confirmation."""
from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST

from progress.actions import imports as actions
from progress.actions.undoing import undo_import
from progress.forms import ResultsFileForm
from screening.models import Measure
from screening.results_check import AT_CAP, BESIDE, guessed_columns, open_results
from screening.results_check import check_results as read_results
from screening.results_file import FIELDS
from studio.actions import Refused
from studio.models import ClassGroup, ImportDraft, KeptImport, Studio
from studio.pages import show
from studio.permissions import only
from studio.roster_check import check_draft
from studio.sheet_file import Sheet
from studio.views.imports import (
    answer_columns,
    answer_rows,
    answer_sheet,
    brought,
    column_choices,
    confirm_refused,
    is_gone,
    only_class,
    reach_draft,
    tell_left_out,
)

FIELD_WORDS = {
    "student": gettext_lazy("student"), "measure": gettext_lazy("measure"), "side": gettext_lazy("side"),
    "attempt": gettext_lazy("try"), "value": gettext_lazy("value"), "date": gettext_lazy("date"),
    "birth_on": gettext_lazy("birth date"), "class_name": gettext_lazy("class"),
    "assessor": gettext_lazy("measured by"), "protocol": gettext_lazy("protocol"),
    "capped": gettext_lazy("reached the limit"),
}


@require_POST
@only("import_files")
def confirm_roster(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Writes exactly the preview that was seen; if the studio changed meanwhile, shows the new one instead."""
    with transaction.atomic():
        Studio.objects.select_for_update().get(pk=1)
        if is_gone(request, draft_id):
            return redirect("studio:office")
        draft = reach_draft(request, draft_id, "roster")
        check, class_group, term = check_draft(draft, today=request.today)
        if check.digest != request.POST.get("digest") or not check.may_answer:
            return confirm_refused(request, draft, "studio:check-roster")
        if "ticked" in request.POST:
            if answer_rows(draft, check, request.POST):
                messages.info(request, _("Your answers are taken in. Look once more, then write it."))
                return redirect("studio:check-roster", draft_id=draft.pk)
            check, class_group, term = check_draft(draft, today=request.today)
        if not check.may_confirm:
            messages.warning(request, _("No row is ticked that would change anything. Nothing is written."))
            return redirect("studio:check-roster", draft_id=draft.pk)
        kept = actions.import_roster(
            check=check, filename=draft.filename, class_group=class_group, term=term, by=request.user, draft=draft)
    messages.success(request, _("The roster is in: %(add)s new, %(change)s changed.") % check.counts)
    tell_left_out(request, kept)
    return redirect("studio:class-roster", class_id=class_group.pk)


@require_http_methods(["GET", "POST"])
@only("import_files")
def bring_results(request: HttpRequest) -> HttpResponse:
    form = ResultsFileForm(request.POST or None, request.FILES or None, initial={"class_group": only_class()})
    if draft := brought(request, form, "results", open_results, guessed_columns):
        return redirect("progress:check-results", draft_id=draft.pk)
    measures = "; ".join(f"{measure} ({_(measure.short_name)})" for measure in Measure.objects.all())
    return show(request, "progress/office/bring_results.html", {
        "room": "office", "form": form, "measures": measures, "first_measure": first_measure(),
    })


def _opened(draft: ImportDraft, wanted: str) -> Sheet:
    return open_results(bytes(draft.content), draft.filename, wanted)


def _check(draft: ImportDraft, today):
    class_group = ClassGroup.objects.get(pk=draft.answers["class_group"])
    sheet = _opened(draft, draft.answers.get("sheet", ""))
    columns = {int(index): name for index, name in draft.answers["columns"].items()}
    check = read_results(
        sheet, columns=columns, order=draft.answers.get("order", ""), class_group=class_group, today=today,
        caps=draft.answers.get("caps", {}),
    )
    return check, class_group


def first_measure() -> str:
    """What the examples of layouts are written with."""
    measure = Measure.objects.first()
    return _(measure.short_name) if measure else ""


def answer_caps(draft: ImportDraft, posted: QueryDict) -> None:
    """Takes in how values above a cap are kept; saved with the columns."""
    said = {
        name.removeprefix("cap-"): answer for name, answer in posted.items()
        if name.startswith("cap-") and answer in (BESIDE, AT_CAP)
    }
    draft.answers["caps"] = draft.answers.get("caps", {}) | said


@require_http_methods(["GET", "POST"])
@only("import_files")
def check_results(request: HttpRequest, draft_id: int) -> HttpResponse:
    draft = reach_draft(request, draft_id, "results")
    if request.method == "POST":
        answer_caps(draft, request.POST)
        if not answer_sheet(draft, request.POST, lambda wanted: guessed_columns(_opened(draft, wanted))):
            answer_columns(draft, request.POST, FIELDS)
        return redirect("progress:check-results", draft_id=draft.pk)
    check, class_group = _check(draft, request.today)
    return show(request, "progress/office/check_results.html", {
        "room": "office", "draft": draft, "check": check, "class_group": class_group,
        "columns": column_choices(check.sheet, check.columns, FIELDS, FIELD_WORDS), "words": FIELD_WORDS,
        "first_measure": first_measure(),
    })


@require_POST
@only("import_files")
def confirm_results(request: HttpRequest, draft_id: int) -> HttpResponse:
    with transaction.atomic():
        Studio.objects.select_for_update().get(pk=1)
        if is_gone(request, draft_id):
            return redirect("studio:office")
        draft = reach_draft(request, draft_id, "results")
        check, class_group = _check(draft, request.today)
        if check.digest != request.POST.get("digest") or not check.may_confirm:
            return confirm_refused(request, draft, "progress:check-results")
        kept = actions.import_results(
            check=check, filename=draft.filename, class_group=class_group, by=request.user,
            learned_on=request.today, draft=draft)
    messages.success(request, _("The results are in: %(add)s new, %(change)s changed.") % check.counts)
    tell_left_out(request, kept)
    return redirect("progress:class-sheet", class_id=class_group.pk)


@require_POST
@only("import_files")
def take_back(request: HttpRequest, import_id: int) -> HttpResponse:
    """Takes a whole file back, or says on whom something hangs."""
    kept = get_object_or_404(KeptImport, pk=import_id)
    try:
        undo_import(kept=kept, by=request.user)
    except Refused as reason:
        messages.warning(request, str(reason))
    else:
        messages.success(request, _("%(file)s is taken back, as if it had never come.") % {"file": kept.filename})
    return redirect("studio:kept-imports")
