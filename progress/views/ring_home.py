"""What a page needs to say whom to ring and to keep who was told."""
from typing import Any

from progress.forms.telling import TellForm
from progress.models import HomeTold, PainReport
from progress.queries.telling import home_words, told_words, whom_to_ring


def home_context(report: PainReport, *, all_reports: list[PainReport] | None = None) -> dict[str, Any]:
    """For templates/progress/_ring_home.html: of this report, or of all that one follow-up gathers."""
    reports = all_reports or [report]
    guardians = whom_to_ring(report.student)
    rows = HomeTold.objects.filter(report__in=reports).select_related("by").order_by("pk")
    is_told, _words = home_words([each for each in reports if each.answer is None])
    return {
        "guardians": guardians, "told": [(row, told_words(row)) for row in rows], "is_home_told": is_told,
        "told_report": report, "tell_form": TellForm(guardians=guardians),
    }
