"""Bringing a roster in from a spreadsheet: the file, the preview, the questions."""
from collections.abc import Callable

from django.contrib import messages
from django.forms import Form
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext
from django.views.decorators.http import require_GET, require_http_methods

from studio import actions, queries
from studio.audit.marks import mark_class, mark_students
from studio.file_check import FileCheck
from studio.forms import RosterFileForm
from studio.models import ClassGroup, ImportDraft, KeptImport, Term
from studio.pages import key_from, show
from studio.permissions import only
from studio.roster_check import RosterCheck, check_draft, guessed_columns, open_roster
from studio.roster_file import FIELDS
from studio.roster_plan import BOTH, IS, LEAVE, MOVE, TAKE
from studio.sheet_file import ALL, Sheet, UnreadableFile
from studio.sheets.rows_left_out import XLSX, rows_left_out

FIELD_WORDS = {
    "name": gettext_lazy("name"), "given_name": gettext_lazy("first name"), "family_name": gettext_lazy("family name"),
    "called": gettext_lazy("known as"), "birth_on": gettext_lazy("birth date"), "stage": gettext_lazy("stage"),
    "training_since_year": gettext_lazy("in training since"), "classes_per_week": gettext_lazy("classes a week"),
    "dominant_foot": gettext_lazy("dominant foot"), "guardian_name": gettext_lazy("guardian"),
    "guardian_email": gettext_lazy("guardian’s e-mail"), "guardian_phone": gettext_lazy("guardian’s phone"),
    "second_guardian_name": gettext_lazy("second guardian"),
    "second_guardian_email": gettext_lazy("second guardian’s e-mail"),
    "second_guardian_phone": gettext_lazy("second guardian’s phone"),
    "class_name": gettext_lazy("class"), "guardian": gettext_lazy("guardian"), "class": gettext_lazy("class"),
}

# What a row of the file would do, on every preview.
OUTCOMES = {
    "add": gettext_lazy("new"), "change": gettext_lazy("changed"), "same": gettext_lazy("left alone"),
    "ask": gettext_lazy("your answer?"), "leave": gettext_lazy("left out"), "refuse": gettext_lazy("refused"),
}


def what_first(check: FileCheck, *, may_bring: bool) -> str:
    """What has to be said before rows come in; "" where they may, or where the file's own problems say it."""
    if may_bring:
        return ""
    if check.asks_order:
        return _("First say below which comes first in the dates.")
    if check.problems:
        return ""
    return _("First answer below.") if check.counts["ask"] else _("Nothing to bring in.")


def is_gone(request: HttpRequest, draft_id: int) -> bool:
    """True where a preview was confirmed or thrown away already, as after a double click; the person is told."""
    if ImportDraft.objects.filter(pk=draft_id).exists():
        return False
    messages.info(request, _("This preview is no longer there. It was brought in already, or thrown away after a day."))
    return True


def reach_draft(request: HttpRequest, draft_id: int, kind: str) -> ImportDraft:
    """A draft that this person brought in; otherwise 404."""
    return get_object_or_404(ImportDraft, pk=draft_id, kind=kind, by=request.user)


def only_class() -> int | None:
    """Where there is one class only, nobody has to say which."""
    classes = ClassGroup.objects.values_list("pk", flat=True)[:2]
    return classes[0] if len(classes) == 1 else None


def brought(
    request: HttpRequest, form: Form, kind: str, opened: Callable[[bytes, str], Sheet],
    guess: Callable[[Sheet], dict[int, str]],
) -> ImportDraft | None:
    """The draft of a file that was sent with what was chosen beside it; None where there is none or it is no table."""
    if request.method != "POST" or not form.is_valid():
        return None
    chosen = dict(form.cleaned_data)
    upload = chosen.pop("file")
    content = upload.read()
    try:
        columns = guess(opened(content, upload.name))
    except UnreadableFile as problem:
        form.add_error("file", problem.text(_))
        return None
    answers = {name: row.pk for name, row in chosen.items()} | {"columns": columns, "order": ""}
    return actions.keep_draft(kind=kind, filename=upload.name, content=content, by=request.user, answers=answers)


@require_http_methods(["GET", "POST"])
@only("import_files")
def bring_roster(request: HttpRequest) -> HttpResponse:
    initial = {"term": queries.term_on(request.today), "class_group": request.GET.get("class") or only_class()}
    form = RosterFileForm(request.POST or None, request.FILES or None, initial=initial)
    if draft := brought(request, form, "roster", open_roster, guessed_columns):
        return redirect("studio:check-roster", draft_id=draft.pk)
    return show(request, "studio/bring_roster.html", {
        "room": "office", "form": form,
        "lacking": not ClassGroup.objects.exists() or not Term.objects.exists(),
    })


@require_http_methods(["GET", "POST"])
@only("import_files")
def check_roster(request: HttpRequest, draft_id: int) -> HttpResponse:
    """The preview; a POST takes other columns, the order of the dates or answers to rows and shows it again."""
    draft = reach_draft(request, draft_id, "roster")
    if request.method == "POST":
        answer_classes(draft, request.POST)
        if not answer_sheet(draft, request.POST, lambda wanted: guessed_columns(_opened(draft, wanted))):
            answer_columns(draft, request.POST, FIELDS)
        if "ticked" in request.POST:
            answer_rows(draft, check_draft(draft, today=request.today)[0], request.POST)
        return redirect("studio:check-roster", draft_id=draft.pk)
    check, class_group, term = check_draft(draft, today=request.today)
    mark_class(request, class_group.pk)
    # "is-12", or "is-12,move" where the class is asked, too.
    asked = (
        choice.key.removeprefix(IS).split(",")[0] for row in check.plan for choice in row.choices
        if choice.key.startswith(IS)
    )
    mark_students(request, [*(row.student_pk for row in check.plan if row.student_pk), *map(int, asked)])
    return show(request, "studio/check_roster.html", {
        "room": "office", "draft": draft, "check": check, "class_group": class_group, "term": term,
        "columns": column_choices(check.sheet, check.columns, FIELDS, FIELD_WORDS), "words": FIELD_WORDS,
        "outcomes": OUTCOMES, "first": what_first(check, may_bring=check.may_answer),
    })


def _opened(draft: ImportDraft, wanted: str) -> Sheet:
    return open_roster(bytes(draft.content), draft.filename, wanted)


def answer_sheet(draft: ImportDraft, posted: QueryDict, guess: Callable[[str], dict[int, str]]) -> bool:
    """Takes other sheets of the workbook where others were chosen: their columns are guessed, no row is answered."""
    wanted = posted.get("sheet")
    if wanted is None or wanted == draft.answers.get("sheet", ""):
        return False
    if wanted not in ("", ALL) and key_from(wanted) is None:
        return False
    try:
        columns = {str(index): name for index, name in guess(wanted).items()}
    except UnreadableFile:
        return False
    draft.answers |= {"sheet": wanted, "columns": columns, "rows": {}}
    draft.save(update_fields=["answers"])
    return True


def answer_classes(draft: ImportDraft, posted: QueryDict) -> None:
    """Takes in whether classes are made, students of another class move, and those whom the list lacks leave; saved
    with the columns."""
    if "asks_classes" in posted:
        draft.answers["makes_classes"] = "makes_classes" in posted
    if posted.get("second_class") in (MOVE, BOTH, ""):
        draft.answers["second_class"] = posted["second_class"]
    if posted.get("absent") in (LEAVE, ""):
        draft.answers["absent"] = posted["absent"]


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


def answer_rows(draft: ImportDraft, check: RosterCheck, posted: QueryDict) -> bool:
    """Keeps the ticks and answers of the preview that was shown; True where somebody was said to be somebody."""
    taken = {key for text in posted.getlist("take") if (key := key_from(text)) is not None}
    if posted.get("every") in ("take", "leave"):
        taken = {row.number for row in check.plan} if posted["every"] == "take" else set()
    said: dict[str, str] = {}
    before = draft.answers.get("rows", {})
    for row in check.plan:
        number, answer = str(row.number), posted.get(f"answer-{row.number}", "")
        kept = before.get(number, "")
        if answer in {choice.key for choice in row.choices}:
            said[number] = answer
        elif row.has_tick and row.number not in taken:
            if row.outcome != "ask" and (row.outcome != "leave" or kept == LEAVE):
                said[number] = LEAVE
        elif row.outcome == "leave":
            said[number] = TAKE
        elif kept and kept != LEAVE:
            said[number] = kept
    is_new = any(answer not in (LEAVE, TAKE) and before.get(number) != answer for number, answer in said.items())
    draft.answers["rows"] = said
    draft.save(update_fields=["answers"])
    return is_new


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
    messages.warning(request, _("The studio changed since this preview. Nothing is written yet. Look once more."))
    return redirect(room, draft_id=draft.pk)


def tell_left_out(request: HttpRequest, kept: KeptImport) -> None:
    """Says how many rows were not taken and where they are kept."""
    if kept.not_taken:
        words = ngettext(
            "%(n)s row was not taken. It is kept with the reason under Office, Files brought in.",
            "%(n)s rows were not taken. They are kept with the reasons under Office, Files brought in.", kept.not_taken,
        )
        messages.info(request, words % {"n": kept.not_taken})


@require_GET
@only("import_files")
def kept_imports(request: HttpRequest) -> HttpResponse:
    """Every file that was brought in: who, when, how many rows, and those that were not taken."""
    rows = KeptImport.objects.select_related("by", "undone_by", "class_group", "term")[:200]
    being_written = set(ImportDraft.objects.exclude(kept=None).values_list("kept", flat=True))
    context = {"room": "office", "rows": rows, "being_written": being_written}
    return show(request, "studio/kept_imports.html", context)


@require_GET
@only("import_files")
def rows_not_taken(request: HttpRequest, import_id: int) -> HttpResponse:
    """The rows of one file that were not taken, with the reasons, in the columns of the file."""
    kept = get_object_or_404(KeptImport, pk=import_id)
    content = rows_left_out(kept.headings, kept.left_out, heads=(_("row"), _("not taken because")))
    name = f"{slugify(kept.filename.rsplit('.', 1)[0]) or kept.kind}-not-taken.xlsx"
    return HttpResponse(content, content_type=XLSX, headers={"Content-Disposition": f'attachment; filename="{name}"'})
