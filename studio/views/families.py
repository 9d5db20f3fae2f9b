"""What families agreed to, and their cards: recorded and made by the staff; a link is shown in one answer only."""
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from studio import queries as studio_queries
from studio.actions import Refused
from studio.audit.marks import mark_students
from studio.family import actions, cards, mail, queries
from studio.family.forms import ClassConsentForm, ConsentForm, FamilyAddressForm
from studio.family.forms_to_sign import forms_to_sign, language_of
from studio.models import Consent, Guardian
from studio.pages import show
from studio.permissions import only, reach_class, reach_student, visit_may

PAPERS = {"a4": "A4", "letter": "Letter"}


def _card_address(request: HttpRequest, token: str) -> str:
    """Where a link leads: the owner's address for families, else that of mails, else the one of this page."""
    path, known = reverse("studio:family-card", args=[token]), request.studio.family_address or settings.LINKS
    return known.rstrip("/") + path if known else request.build_absolute_uri(path)


def reaches_families(request: HttpRequest) -> bool:
    """False where the cards would carry an address that only this computer knows."""
    host = urlsplit(_card_address(request, "x")).hostname
    return host not in ("localhost", "127.0.0.1", "::1")


@require_http_methods(["GET", "POST"])
@only("edit_roster")
def families(request: HttpRequest, class_id: int) -> HttpResponse:
    """A class's consents at one glance, a pile of signed forms recorded at once; for the owner the links too."""
    group, term = reach_class(request, class_id), studio_queries.term_on(request.today)
    # Nothing is ticked before somebody has read what the forms say.
    form = ClassConsentForm(request.POST or None, today=request.today)
    rows = queries.class_families(group, term, at=timezone.now(), today=request.today)
    if request.method == "POST" and form.is_valid():
        _record_pile(request, form, rows)
        return redirect("studio:families", class_id=group.pk)
    return show(request, "studio/families.html", {
        "room": "classes", "class_group": group, "term": term, "rows": rows, "form": form, "scopes": Consent.SCOPES,
        "shows_links": visit_may(request, "run_office"), "reaches_families": reaches_families(request),
        "papers": PAPERS.items(), "chosen": _ticked(request, rows),
    })


def _ticked(request: HttpRequest, rows: list[queries.FamilyRow]) -> set[str]:
    """Who is ticked: as sent, else all, or all without an answer, where that was asked for."""
    if request.method == "POST":
        return set(request.POST.getlist("student"))
    asked = request.GET.get("tick", "")
    every = {scope for scope, _words in Consent.SCOPES}
    return {
        str(row.student.pk) for row in rows if asked == "all" or (asked == "open" and every - set(row.answered))
    }


def _record_pile(request: HttpRequest, form: ClassConsentForm, rows: list[queries.FamilyRow]) -> None:
    """Records one answer for all who are ticked; who signed is the guardian on record, or what was typed beside."""
    chosen = set(request.POST.getlist("student"))
    done = [row for row in rows if str(row.student.pk) in chosen]
    for row in done:
        alone = row.links[0].guardian.name if len(row.links) == 1 else _("whoever signed the form")
        actions.record_consent(
            student=row.student, scopes=form.cleaned_data["scopes"], is_given=form.is_given, at=form.at,
            said_by=request.POST.get(f"signed-{row.student.pk}", "").strip()[:120] or alone,
            way=form.cleaned_data["way"], by=request.user,
        )
    if done:
        messages.success(request, _("Recorded for %(n)s.") % {"n": len(done)})
    if not chosen:
        messages.warning(request, _("Tick the students whose forms have come back."))


@require_http_methods(["GET", "POST"])
@only("edit_roster")
def consents(request: HttpRequest, student_id: int) -> HttpResponse:
    """What was agreed for one student, every fact of it, and the next one."""
    student = reach_student(request, student_id)
    guardians = list(student.guardians.all())
    initial = {"said_by": guardians[0].name if len(guardians) == 1 else ""}
    form = ConsentForm(request.POST or None, today=request.today, initial=initial)
    if request.method == "POST" and form.is_valid():
        actions.record_consent(
            student=student, scopes=form.cleaned_data["scopes"], is_given=form.is_given, at=form.at,
            said_by=form.cleaned_data["said_by"], way=form.cleaned_data["way"], by=request.user,
        )
        messages.success(request, _("Recorded. It counts on every page from now on."))
        return redirect("studio:consents", student_id=student.pk)
    return show(request, "studio/consents.html", {
        "room": "classes", "student": student, "form": form, "states": queries.scope_states(student, timezone.now()),
        "facts": student.consents.select_related("recorded_by"), "mail_is_set_up": mail.is_set_up(),
        "links": queries.links_of(student, today=request.today) if visit_may(request, "run_office") else [],
    })


@require_GET
@only("edit_roster")
def consent_forms(request: HttpRequest, class_id: int) -> HttpResponse:
    """A form to sign for every student of the class, each in the family's language, one page each."""
    group, term = reach_class(request, class_id), studio_queries.term_on(request.today)
    sheets = forms_to_sign(
        group, term, studio=request.studio, today=request.today, only=request.GET.get("student", ""),
        language=request.GET.get("language", ""),
    )
    return show(request, "studio/consent_forms.html", {
        "sheets": sheets, "paper": _paper(request.GET.get("paper")), "class_group": group,
        "months": request.studio.months_kept,
    })


def _paper(asked: str | None) -> str:
    return asked if asked in PAPERS else "a4"


def _show_cards(request: HttpRequest, made: list[tuple[Guardian, str]], back: str) -> HttpResponse:
    """The cards of new links. Nobody can show them again, for only their hashes are kept."""
    shown = []
    for guardian, token in made:
        code = language_of([guardian], request.studio)
        key = guardian.keys.get(ended_at__isnull=True)
        with translation.override(code):
            shown.append(cards.card(
                guardian, _card_address(request, token), valid_until=key.valid_until, language=code
            ))
    return show(request, "studio/cards.html", {
        "cards": shown, "paper": _paper(request.POST.get("paper")), "back": back,
        "reaches_families": reaches_families(request),
    })


@require_POST
@only("run_office")
def make_cards(request: HttpRequest, class_id: int) -> HttpResponse:
    """A card for each guardian of the class who has none; a link that stands goes on through this term."""
    group, term = reach_class(request, class_id), studio_queries.term_on(request.today)
    rows = queries.class_families(group, term, at=timezone.now(), today=request.today)
    return _make_cards(request, rows, reverse("studio:families", args=[group.pk]))


@require_http_methods(["GET", "POST"])
@only("run_office")
def all_cards(request: HttpRequest) -> HttpResponse:
    """Who has no card, and why; cards for all who can have one, or all of them anew where the address changed."""
    term = studio_queries.term_on(request.today)
    rows = queries.all_families(term, at=timezone.now(), today=request.today)
    asked = request.POST if "family_address" in request.POST else None
    form = FamilyAddressForm(asked, instance=request.studio)
    if request.method == "POST" and (asked is None or form.is_valid()):
        if asked is not None:
            form.save()
        mark_students(request, [row.student.pk for row in rows])
        return _make_cards(request, rows, reverse("studio:all-cards"), anew="anew" in request.POST)
    lacking = queries.without_card(rows)
    mark_students(request, [each.student.pk for each in lacking])
    return show(request, "studio/all_cards.html", {
        "room": "office", "form": form, "lacking": lacking, "papers": PAPERS.items(), "term": term,
        "people_in_words": studio_queries.people_in_words(term, request.today),
        "standing": len({link.guardian.pk for row in rows for link in row.links if link.key}),
        "reaches_families": reaches_families(request), "address": request.studio.family_address or settings.LINKS,
    })


def _make_cards(
    request: HttpRequest, rows: list[queries.FamilyRow], back: str, *, anew: bool = False
) -> HttpResponse:
    """The cards that were made, to print. anew: guardians with a link get another in its place."""
    term = studio_queries.term_on(request.today)
    made: dict[Guardian, str] = {}
    if term is None:
        messages.warning(request, _("Make a term first: links are valid for a term."))
        return redirect(back)
    for row in rows:
        for link in row.links:
            if link.guardian in made:
                continue
            if link.key is not None and not anew:
                actions.prolong_key(key=link.key, term=term, by=request.user)
            elif row.agreed[Consent.FAMILY]:
                try:
                    made[link.guardian] = actions.make_key(guardian=link.guardian, term=term, by=request.user)
                except Refused as reason:
                    messages.warning(request, str(reason))
    if not made:
        messages.success(request, _("Nobody needs a new card. Links that stand go on through this term."))
        return redirect(back)
    return _show_cards(request, list(made.items()), back)


@require_POST
@only("run_office")
def new_card(request: HttpRequest, guardian_id: int) -> HttpResponse:
    """Ends a guardian's link and makes another: as a card, or by mail where mail is set up."""
    guardian, term = get_object_or_404(Guardian, pk=guardian_id), studio_queries.term_on(request.today)
    mark_students(request, guardian.students.values_list("pk", flat=True))
    student = guardian.students.order_by("name").first()
    back = reverse("studio:consents", args=[student.pk]) if student else reverse("studio:office")
    if term is None:
        messages.warning(request, _("Make a term first: links are valid for a term."))
        return redirect(back)
    is_mailed = "mail" in request.POST and mail.is_set_up() and guardian.email
    try:
        token = actions.new_token(guardian)
        if is_mailed:
            _mail_link(request, guardian, token)
        actions.make_key(guardian=guardian, term=term, by=request.user, token=token)
    except Refused as reason:
        messages.warning(request, str(reason))
        return redirect(back)
    if is_mailed:
        messages.success(request, _("A new link is on its way to %(address)s.") % {"address": guardian.email})
        return redirect(back)
    return _show_cards(request, [(guardian, token)], back)


def _mail_link(request: HttpRequest, guardian: Guardian, token: str) -> None:
    """Before the link of until now ends: a mail that does not go out changes nothing."""
    try:
        with translation.override(language_of([guardian], request.studio)):
            mail.send_link(guardian, _card_address(request, token), studio=request.studio)
    except mail.NOT_SENT as problem:
        raise Refused(_("The mail to %(address)s could not be sent (%(why)s). Nothing has changed: a link that opened "
                        "before still opens.") % {"address": guardian.email, "why": problem}) from problem


@require_POST
@only("run_office")
def end_card(request: HttpRequest, guardian_id: int) -> HttpResponse:
    guardian = get_object_or_404(Guardian, pk=guardian_id)
    mark_students(request, guardian.students.values_list("pk", flat=True))
    actions.end_key(guardian=guardian, by=request.user)
    messages.success(request, _("The link of %(name)s has ended, on every device.") % {"name": guardian})
    student = guardian.students.order_by("name").first()
    return redirect("studio:consents", student_id=student.pk) if student else redirect("studio:office")


@require_POST
@only("edit_roster")
def remove_guardian(request: HttpRequest, student_id: int, guardian_id: int) -> HttpResponse:
    student = reach_student(request, student_id)
    guardian = get_object_or_404(student.guardians, pk=guardian_id)
    actions.remove_guardian(guardian=guardian, student=student, by=request.user)
    messages.success(request, _("%(name)s is no longer on record for %(student)s and sees nothing any more.") % {
        "name": guardian, "student": student})
    return redirect("progress:edit-student", student_id=student.pk)


@require_GET
@only("run_office")
def leavers(request: HttpRequest) -> HttpResponse:
    """Students who left so long ago that their records are due for erasure."""
    rows = queries.due_for_erasure(request.studio, today=request.today)
    mark_students(request, [row.student.pk for row in rows])
    return show(request, "studio/leavers.html", {"room": "office", "rows": rows})


@require_GET
@only("run_office")
def assessment(request: HttpRequest) -> HttpResponse:
    """The data protection impact assessment, to read, print and sign."""
    return show(request, "studio/assessment.html", {"paper": _paper(request.GET.get("paper"))})
