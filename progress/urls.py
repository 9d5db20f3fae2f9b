"""Where the judgement's pages are: today, the barre, class sheets, students, follow-ups, the catalogue."""
from django.urls import path

from progress.views import barre, catalogue, class_sheet, follow_ups, imports, pain, student, today

app_name = "progress"
urlpatterns = [
    path("", today.today, name="today"),
    path("classes/<int:class_id>/", class_sheet.class_sheet, name="class-sheet"),
    path("classes/<int:class_id>/open-screening/", barre.open_screening, name="open-screening"),
    path("screenings/<int:screening_id>/", barre.screening, name="screening"),
    path("screenings/<int:screening_id>/close/", barre.close_screening, name="close-screening"),
    path("screenings/<int:screening_id>/reopen/", barre.reopen_screening, name="reopen-screening"),
    path("screenings/<int:screening_id>/hurts/<int:student_id>/", pain.report_pain, name="report-pain"),
    path("screenings/<int:screening_id>/<slug:measure_key>/", barre.sheet, name="sheet"),
    path("screenings/<int:screening_id>/<slug:measure_key>/record/", barre.record, name="record-result"),
    path("screenings/<int:screening_id>/<slug:measure_key>/missing/", barre.record_missing, name="record-missing"),
    path("results/<int:result_id>/take-back/", barre.take_back, name="take-back"),
    path("pain/<int:report_id>/", pain.next_step, name="pain-next-step"),
    path("pain/<int:report_id>/take-back/", pain.take_back, name="take-back-pain"),
    path("students/<int:student_id>/", student.student, name="student"),
    path("students/<int:student_id>/hurts/", pain.report_pain, name="report-pain-of-student"),
    path("students/<int:student_id>/particulars/", student.edit_student, name="edit-student"),
    path("students/<int:student_id>/results/", student.results, name="results"),
    path("students/<int:student_id>/charts/<slug:measure_key>/", student.chart_figure, name="chart-figure"),
    path("results/<int:result_id>/correct/", student.correct_result, name="correct-result"),
    path("results/<int:result_id>/confirm/", student.confirm_result, name="confirm-result"),
    path("follow-ups/", follow_ups.follow_ups, name="follow-ups"),
    path("follow-ups/<int:follow_up_id>/", follow_ups.follow_up, name="follow-up"),
    path("follow-ups/<int:follow_up_id>/note/", follow_ups.add_note, name="add-note"),
    path("follow-ups/<int:follow_up_id>/close/", follow_ups.close, name="close-follow-up"),
    path("follow-ups/<int:follow_up_id>/reopen/", follow_ups.reopen, name="reopen-follow-up"),
    path("follow-ups/<int:follow_up_id>/hand-over/", follow_ups.hand_over, name="hand-over"),
    path("office/measures/", catalogue.catalogue, name="catalogue"),
    path("office/measures/<slug:measure_key>/", catalogue.edit_measure, name="edit-measure"),
    path("office/measures/<slug:measure_key>/protocol/", catalogue.edit_protocol, name="edit-protocol"),
    path("office/batteries/new/", catalogue.edit_battery, name="add-battery"),
    path("office/batteries/<int:battery_id>/", catalogue.edit_battery, name="edit-battery"),
    path("office/targets/", catalogue.targets, name="targets"),
    path("office/roster-import/<int:draft_id>/confirm/", imports.confirm_roster, name="confirm-roster"),
    path("office/results-import/", imports.bring_results, name="bring-results"),
    path("office/results-import/<int:draft_id>/", imports.check_results, name="check-results"),
    path("office/results-import/<int:draft_id>/confirm/", imports.confirm_results, name="confirm-results"),
]
