"""Bringing in past results: the file, the preview with its questions and ticks, the writing of large files."""
from django.contrib import messages
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from progress.actions import past_results as actions
from progress.actions.imports import import_results
from progress.forms import ResultsFileForm
from progress.queries.past_results import writing_view
from screening.models import Measure
from screening.results_check import AT_CAP, BESIDE, ResultsCheck, check_draft, guessed_columns, open_results
from screening.results_file import FIELDS
from studio.audit.marks import mark_class, mark_students
from studio.models import ImportDraft, KeptImport, Studio
from studio.pages import key_from, show
from studio.permissions import only
from studio.sheet_file import Sheet
from studio.views.imports import (
    OUTCOMES,
    answer_columns,
    answer_sheet,
    brought,
    column_choices,
    confirm_refused,
    is_gone,
    only_class,
    reach_draft,
    tell_left_out,
    what_first,
)

FIELD_WORDS = {
    "student": gettext_lazy("student"), "measure": gettext_lazy("measure"), "side": gettext_lazy("side"),
    "attempt": gettext_lazy("try"), "value": gettext_lazy("value"), "date": gettext_lazy("date"),
    "birth_on": gettext_lazy("birth date"), "class_name": gettext_lazy("class"),
    "assessor": gettext_lazy("measured by"), "protocol": gettext_lazy("protocol"),
    "capped": gettext_lazy("reached the limit"),
}
# Rows of a preview shown at once. Our choice.
ROWS_A_PAGE = 200


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


def first_measure() -> str:
    """What the examples of layouts are written with."""
    measure = Measure.objects.first()
    return _(measure.short_name) if measure else ""


def answer_questions(draft: ImportDraft, posted: QueryDict) -> None:
    """Takes in how values above a cap are kept, and who is meant by a name; saved with the columns."""
    caps = {
        name.removeprefix("cap-"): answer for name, answer in posted.items()
        if name.startswith("cap-") and answer in (BESIDE, AT_CAP)
    }
    names = {name.removeprefix("who-"): answer for name, answer in posted.items() if name.startswith("who-")}
    draft.answers["caps"] = draft.answers.get("caps", {}) | caps
    draft.answers["names"] = draft.answers.get("names", {}) | names


def answer_ticks(draft: ImportDraft, check: ResultsCheck, posted: QueryDict) -> None:
    """Takes in which rows of the page that was shown are left out, or that all or none of the file's rows are."""
    left = set(draft.answers.get("left", ()))
    if posted.get("every") in ("take", "leave"):
        left = {row.at for row in check.plan if row.has_tick} if posted["every"] == "leave" else set()
    elif "shown" in posted:
        places = {at for text in posted["shown"].split(",") if (at := key_from(text)) is not None}
        shown = {row.at for row in check.plan if row.has_tick} & places
        taken = {at for text in posted.getlist("take") if (at := key_from(text)) is not None}
        left = left - shown | shown - taken
    draft.answers["left"] = sorted(left)
    draft.save(update_fields=["answers"])


@require_http_methods(["GET", "POST"])
@only("import_files")
def check_results(request: HttpRequest, draft_id: int) -> HttpResponse:
    draft = reach_draft(request, draft_id, "results")
    if draft.kept_id is not None:
        return redirect("progress:writing-results", import_id=draft.kept_id)
    if request.method == "POST":
        page = key_from(request.POST.get("page", "")) or 1
        answer_questions(draft, request.POST)
        if answer_sheet(draft, request.POST, lambda wanted: guessed_columns(_opened(draft, wanted))):
            draft.answers["left"] = []
            draft.save(update_fields=["answers"])
        else:
            answer_columns(draft, request.POST, FIELDS)
            answer_ticks(draft, check_draft(draft, today=request.today)[0], request.POST)
        return redirect(f"{request.path}?page={page}#rows" if page > 1 else request.path)
    check, class_group = check_draft(draft, today=request.today)
    if class_group is not None:
        mark_class(request, class_group.pk)
    mark_students(request, {row.student.pk for row in check.plan if row.student})
    return show(request, "progress/office/check_results.html", {
        "room": "office", "draft": draft, "check": check, "class_group": class_group,
        "columns": column_choices(check.sheet, check.columns, FIELDS, FIELD_WORDS), "words": FIELD_WORDS,
        "first_measure": first_measure(), "outcomes": OUTCOMES,
        "first": what_first(check, may_bring=check.may_confirm),
        "page": Paginator(check.questions_first, ROWS_A_PAGE).get_page(request.GET.get("page")),
    })


def _opened(draft: ImportDraft, wanted: str) -> Sheet:
    return open_results(bytes(draft.content), draft.filename, wanted)


@require_POST
@only("import_files")
def confirm_results(request: HttpRequest, draft_id: int) -> HttpResponse:
    """Writes exactly the ticked rows of the preview that was seen: at once, or many of them in the background."""
    with transaction.atomic():
        Studio.objects.select_for_update().get(pk=1)
        if is_gone(request, draft_id):
            return redirect("studio:office")
        draft = reach_draft(request, draft_id, "results")
        if draft.kept_id is not None:
            return redirect("progress:writing-results", import_id=draft.kept_id)
        check, class_group = check_draft(draft, today=request.today)
        if check.digest != request.POST.get("digest") or not check.may_answer:
            return confirm_refused(request, draft, "progress:check-results")
        answer_ticks(draft, check, request.POST)
        check, class_group = check_draft(draft, today=request.today)
        if not check.may_confirm:
            messages.warning(request, _("No ticked row would change anything. Nothing was written."))
            return redirect("progress:check-results", draft_id=draft.pk)
        if check.counts["add"] + check.counts["change"] > actions.WRITTEN_AT_ONCE:
            kept = actions.order_results(check=check, draft=draft, class_group=class_group, by=request.user)
            return redirect("progress:writing-results", import_id=kept.pk)
        kept = import_results(
            check=check, filename=draft.filename, class_group=class_group, by=request.user,
            learned_on=request.today, draft=draft)
    messages.success(request, _("The results are in: %(add)s new, %(change)s changed.") % check.counts)
    tell_left_out(request, kept)
    return redirect("progress:class-sheet", class_id=class_group.pk)


@require_GET
@only("import_files")
def writing(request: HttpRequest, import_id: int) -> HttpResponse:
    """How far the writing of a large file is; the page may be left."""
    kept = get_object_or_404(KeptImport.objects.select_related("class_group", "by"), pk=import_id)
    context = {"room": "office", "view": writing_view(kept, now=request.now)}
    return show(request, "progress/office/writing_results.html", context, part="progress/office/_writing_results.html")


@require_POST
@only("import_files")
def go_on(request: HttpRequest, import_id: int) -> HttpResponse:
    kept = get_object_or_404(KeptImport, pk=import_id)
    actions.go_on(kept=kept, by=request.user)
    return redirect("progress:writing-results", import_id=kept.pk)
