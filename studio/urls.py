"""The front door: where each room is; the other apps by string only."""
from django.urls import include, path
from django.utils.translation import gettext_noop as _

from studio.audit.page_words import called, silent
from studio.views import (
    account,
    audit,
    classes,
    entrance,
    families,
    family_entrance,
    imports,
    line,
    network,
    office,
    second_factor,
    students,
    tablets,
    upkeep,
)

studio_urls = (
    [
        path("login/", entrance.LoginPage.as_view(), name="login"),
        path("login/pin/", entrance.PinPage.as_view(), name="pin-login"),
        path("login/code/", entrance.CodePage.as_view(), name="login-code"),
        path("lock/", entrance.lock, name="lock"),
        *silent(
            path("still-here/", entrance.still_here, name="still-here"),
            path("barre/token/", account.fresh_token, name="fresh-token"),
            path("trust/", network.trust, name="trust"),
            path("trust/risebook.crt", network.authority_file, name="authority-file"),
            path("health/", upkeep.health, name="health"),
        ),
        path("logout/", entrance.LogoutPage.as_view(), name="logout"),
        path("account/", account.account, name="account"),
        path("help/", account.help_page, name="help"),
        path("account/elsewhere/", account.leave_elsewhere, name="leave-elsewhere"),
        path("account/second-factor/", second_factor.second_factor, name="second-factor"),
        path("account/password/", account.password_again, name="password-again"),
        path("account/pin/", account.edit_pin, name="edit-pin"),
        path("account/pin/remove/", account.remove_pin, name="remove-pin"),
        path("classes/", classes.class_list, name="classes"),
        *called(
            _("the class list"),
            path("classes/<int:class_id>/roster/", classes.class_roster, name="class-roster"),
            path("classes/<int:class_id>/line/", line.class_line, name="class-line"),
            path("classes/<int:class_id>/roster/add/", classes.add_student, name="add-student"),
            path("enrolments/<int:enrolment_id>/leave/", classes.leave_class, name="leave-class"),
            path("enrolments/<int:enrolment_id>/move/", classes.move_class, name="move-class"),
            path("enrolments/<int:enrolment_id>/return/", classes.return_to_class, name="return-to-class"),
        ),
        *called(
            _("the student’s details"),
            path("students/<int:student_id>/guardians/", students.edit_guardian, name="add-guardian"),
            path("students/<int:student_id>/guardians/<int:guardian_id>/", students.edit_guardian,
                 name="edit-guardian"),
            path("students/<int:student_id>/guardians/<int:guardian_id>/remove/", families.remove_guardian,
                 name="remove-guardian"),
        ),
        *called(
            _("what the family agreed to"),
            path("students/<int:student_id>/consents/", families.consents, name="consents"),
            path("classes/<int:class_id>/families/", families.families, name="families"),
            path("classes/<int:class_id>/consent-forms/", families.consent_forms, name="consent-forms"),
        ),
        *called(
            _("cards for families"),
            path("classes/<int:class_id>/cards/", families.make_cards, name="make-cards"),
            path("guardians/<int:guardian_id>/card/", families.new_card, name="new-card"),
            path("guardians/<int:guardian_id>/end-card/", families.end_card, name="end-card"),
        ),
        *called(
            _("the family’s entrance"),
            path("family/card/<str:token>/", family_entrance.card, name="family-card"),
            path("family/entrance/", family_entrance.entrance, name="family-entrance"),
            path("family/leave/", family_entrance.leave, name="family-leave"),
        ),
        path("office/", office.office, name="office"),
        path("office/how-is-it/", upkeep.how_is_it, name="how-is-it"),
        path("office/how-is-it/backup/", upkeep.last_backup, name="last-backup"),
        path("office/network/", network.network, name="network"),
        path("office/cards/", families.all_cards, name="all-cards"),
        path("office/leavers/", families.leavers, name="leavers"),
        path("office/assessment/", families.assessment, name="assessment"),
        path("office/students/", office.all_students, name="students"),
        path("office/audit/", audit.who_saw_what, name="audit"),
        path("office/tablets/", tablets.tablets, name="tablets"),
        path("office/tablets/<int:tablet_id>/revoke/", tablets.revoke_tablet, name="revoke-tablet"),
        path("office/studio/", office.edit_studio, name="edit-studio"),
        path("office/terms/new/", office.edit_term, name="add-term"),
        path("office/terms/<int:term_id>/", office.edit_term, name="edit-term"),
        path("office/terms/<int:term_id>/holidays/", office.add_holiday, name="add-holiday"),
        path("office/terms/<int:term_id>/carry-over/", office.carry_over, name="carry-over"),
        path("office/holidays/<int:holiday_id>/remove/", office.remove_holiday, name="remove-holiday"),
        path("office/classes/new/", office.edit_class, name="add-class"),
        path("office/classes/<int:class_id>/", office.edit_class, name="edit-class"),
        path("office/classes/<int:class_id>/meetings/", office.add_meeting, name="add-meeting"),
        path("office/meetings/<int:meeting_id>/remove/", office.remove_meeting, name="remove-meeting"),
        path("office/people/new/", office.add_person, name="add-person"),
        path("office/people/<int:user_id>/", office.edit_person, name="edit-person"),
        path("office/people/<int:user_id>/no-second-factor/", second_factor.drop_second_factor,
             name="drop-second-factor"),
        path("office/people/<int:user_id>/new-password/", office.give_password, name="give-password"),
        *called(
            _("a file that was brought in"),
            path("office/roster-import/", imports.bring_roster, name="bring-roster"),
            path("office/roster-import/<int:draft_id>/", imports.check_roster, name="check-roster"),
        ),
        path("office/imports/", imports.kept_imports, name="kept-imports"),
        path("office/imports/<int:import_id>/not-taken/", imports.rows_not_taken, name="rows-not-taken"),
    ],
    "studio",
)
urlpatterns = [
    path("", include("progress.urls")),
    path("", include(studio_urls)),
]
handler403 = "studio.views.account.forbidden"
handler404 = "studio.views.account.not_found"
handler500 = "studio.views.account.server_error"
handler400 = "studio.views.account.bad_request"
