"""Where the judgement's pages are: today, the barre, class sheets, students, follow-ups, the catalogue."""
from django.urls import include, path
from django.utils.translation import gettext_noop as _

from progress.views import (
    catalogue,
    class_sheet,
    erasing,
    family,
    follow_ups,
    growth,
    imports,
    pain,
    pain_rules,
    past_results,
    returning,
    reviews,
    story,
    student,
    telling,
    today,
)
from progress.views.barre import entries, hub, run, taps
from progress.views.barre import sheet as barre
from progress.views.classwork import class_log, exercises, programme
from progress.views.papers import class_papers, copies, handover, letters, reports, spreadsheets
from progress.views.papers import reviews as review_papers
from progress.views.papers import student as papers
from studio.audit.page_words import called, silent

app_name = "progress"
urlpatterns = [
    path("", today.today, name="today"),
    *called(
        _("the class sheet"),
        path("classes/<int:class_id>/", class_sheet.class_sheet, name="class-sheet"),
        path("classes/<int:class_id>/print/", class_papers.class_sheet, name="print-class-sheet"),
    ),
    *called(
        _("reports of the whole term"),
        path("office/terms/<int:term_id>/overview/", class_papers.overview, name="term-overview"),
        path("office/reports/", reports.reports, name="reports"),
        path("office/reports/<uuid:run_key>/", reports.run, name="report-run"),
        path("office/reports/<uuid:run_key>/stop/", reports.stop, name="stop-reports"),
        path("office/reports/<uuid:run_key>/<str:name>", reports.file, name="report-file"),
    ),
    *called(
        _("a measuring day"),
        path("classes/<int:class_id>/open-screening/", barre.open_screening, name="open-screening"),
        path("classes/<int:class_id>/start-run/", run.start_run, name="start-run"),
        path("barre/screenings/<int:screening_id>/", include([
            path("", barre.screening, name="screening"),
            path("close/", barre.close_screening, name="close-screening"),
            path("reopen/", barre.reopen_screening, name="reopen-screening"),
            *called(
                _("a report of pain"),
                path("hurts/", pain.whose_pain, name="whose-pain"),
                path("hurts/<int:student_id>/", pain.report_pain, name="report-pain"),
            ),
            path("<slug:measure_key>/", barre.sheet, name="sheet"),
            path("<slug:measure_key>/run/", run.run, name="run"),
            path("<slug:measure_key>/run/one/", run.run, {"is_one": True}, name="run-one"),
            path("<slug:measure_key>/record/", entries.record, name="record-result"),
            path("<slug:measure_key>/missing/", entries.record_missing, name="record-missing"),
            path("<slug:measure_key>/take-back/", entries.take_back, name="take-back"),
            *silent(path("<slug:measure_key>/news/", entries.news, name="news")),
        ])),
    ),
    *called(
        _("the class log"),
        path("barre/classes/<int:class_id>/log/", include([
            path("", class_log.log, name="class-log"),
            *silent(path("news/", class_log.news, name="log-news")),
            path("attendance/", class_log.attendance, name="log-attendance"),
            path("as-planned/", class_log.as_planned, name="log-as-planned"),
            path("asked/", class_log.asked, name="log-asked"),
            path("change/", class_log.change, name="log-change"),
            path("take-back/", class_log.take_back, name="log-take-back"),
            *called(
                _("a report of pain"),
                path("hurts/", pain.whose_pain, name="whose-pain-in-class"),
                path("hurts/<int:student_id>/", pain.report_pain, name="report-pain-in-class"),
            ),
        ])),
    ),
    path("barre/", hub.hub, name="barre"),
    path("barre/help/", hub.help_page, name="barre-help"),
    path("barre/out/", hub.out, name="barre-out"),
    *silent(
        path("barre/taps/", taps.taps, name="taps"),
        path("barre/worker.js", hub.worker, name="worker"),
    ),
    *called(
        _("a report of pain"),
        path("barre/pain/<int:report_id>/", pain.next_step, name="pain-next-step"),
        path("barre/pain/<int:report_id>/take-back/", pain.take_back, name="take-back-pain"),
        path("pain/<int:report_id>/told/", telling.told_at_home, name="told-at-home"),
        path("students/<int:student_id>/hurts/", pain.report_pain, name="report-pain-of-student"),
    ),
    *called(_("the student’s page"), path("students/<int:student_id>/", student.student, name="student")),
    *called(
        _("the student’s work in class"),
        path("students/<int:student_id>/work/", student.work, name="student-work"),
    ),
    *called(
        _("the page for the family"),
        path("students/<int:student_id>/family/", family.preview, name="family-preview"),
        path("family/", family.family, name="family"),
        path("family/<int:student_id>/", family.child, name="family-child"),
    ),
    *called(
        _("what is kept, on the family’s page"),
        path("family/<int:student_id>/kept/", family.kept, name="family-kept"),
        path("family/<int:student_id>/take-back/", family.take_back, name="family-take-back"),
    ),
    *called(
        _("the student’s details"),
        path("students/<int:student_id>/particulars/", student.edit_student, name="edit-student"),
    ),
    *called(
        _("the student’s results"),
        path("students/<int:student_id>/results/", student.results, name="results"),
        path("students/<int:student_id>/charts/<slug:measure_key>/", student.chart_figure, name="chart-figure"),
        path("results/<int:result_id>/correct/", student.correct_result, name="correct-result"),
        path("results/<int:result_id>/confirm/", student.confirm_result, name="confirm-result"),
    ),
    *called(_("the record of a term"), path("students/<int:student_id>/record/", papers.record, name="student-record")),
    *called(
        _("the copy of everything"),
        path("students/<int:student_id>/copy/", copies.student_copy, name="student-copy"),
    ),
    *called(_("erasing"), path("students/<int:student_id>/erase/", erasing.erase, name="erase-student")),
    path("office/erasures/", erasing.certificates, name="erasures"),
    path("office/erasures/<int:erasure_id>/", erasing.certificate, name="erasure"),
    *called(
        _("the letter to the family"),
        path("students/<int:student_id>/letter/", letters.write, name="write-letter"),
        path("students/<int:student_id>/letter/print/", papers.letter, name="family-letter"),
    ),
    *called(_("the student’s story"), path("students/<int:student_id>/story/", story.time_line, name="story")),
    *called(
        _("the review before pointe work"),
        path("classes/<int:class_id>/reviews/", reviews.class_reviews, name="class-reviews"),
        path("students/<int:student_id>/review/", reviews.review, name="review"),
        path("reviews/<int:review_id>/view/", reviews.say, name="say-points"),
        path("reviews/<int:review_id>/decision/", reviews.decide, name="decide-review"),
        path("reviews/<int:review_id>/sheet/", review_papers.sheet, name="review-sheet"),
        path("reviews/<int:review_id>/letter/", review_papers.letter, name="review-letter"),
    ),
    *called(
        _("the page for the next teacher"),
        path("students/<int:student_id>/handover/", handover.write, name="write-handover"),
        path("students/<int:student_id>/handover/print/", handover.page, name="print-handover"),
        path("classes/<int:class_id>/handover/print/", handover.class_pages, name="print-class-handover"),
    ),
    *called(
        _("the student’s heights"),
        path("students/<int:student_id>/height/", growth.heights, name="heights"),
        path("heights/<int:height_id>/correct/", growth.correct_height, name="correct-height"),
    ),
    *called(
        _("the way back into class"),
        path("students/<int:student_id>/way-back/", returning.way_back, name="way-back"),
    ),
    *called(
        _("the note for a clinician"),
        path("students/<int:student_id>/referral-note/", story.referral, name="referral-note"),
        path("students/<int:student_id>/referral-note/print/", papers.note, name="print-referral-note"),
    ),
    *called(_("the list of follow-ups"), path("follow-ups/", follow_ups.follow_ups, name="follow-ups")),
    *called(
        _("a follow-up"),
        path("follow-ups/<int:follow_up_id>/", follow_ups.follow_up, name="follow-up"),
        path("follow-ups/<int:follow_up_id>/note/", follow_ups.add_note, name="add-note"),
        path("follow-ups/<int:follow_up_id>/close/", follow_ups.close, name="close-follow-up"),
        path("follow-ups/<int:follow_up_id>/reopen/", follow_ups.reopen, name="reopen-follow-up"),
        path("follow-ups/<int:follow_up_id>/hand-over/", follow_ups.hand_over, name="hand-over"),
    ),
    *called(
        _("the class programme"),
        path("classes/<int:class_id>/programme/", programme.programme, name="programme"),
        path("classes/<int:class_id>/programme/plan/", programme.plan_exercise, name="plan-exercise"),
        path("classes/<int:class_id>/programme/step/", programme.move_to_step, name="move-to-step"),
        path("classes/<int:class_id>/programme/card/", programme.card, name="barre-card"),
        path("classes/<int:class_id>/programme/card/print/", class_papers.barre_card, name="print-barre-card"),
        path("programme/<int:entry_id>/leave-out/", programme.leave_out, name="leave-out-exercise"),
        path("programme/<int:entry_id>/move/", programme.move_in_order, name="move-exercise"),
    ),
    *called(
        _("what the family agreed to"),
        path("classes/<int:class_id>/consent-forms/print/", class_papers.consent_forms, name="print-consent-forms"),
    ),
    path("exercises/", exercises.exercises, name="exercises"),
    path("exercises/new/", exercises.edit_exercise, name="add-exercise"),
    path("exercises/load-rule/", exercises.set_load_rule, name="set-load-rule"),
    path("exercises/<slug:exercise_key>/", exercises.exercise, name="exercise"),
    path("exercises/<slug:exercise_key>/change/", exercises.edit_exercise, name="edit-exercise"),
    path("office/measures/", catalogue.catalogue, name="catalogue"),
    path("office/measures/<slug:measure_key>/", catalogue.edit_measure, name="edit-measure"),
    path("office/measures/<slug:measure_key>/protocol/", catalogue.edit_protocol, name="edit-protocol"),
    path("office/batteries/new/", catalogue.edit_battery, name="add-battery"),
    path("office/batteries/<int:battery_id>/", catalogue.edit_battery, name="edit-battery"),
    path("office/assessors/", catalogue.assessors, name="assessors"),
    path("office/targets/", catalogue.targets, name="targets"),
    *called(
        _("all results of the term"),
        path("office/terms/<int:term_id>/workbook/", spreadsheets.term_workbook, name="term-workbook"),
        path("office/terms/<int:term_id>/results/", spreadsheets.term_results, name="term-results"),
    ),
    path("office/return-steps/", returning.ladder, name="return-ladder"),
    path("office/pain-rules/", pain_rules.pain_rules, name="pain-rules"),
    *called(
        _("a file that was brought in"),
        path("office/roster-import/<int:draft_id>/confirm/", imports.confirm_roster, name="confirm-roster"),
        path("office/imports/<int:import_id>/", past_results.writing, name="writing-results"),
        path("office/imports/<int:import_id>/go-on/", past_results.go_on, name="go-on-writing"),
        path("office/results-import/", past_results.bring_results, name="bring-results"),
        path("office/results-import/<int:draft_id>/", past_results.check_results, name="check-results"),
        path("office/results-import/<int:draft_id>/confirm/", past_results.confirm_results, name="confirm-results"),
    ),
    path("office/imports/<int:import_id>/take-back/", imports.take_back, name="take-import-back"),
]
