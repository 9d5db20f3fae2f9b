"""Everything that is kept about one student: as a copy to hand over, and erased for good."""
from collections import Counter

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_http_methods

from progress.actions.erasing import FEWEST_OTHERS, erase_student, is_tidy
from progress.forms.erasing import EraseForm
from progress.models import Erasure
from studio.actions import Refused
from studio.audit.marks import mark_outcome
from studio.audit.models import AuditRow
from studio.entrance.queries import tablets_that_keep
from studio.pages import show
from studio.permissions import only, reach_student

# What a certificate calls the tables whose rows went. A family reads it: the names of tables are not for them.
REMOVED = {
    "attendance": gettext_lazy("days in class, there or absent"), "consent": gettext_lazy("answers about consent"),
    "decision": gettext_lazy("what was decided at pointe reviews"),
    "pointestep": gettext_lazy("steps of the first weeks on pointe"),
    "pointetime": gettext_lazy("minutes on pointe"),
    "pointseen": gettext_lazy("what people saw at pointe reviews"), "review": gettext_lazy("pointe reviews"),
    "carriedover": gettext_lazy("states of lines, carried from term to term"),
    "enrolment": gettext_lazy("enrolments in classes"), "followup": gettext_lazy("follow-ups"),
    "followup_pain_reports": gettext_lazy("ties between these"), "followupnote": gettext_lazy("notes on follow-ups"),
    "guardian": gettext_lazy("guardians"), "guardian_students": gettext_lazy("ties between these"),
    "guardiankey": gettext_lazy("private links"), "height": gettext_lazy("heights"),
    "handovertext": gettext_lazy("words for the next teacher"),
    "hometold": gettext_lazy("who at home was told of pain"),
    "issuedreport": gettext_lazy("letters and reports"), "keytry": gettext_lazy("openings of a private link"),
    "lettertext": gettext_lazy("words written for the letter"), "logentry": gettext_lazy("entries of the class log"),
    "mentions": gettext_lazy("places where others’ notes named the student"),
    "painanswer": gettext_lazy("answers to pain reports"), "painreport": gettext_lazy("pain reports"),
    "programmeentry": gettext_lazy("exercises planned for this student alone"), "result": gettext_lazy("results"),
    "returnstep": gettext_lazy("steps on the way back"), "runsheet": gettext_lazy("printed sheets"),
    "stagechange": gettext_lazy("changes of stage"), "standing": gettext_lazy("judgements of lines"),
    "student": gettext_lazy("the student’s details"),
    "termstanding": gettext_lazy("judgements kept of terms that are over"),
}


def removed_words(removed: dict[str, int]) -> dict[str, int]:
    """The same counts under words of the studio, by the words; what nothing was removed of is left out."""
    words: Counter[str] = Counter()
    for table, count in removed.items():
        words[str(REMOVED.get(table, table))] += count
    return dict(sorted((+words).items()))


@require_http_methods(["GET", "POST"])
@only("run_office", password=True)
def erase(request: HttpRequest, student_id: int) -> HttpResponse:
    """Asks for the student's name first, for nothing of this can be taken back."""
    student = reach_student(request, student_id)
    form = EraseForm(request.POST or None, student=student)
    if request.method == "POST" and form.is_valid():
        try:
            erasure = erase_student(student=student, by=request.user)
        except Refused as reason:
            messages.warning(request, str(reason))
            return redirect("progress:erase-student", student_id=student.pk)
        is_tidy(erasure=erasure, at=timezone.now())
        mark_outcome(request, AuditRow.ERASED)
        messages.success(request, _("Erased."))
        return redirect("progress:erasure", erasure_id=erasure.pk)
    return show(request, "progress/office/erase.html", {
        "room": "office", "student": student, "form": form, "fewest": FEWEST_OTHERS,
        "tablets": tablets_that_keep(now=request.now),
    })


@require_GET
@only("run_office")
def certificates(request: HttpRequest) -> HttpResponse:
    """Every certificate, newest first: after an older backup was restored, these are erased again."""
    rows = Erasure.objects.select_related("erased_by")
    return show(request, "progress/office/erasures.html", {"room": "office", "erasures": rows})


@require_GET
@only("run_office")
def certificate(request: HttpRequest, erasure_id: int) -> HttpResponse:
    """What was removed; a certificate once the old pages are in no file, which is looked at anew until then."""
    erasure = get_object_or_404(Erasure.objects.select_related("erased_by"), pk=erasure_id)
    return show(request, "progress/office/erasure.html", {
        "room": "office", "erasure": erasure, "removed": removed_words(erasure.removed),
        "is_gone": is_tidy(erasure=erasure, at=request.now), "tablets": tablets_that_keep(now=request.now),
    })
