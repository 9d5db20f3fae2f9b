"""The follow-up list: ordered by urgency, noted, handed over, closed with a note, taken back."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from progress.actions import follow_ups as actions
from progress.forms import CloseForm, HandOverForm, NoteForm
from progress.models import FollowUp
from progress.queries import follow_ups_in_reach
from progress.queries.follow_ups import follow_up_rows, grouped
from studio.actions import Refused
from studio.pages import show
from studio.permissions import only
from studio.queries import term_on

VIEWS = ("everyone", "mine", "closed")
# The closed list of a term is read to remember, not to search; this many rows are a year of a busy studio.
CLOSED_SHOWN = 200


def load_follow_up(request: HttpRequest, follow_up_id: int) -> FollowUp:
    """A follow-up about a student whom this person reaches; otherwise 404."""
    rows = follow_ups_in_reach(request.user, today=request.today).select_related("student", "measure", "acts")
    return get_object_or_404(rows, pk=follow_up_id)


def _list_context(request: HttpRequest) -> dict:
    view = request.GET.get("view") if request.GET.get("view") in VIEWS else "everyone"
    term = term_on(request.today)
    reach = follow_ups_in_reach(request.user, today=request.today)
    open_ones = reach.filter(closed_at__isnull=True)
    closed = reach.filter(closed_on__gte=term.starts_on) if term else reach.filter(closed_at__isnull=False)
    chosen = {"everyone": open_ones, "mine": open_ones.filter(acts=request.user), "closed": closed[:CLOSED_SHOWN]}[view]
    rows = follow_up_rows(chosen, term=term, today=request.today)
    open_rows = rows if view == "everyone" else []
    return {
        "room": "follow-ups", "view": view, "groups": grouped(rows), "total": len(rows),
        "open": open_ones.count(), "mine": open_ones.filter(acts=request.user).count(), "closed": closed.count(),
        "due_today": open_ones.filter(due_on=request.today).count(),
        "late": open_ones.filter(due_on__lt=request.today).count(), "rows": open_rows,
    }


@require_GET
def follow_ups(request: HttpRequest) -> HttpResponse:
    return show(request, "progress/follow_ups.html", _list_context(request))


def _one(request: HttpRequest, row: FollowUp, *, close_form=None, note_form=None, hand_over_form=None) -> HttpResponse:
    """One follow-up with its history and what can be done about it."""
    forms = [form for form in (close_form, note_form, hand_over_form) if form is not None]
    view = follow_up_rows(FollowUp.objects.filter(pk=row.pk), term=term_on(request.today), today=request.today)[0]
    context = {
        "room": "follow-ups", "row": view, "follow_up": view.follow_up,
        "close_form": close_form or CloseForm(follow_up=row), "note_form": note_form or NoteForm(auto_id="note_%s"),
        "hand_over_form": hand_over_form
        or HandOverForm(follow_up=row, today=request.today, initial={"acts": row.acts, "due_on": row.due_on}),
    }
    return show(request, "progress/follow_up.html", context, status=422 if any(f.errors for f in forms) else 200)


@require_GET
def follow_up(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    return _one(request, load_follow_up(request, follow_up_id))


@require_POST
@only("follow_up")
def add_note(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    row = load_follow_up(request, follow_up_id)
    form = NoteForm(request.POST, auto_id="note_%s")
    if not form.is_valid():
        return _one(request, row, note_form=form)
    actions.add_note(follow_up=row, text=form.cleaned_data["text"], by=request.user)
    return redirect("progress:follow-up", follow_up_id=row.pk)


@require_http_methods(["GET", "POST"])
@only("follow_up")
def close(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    """The closing sheet; for htmx it opens in the row of the list."""
    row = load_follow_up(request, follow_up_id)
    form = CloseForm(request.POST or None, follow_up=row)
    if request.method == "POST" and form.is_valid():
        try:
            actions.close_follow_up(
                follow_up=row, note=form.cleaned_data["text"], answer=form.cleaned_data.get("answer", ""),
                seen=form.cleaned_data["seen"] or 0, closed_on=request.today, by=request.user,
            )
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, _("Closed: %(name)s.") % {"name": row.student})
            return redirect("progress:follow-ups")
    if request.htmx:
        return show(
            request, "progress/follow_up.html", {"follow_up": row, "close_form": form},
            part="progress/_closing.html", status=422 if form.errors else 200,
        )
    return _one(request, row, close_form=form)


@require_POST
@only("follow_up")
def reopen(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    row = load_follow_up(request, follow_up_id)
    try:
        row = actions.reopen_follow_up(follow_up=row, by=request.user)
        messages.success(request, _("It is open again."))
    except Refused as refused:
        messages.warning(request, str(refused))
    return redirect("progress:follow-up", follow_up_id=row.pk)


@require_POST
@only("follow_up")
def hand_over(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    row = load_follow_up(request, follow_up_id)
    form = HandOverForm(request.POST, follow_up=row, today=request.today)
    if not form.is_valid():
        return _one(request, row, hand_over_form=form)
    cleaned = form.cleaned_data
    try:
        actions.hand_over(follow_up=row, acts=cleaned["acts"], due_on=cleaned["due_on"], by=request.user)
    except Refused as refused:
        messages.warning(request, str(refused))
    return redirect("progress:follow-up", follow_up_id=row.pk)
