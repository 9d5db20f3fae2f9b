"""The follow-up list: ordered by urgency, noted, handed over, closed with a note, taken back."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from progress.actions import answering
from progress.actions import follow_ups as actions
from progress.actions.returning import current_step
from progress.forms import CloseForm, HandOverForm, NoteForm
from progress.forms.pain import AnswerForm
from progress.models import FollowUp
from progress.queries import follow_ups_in_reach
from progress.queries.follow_ups import RUST, follow_up_rows, grouped, reported_words
from progress.queries.pain import answer_words, referral_of_follow_up, referral_words, settles_from, was_mistake
from progress.queries.places import places_told
from progress.queries.resting import ladder_in_force
from progress.views.ring_home import home_context
from studio.actions import Refused
from studio.audit.marks import mark_students
from studio.pages import show
from studio.permissions import may, only, password_page, proved_lately, visit_may
from studio.queries import term_on

VIEWS = ("everyone", "mine", "closed")
# The closed list of a term is read to remember, not to search; this many rows are a year of a busy studio.
CLOSED_SHOWN = 200


def reach_follow_up(request: HttpRequest, follow_up_id: int) -> FollowUp:
    """A follow-up about a student whom this person reaches; otherwise 404."""
    rows = follow_ups_in_reach(request.user, today=request.today, now=request.now).select_related(
        "student", "measure", "acts"
    )
    found = get_object_or_404(rows, pk=follow_up_id)
    mark_students(request, [found.student_id])
    return found


def _list_context(request: HttpRequest) -> dict:
    view = request.GET.get("view") if request.GET.get("view") in VIEWS else "everyone"
    term = term_on(request.today)
    reach = follow_ups_in_reach(request.user, today=request.today, now=request.now)
    open_ones = reach.filter(closed_at__isnull=True)
    closed = reach.filter(closed_on__gte=term.starts_on) if term else reach.filter(closed_at__isnull=False)
    chosen = {"everyone": open_ones, "mine": open_ones.filter(acts=request.user), "closed": closed[:CLOSED_SHOWN]}[view]
    rows = follow_up_rows(chosen, term=term, today=request.today, with_home=True, now=request.now)
    mark_students(request, [row.follow_up.student_id for row in rows])
    open_rows = rows if view == "everyone" else []
    return {
        "room": "follow-ups", "view": view, "groups": grouped(rows), "urgent": RUST, "total": len(rows),
        "open": open_ones.count(), "mine": open_ones.filter(acts=request.user).count(), "closed": closed.count(),
        "due_today": open_ones.filter(due_on=request.today).count(),
        "late": open_ones.filter(due_on__lt=request.today).count(), "rows": open_rows,
    }


@require_GET
def follow_ups(request: HttpRequest) -> HttpResponse:
    return show(request, "progress/follow_ups.html", _list_context(request))


def _close_form(request: HttpRequest, row: FollowUp) -> CloseForm:
    data = request.POST if request.method == "POST" and request.resolver_match.url_name == "close-follow-up" else None
    if not row.is_about_pain:
        return CloseForm(data)
    return AnswerForm(
        data, follow_up=row, referred=referral_of_follow_up(row), ladder=ladder_in_force(),
        may_overrule=_may_overrule(request), settles_from=settles_from(row), today=request.today,
        now=current_step(row.student),
    )


def _may_overrule(request: HttpRequest) -> bool:
    """Not in a visit that a PIN began, nor by a page left open: it takes the password, typed a short while ago."""
    return visit_may(request, "overrule_referral") and proved_lately(request)


def _why_referred(request: HttpRequest, row: FollowUp) -> str:
    """Why a health professional should see it, and what this person needs to close it; "" where nothing is asked."""
    why = referral_words(referral_of_follow_up(row))
    if not why:
        return ""
    if _may_overrule(request):
        closes = _("To close this you need a clinician’s clearance, or you give a reason.")
    elif visit_may(request, "overrule_referral"):
        closes = _("To close this you need a clinician’s clearance. To overrule that, type your password again first.")
    elif may(request.user, "overrule_referral"):
        closes = _(
            "To close this you need a clinician’s clearance. To overrule that, log in with your password, not the "
            "PIN."
        )
    else:
        closes = _("To close this you need a clinician’s clearance, or the owner gives a reason.")
    return _("A health professional should see it: %(why)s.") % {"why": why} + " " + closes


def _password_page(request: HttpRequest, row: FollowUp) -> str:
    """Where the owner types the password again to overrule a referral; "" where that is not what is missing."""
    asks = visit_may(request, "overrule_referral") and not proved_lately(request)
    return password_page(request, back=reverse("progress:follow-up", args=[row.pk])) if asks else ""


def _one(request: HttpRequest, row: FollowUp, *, close_form=None, note_form=None, hand_over_form=None) -> HttpResponse:
    """One follow-up with its history and what can be done about it."""
    view = follow_up_rows(
        FollowUp.objects.filter(pk=row.pk), term=term_on(request.today), today=request.today, now=request.now
    )[0]
    reports = [report for report in view.follow_up.pain_reports.all() if not was_mistake(report)]
    home = home_context(reports[0], all_reports=reports) if reports else {}
    return show(request, "progress/follow_up.html", {
        "room": "follow-ups", "row": view, "follow_up": view.follow_up, **home, "from_follow_up": True,
        "close_form": close_form or _close_form(request, row), "note_form": note_form or NoteForm(auto_id="note_%s"),
        "hand_over_form": hand_over_form
        or HandOverForm(follow_up=row, today=request.today, initial={"acts": row.acts, "due_on": row.due_on}),
        "ladder": ladder_in_force(), "why_referred": _why_referred(request, row), "places": places_told(reports),
        "password_page": _password_page(request, row),
        "reports": [
            (report, reported_words(report), answer_words(report.answer) if report.answer else "")
            for report in view.follow_up.pain_reports.all()
        ],
    })


@require_GET
def follow_up(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    return _one(request, reach_follow_up(request, follow_up_id))


@require_POST
@only("follow_up")
def add_note(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    row = reach_follow_up(request, follow_up_id)
    form = NoteForm(request.POST, auto_id="note_%s")
    if not form.is_valid():
        return _one(request, row, note_form=form)
    actions.add_note(follow_up=row, text=form.cleaned_data["text"], by=request.user)
    return redirect("progress:follow-up", follow_up_id=row.pk)


@require_http_methods(["GET", "POST"])
@only("follow_up")
def close(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    """The closing sheet; for htmx it opens in the row of the list."""
    row = reach_follow_up(request, follow_up_id)
    form = _close_form(request, row)
    if request.method == "POST" and form.is_valid():
        try:
            _close(request, row, form.cleaned_data)
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, _("Closed: %(name)s.") % {"name": row.student})
            return redirect("progress:follow-ups")
    if request.htmx:
        return show(request, "progress/follow_up.html", {
            "follow_up": row, "close_form": form, "ladder": ladder_in_force(),
            "why_referred": _why_referred(request, row), "password_page": _password_page(request, row),
        }, part="progress/_closing.html")
    return _one(request, row, close_form=form)


def _close(request: HttpRequest, row: FollowUp, typed: dict) -> None:
    if not row.is_about_pain:
        actions.close_follow_up(follow_up=row, note=typed["text"], closed_on=request.today, by=request.user)
        return
    answer = answering.Answer(
        kind=typed["answer"], note=typed["text"], step=typed["step"], said_by=typed["said_by"],
        said_on=typed["said_on"], allowed=typed["allowed"], allows=typed["allows"], until_on=typed["until_on"],
        see_again_on=typed["see_again_on"],
    )
    answering.answer_pain(
        follow_up=row, answer=answer, seen=typed["seen"] or 0, closed_on=request.today, by=request.user,
        by_pin=not _may_overrule(request),
    )


@require_POST
@only("follow_up")
def reopen(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    """A closing taken back; about pain, with the reason why its answer does not stand."""
    row = reach_follow_up(request, follow_up_id)
    try:
        if row.is_about_pain:
            why = request.POST.get("text", "")[:2000]
            row = answering.reopen_pain(follow_up=row, why=why, on=request.today, by=request.user)
        else:
            row = actions.reopen_follow_up(follow_up=row, on=request.today, by=request.user)
        messages.success(request, _("It is open again."))
    except Refused as refused:
        messages.warning(request, str(refused))
    return redirect("progress:follow-up", follow_up_id=row.pk)


@require_POST
@only("follow_up")
def hand_over(request: HttpRequest, follow_up_id: int) -> HttpResponse:
    row = reach_follow_up(request, follow_up_id)
    form = HandOverForm(request.POST, follow_up=row, today=request.today)
    if not form.is_valid():
        return _one(request, row, hand_over_form=form)
    cleaned = form.cleaned_data
    try:
        actions.hand_over(
            follow_up=row, acts=cleaned["acts"], due_on=cleaned["due_on"], why=cleaned["why"], by=request.user
        )
    except Refused as refused:
        form.add_error("why", str(refused))
        return _one(request, row, hand_over_form=form)
    return redirect("progress:follow-up", follow_up_id=row.pk)
