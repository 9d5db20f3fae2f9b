"""Says in the studio's words which page a row of the audit names; knows the routes by name, and no page."""
from functools import cache

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

# What somebody who never saw the program would call it -> the routes behind it.
PAGES = {
    gettext_noop("the student’s page"): ("progress:student",),
    gettext_noop("the student’s results"): (
        "progress:results", "progress:chart-figure", "progress:correct-result", "progress:confirm-result",
    ),
    gettext_noop("the student’s story"): ("progress:story",),
    gettext_noop("the student’s particulars"): (
        "progress:edit-student", "studio:add-guardian", "studio:edit-guardian", "studio:remove-guardian",
    ),
    gettext_noop("the student’s heights"): ("progress:heights", "progress:correct-height"),
    gettext_noop("the student’s work in class"): ("progress:student-work",),
    gettext_noop("a report of pain"): (
        "progress:report-pain", "progress:report-pain-in-class", "progress:whose-pain-in-class",
        "progress:report-pain-of-student",
        "progress:pain-next-step", "progress:take-back-pain", "progress:told-at-home",
    ),
    gettext_noop("the way back into class"): ("progress:way-back",),
    gettext_noop("the note for a clinician"): ("progress:referral-note", "progress:print-referral-note"),
    gettext_noop("a follow-up"): (
        "progress:follow-up", "progress:add-note", "progress:close-follow-up", "progress:reopen-follow-up",
        "progress:hand-over",
    ),
    gettext_noop("the list of follow-ups"): ("progress:follow-ups",),
    gettext_noop("the record of a term"): ("progress:student-record",),
    gettext_noop("the letter to the family"): ("progress:write-letter", "progress:family-letter"),
    gettext_noop("the copy of everything"): ("progress:student-copy",),
    gettext_noop("erasing"): ("progress:erase-student",),
    gettext_noop("what the family agreed to"): (
        "studio:consents", "studio:families", "studio:consent-forms", "progress:print-consent-forms",
    ),
    gettext_noop("cards for families"): ("studio:make-cards", "studio:new-card", "studio:end-card"),
    gettext_noop("the page for the family"): ("progress:family", "progress:family-child", "progress:family-preview"),
    gettext_noop("what is kept, on the family’s page"): ("progress:family-kept", "progress:family-take-back"),
    gettext_noop("the family’s entrance"): (
        "studio:family-card", "studio:family-entrance", "studio:family-leave",
    ),
    gettext_noop("the sheet of the class"): ("progress:class-sheet", "progress:print-class-sheet"),
    gettext_noop("a measuring day"): (
        "progress:open-screening", "progress:screening", "progress:close-screening", "progress:reopen-screening",
        "progress:sheet", "progress:run", "progress:run-one", "progress:start-run", "progress:record-result",
        "progress:record-missing", "progress:take-back", "progress:news",
    ),
    gettext_noop("the log of the class"): (
        "progress:class-log", "progress:log-asked", "progress:log-attendance",
        "progress:log-as-planned", "progress:log-change",
        "progress:log-take-back", "progress:log-news",
    ),
    gettext_noop("the programme of the class"): (
        "progress:programme", "progress:plan-exercise", "progress:move-to-step", "progress:barre-card",
        "progress:print-barre-card",
        "progress:leave-out-exercise", "progress:move-exercise",
    ),
    gettext_noop("the list of the class"): (
        "studio:class-roster", "studio:class-line", "studio:add-student", "studio:leave-class", "studio:move-class",
        "studio:return-to-class",
    ),
    gettext_noop("reports of the whole term"): (
        "term-reports", "progress:reports", "progress:report-run", "progress:stop-reports", "progress:report-file",
        "progress:term-overview",
    ),
    gettext_noop("all results of the term"): ("progress:term-workbook", "progress:term-results"),
    gettext_noop("the whole studio in one file"): ("export_studio",),
    gettext_noop("a file that was brought in"): (
        "studio:bring-roster", "studio:check-roster", "progress:confirm-roster", "progress:bring-results",
        "progress:check-results", "progress:confirm-results",
    ),
}


@cache
def _by_route() -> dict[str, str]:
    return {route: words for words, routes in PAGES.items() for route in routes}


def page_words(page: str) -> str:
    """ "the student’s results" for "progress:results"; a route about nobody by its own name: "edit term"."""
    words = _by_route().get(page)
    return _(words) if words else page.partition(":")[2].replace("-", " ") or page
