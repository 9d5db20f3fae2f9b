"""Confirming a class list, and taking a file back that was brought in."""
from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from progress.actions import imports as actions
from progress.actions.undoing import undo_import
from studio.actions import Refused
from studio.models import KeptImport, Studio
from studio.permissions import only
from studio.roster_check import check_draft
from studio.views.imports import answer_rows, confirm_refused, is_gone, reach_draft, tell_left_out


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
                messages.info(request, _("Your answers are in. Look once more, then bring the rows in."))
                return redirect("studio:check-roster", draft_id=draft.pk)
            check, class_group, term = check_draft(draft, today=request.today)
        if not check.may_confirm:
            messages.warning(request, _("No ticked row would change anything. Nothing was written."))
            return redirect("studio:check-roster", draft_id=draft.pk)
        kept = actions.import_roster(
            check=check, filename=draft.filename, class_group=class_group, term=term, by=request.user, draft=draft)
    messages.success(request, _("The class list is in: %(add)s new, %(change)s changed.") % check.counts)
    tell_left_out(request, kept)
    return redirect(f"{reverse('studio:class-roster', args=[class_group.pk])}?term={term.pk}")


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
