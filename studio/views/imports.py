"""Bringing a roster in from a spreadsheet: the file, the preview, the questions."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods

from studio import actions, queries
from studio.forms import RosterFileForm
from studio.models import ClassGroup, ImportDraft, Term
from studio.pages import key_from, show
from studio.permissions import only
from studio.roster_check import UnreadableFile, check_draft, guessed_columns, open_roster
from studio.roster_file import FIELDS

FIELD_WORDS = {
    "name": gettext_lazy("name"), "given_name": gettext_lazy("first name"), "family_name": gettext_lazy("family name"),
    "called": gettext_lazy("called"), "birth_on": gettext_lazy("birth date"), "stage": gettext_lazy("stage"),
    "training_since_year": gettext_lazy("in training since"), "classes_per_week": gettext_lazy("classes a week"),
    "dominant_foot": gettext_lazy("dominant foot"), "guardian_name": gettext_lazy("guardian"),
    "guardian_email": gettext_lazy("guardian’s e-mail"), "guardian_phone": gettext_lazy("guardian’s phone"),
    "class_name": gettext_lazy("class"), "guardian": gettext_lazy("guardian"), "class": gettext_lazy("class"),
}


def is_gone(request: HttpRequest, draft_id: int) -> bool:
    """True where a preview was confirmed or thrown away already, as after a double click; the person is told."""
    if ImportDraft.objects.filter(pk=draft_id).exists():
        return False
    messages.info(request, _("This preview is no longer there: it was written already, or thrown away after a day."))
    return True


def load_draft(request: HttpRequest, draft_id: int, kind: str) -> ImportDraft:
    """A draft that this person brought in herself; otherwise 404."""
    return get_object_or_404(ImportDraft, pk=draft_id, kind=kind, by=request.user)


@require_http_methods(["GET", "POST"])
@only("import_files")
def bring_roster(request: HttpRequest) -> HttpResponse:
    initial = {"term": queries.term_on(request.today), "class_group": request.GET.get("class")}
    form = RosterFileForm(request.POST or None, request.FILES or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        upload = form.cleaned_data["file"]
        content = upload.read()
        try:
            sheet = open_roster(content, upload.name)
        except UnreadableFile as problem:
            form.add_error("file", problem.text(_))
        else:
            draft = actions.keep_draft(
                kind="roster", filename=upload.name, content=content, by=request.user,
                answers={
                    "class_group": form.cleaned_data["class_group"].pk, "term": form.cleaned_data["term"].pk,
                    "columns": guessed_columns(sheet), "order": "",
                },
            )
            return redirect("studio:check-roster", draft_id=draft.pk)
    context = {
        "room": "office", "form": form,
        "lacking": not ClassGroup.objects.exists() or not Term.objects.exists(),
    }
    return show(request, "studio/bring_roster.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@only("import_files")
def check_roster(request: HttpRequest, draft_id: int) -> HttpResponse:
    """The preview; a POST takes other columns or the order of the dates and shows it again."""
    draft = load_draft(request, draft_id, "roster")
    if request.method == "POST":
        answer_columns(draft, request.POST, FIELDS)
        return redirect("studio:check-roster", draft_id=draft.pk)
    check, class_group, term = check_draft(draft, today=request.today)
    return show(request, "studio/check_roster.html", {
        "room": "office", "draft": draft, "check": check, "class_group": class_group, "term": term,
        "columns": column_choices(check.sheet, check.columns, FIELDS, FIELD_WORDS), "words": FIELD_WORDS,
    })


def answer_columns(draft: ImportDraft, posted, fields) -> None:
    """Keeps the columns and the date order that were chosen on the page."""
    columns = {
        str(index): value for name, value in posted.items()
        if name.startswith("column-") and value in fields
        and (index := key_from(name.removeprefix("column-"))) is not None
    }
    if any(name.startswith("column-") for name in posted):
        draft.answers["columns"] = columns
    if posted.get("order") in ("day_first", "month_first"):
        draft.answers["order"] = posted["order"]
    draft.save(update_fields=["answers"])


def column_choices(sheet, columns, fields, words) -> list[dict]:
    """Each column with its heading, first cells and what it is taken for."""
    return [
        {
            "index": index, "heading": heading, "chosen": columns.get(index, ""),
            "examples": [row.cells[index] for row in sheet.rows[:3] if row.cells[index:index + 1] != ("",)][:2],
            "options": [(field, words[field]) for field in fields],
        }
        for index, heading in enumerate(sheet.headings)
    ]


def confirm_refused(request: HttpRequest, draft: ImportDraft, room: str) -> HttpResponse:
    """The facts changed between preview and confirmation: nothing is written, the new preview is shown."""
    messages.warning(request, _("The studio changed since this preview. Nothing is written yet: look once more."))
    return redirect(room, draft_id=draft.pk)
