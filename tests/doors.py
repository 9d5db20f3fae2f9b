"""Every door of the house: what each person finds behind it; and a studio with something behind each."""
import datetime as dt
import uuid
from decimal import Decimal

from django.urls import URLPattern, get_resolver, reverse
from django.utils import timezone

from progress.actions import measuring, pain
from progress.actions.classwork import class_log
from progress.actions.classwork.programme import plan_exercise
from progress.actions.follow_ups import open_follow_up
from progress.actions.growth import record_height
from progress.actions.papers.handover import write_handover_text
from progress.actions.papers.letters import write_letter_text
from progress.actions.reviews import decide, open_review, say_points
from progress.actions.telling import tell_home
from progress.models import Erasure, Exercise, FollowUp, PointeStep, PointeTime, ReportRun
from progress.queries.pointe_weeks import pointe_ladder
from progress.rules.dose import Dose
from screening.actions import Entry
from studio.actions import keep_draft
from studio.entrance.actions import enrol_tablet
from studio.family.actions import record_consent
from studio.models import ClassMeeting, Consent, Holiday, KeptImport
from tests import factories

PEOPLE = ("owner", "teacher", "other_teacher")
NOBODY = "nobody"
METHODS = ("GET", "HEAD", "POST", "DELETE")
# What the owner, the teacher of the class and another teacher find.
SEEN_BY_ALL, DONE_BY_ALL, WRONG_BY_ALL = (200, 200, 200), (302, 302, 302), (422, 422, 422)
TOLD_BY_ALL = (204, 204, 204)
SEEN_IN_REACH, DONE_IN_REACH, WRONG_IN_REACH = (200, 200, 404), (302, 302, 404), (422, 422, 404)
# Only where the studio serves its own network, which tests/network/test_trust_page.py does.
NOT_HERE = (404, 404, 404)
SEEN_BY_OWNER, DONE_BY_OWNER, WRONG_BY_OWNER = (200, 403, 403), (302, 403, 403), (422, 403, 403)

# Route -> method -> statuses of PEOPLE, for a form that was sent without any of its fields.
OPEN = {
    "progress:today": {"GET": SEEN_BY_ALL},
    "progress:class-sheet": {"GET": SEEN_IN_REACH},
    "progress:print-class-sheet": {"GET": SEEN_IN_REACH},
    "progress:term-overview": {"GET": SEEN_BY_OWNER},
    "progress:open-screening": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "progress:barre": {"GET": SEEN_BY_ALL},
    "progress:barre-out": {"GET": SEEN_BY_ALL},
    "progress:taps": {"POST": WRONG_BY_ALL},
    "progress:worker": {"GET": SEEN_BY_ALL},
    "progress:screening": {"GET": SEEN_IN_REACH},
    "progress:close-screening": {"POST": DONE_IN_REACH},
    "progress:reopen-screening": {"POST": DONE_IN_REACH},
    "progress:whose-pain": {"GET": SEEN_IN_REACH},
    "progress:report-pain": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "progress:sheet": {"GET": SEEN_IN_REACH},
    "progress:run": {"GET": SEEN_IN_REACH},
    "progress:run-one": {"GET": SEEN_IN_REACH},
    "progress:start-run": {"POST": DONE_IN_REACH},
    "progress:record-result": {"POST": DONE_IN_REACH},
    "progress:record-missing": {"POST": DONE_IN_REACH},
    "progress:take-back": {"POST": DONE_IN_REACH},
    "progress:news": {"GET": SEEN_IN_REACH},
    "progress:class-log": {"GET": SEEN_IN_REACH},
    "progress:log-news": {"GET": SEEN_IN_REACH},
    "progress:log-attendance": {"POST": DONE_IN_REACH},
    "progress:log-as-planned": {"POST": DONE_IN_REACH},
    "progress:log-asked": {"POST": DONE_IN_REACH},
    "progress:log-change": {"POST": DONE_IN_REACH},
    "progress:whose-pain-in-class": {"GET": SEEN_IN_REACH},
    "progress:report-pain-in-class": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "progress:log-take-back": {"POST": DONE_IN_REACH},
    "progress:pain-next-step": {"GET": SEEN_IN_REACH},
    "progress:take-back-pain": {"POST": DONE_IN_REACH},
    "progress:told-at-home": {"POST": DONE_IN_REACH},
    "progress:student": {"GET": SEEN_IN_REACH},
    "progress:student-work": {"GET": SEEN_IN_REACH},
    "progress:report-pain-of-student": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "progress:edit-student": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "progress:results": {"GET": SEEN_IN_REACH},
    "progress:story": {"GET": SEEN_IN_REACH},
    "progress:class-pointe": {"GET": SEEN_IN_REACH, "POST": DONE_IN_REACH},
    "progress:student-pointe": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "progress:pointe-ladder": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "progress:years": {"GET": SEEN_IN_REACH},
    "progress:print-years": {"GET": SEEN_IN_REACH},
    "progress:write-handover": {"GET": SEEN_IN_REACH, "POST": DONE_IN_REACH},
    "progress:print-handover": {"GET": SEEN_IN_REACH},
    "progress:print-class-handover": {"GET": SEEN_IN_REACH},
    "progress:class-reviews": {"GET": SEEN_IN_REACH},
    "progress:review": {"GET": SEEN_IN_REACH, "POST": DONE_IN_REACH},
    "progress:say-points": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "progress:decide-review": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "progress:review-sheet": {"GET": SEEN_IN_REACH},
    "progress:review-letter": {"GET": SEEN_IN_REACH},
    "progress:heights": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "progress:correct-height": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "progress:way-back": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "progress:referral-note": {"GET": SEEN_IN_REACH},
    "progress:print-referral-note": {"GET": SEEN_IN_REACH},
    "progress:print-consent-forms": {"GET": SEEN_IN_REACH},
    "progress:student-copy": {"GET": SEEN_BY_OWNER, "POST": SEEN_BY_OWNER},
    "progress:erase-student": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "progress:erasures": {"GET": SEEN_BY_OWNER},
    "progress:erasure": {"GET": SEEN_BY_OWNER},
    "progress:student-record": {"GET": SEEN_IN_REACH},
    "progress:write-letter": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "progress:family-letter": {"GET": SEEN_IN_REACH},
    "progress:chart-figure": {"GET": SEEN_IN_REACH},
    "progress:correct-result": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "progress:confirm-result": {"POST": DONE_IN_REACH},
    "progress:follow-ups": {"GET": SEEN_BY_ALL},
    "progress:follow-up": {"GET": SEEN_IN_REACH},
    "progress:add-note": {"POST": WRONG_IN_REACH},
    "progress:close-follow-up": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "progress:reopen-follow-up": {"POST": DONE_IN_REACH},
    "progress:hand-over": {"POST": WRONG_IN_REACH},
    "progress:programme": {"GET": SEEN_IN_REACH},
    "progress:plan-exercise": {"POST": WRONG_IN_REACH},
    "progress:move-to-step": {"POST": DONE_IN_REACH},
    "progress:barre-card": {"GET": SEEN_IN_REACH},
    "progress:print-barre-card": {"GET": SEEN_IN_REACH},
    "progress:leave-out-exercise": {"POST": DONE_IN_REACH},
    "progress:move-exercise": {"POST": DONE_IN_REACH},
    "progress:exercises": {"GET": SEEN_BY_ALL},
    "progress:exercise": {"GET": SEEN_BY_ALL},
    "progress:add-exercise": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "progress:edit-exercise": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "progress:set-load-rule": {"POST": DONE_BY_OWNER},
    "progress:catalogue": {"GET": SEEN_BY_OWNER},
    "progress:edit-measure": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "progress:edit-protocol": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "progress:add-battery": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "progress:edit-battery": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "progress:studio-years": {"GET": SEEN_BY_OWNER},
    "progress:assessors": {"GET": SEEN_BY_OWNER},
    "progress:targets": {"GET": SEEN_BY_OWNER, "POST": DONE_BY_OWNER},
    "progress:term-workbook": {"GET": SEEN_BY_OWNER},
    "progress:term-results": {"GET": SEEN_BY_OWNER},
    "progress:reports": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "progress:report-run": {"GET": SEEN_BY_OWNER},
    "progress:stop-reports": {"POST": DONE_BY_OWNER},
    # No file lies there; that one can be taken is asked in tests/progress/test_reports.py.
    "progress:report-file": {"GET": (404, 403, 403)},
    "progress:return-ladder": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "progress:pain-rules": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "progress:confirm-roster": {"POST": DONE_BY_OWNER},
    "progress:bring-results": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "progress:check-results": {"GET": SEEN_BY_OWNER, "POST": DONE_BY_OWNER},
    "progress:confirm-results": {"POST": DONE_BY_OWNER},
    "progress:take-import-back": {"POST": DONE_BY_OWNER},
    "progress:writing-results": {"GET": SEEN_BY_OWNER},
    "progress:go-on-writing": {"POST": DONE_BY_OWNER},
    # Whoever is in already is sent on to the first page, whatever she asks.
    "studio:login": dict.fromkeys(METHODS, DONE_BY_ALL),
    "studio:pin-login": dict.fromkeys(METHODS, DONE_BY_ALL),
    "studio:login-code": dict.fromkeys(METHODS, DONE_BY_ALL),
    "studio:lock": {"POST": DONE_BY_ALL},
    "studio:still-here": {"POST": TOLD_BY_ALL},
    "studio:logout": {"POST": DONE_BY_ALL},
    "studio:account": {"GET": SEEN_BY_ALL, "POST": WRONG_BY_ALL},
    "studio:help": {"GET": SEEN_BY_ALL},
    "progress:barre-help": {"GET": SEEN_BY_ALL},
    "studio:trust": {"GET": NOT_HERE},
    "studio:authority-file": {"GET": NOT_HERE},
    "studio:network": {"GET": SEEN_BY_OWNER},
    "studio:health": {"GET": SEEN_BY_ALL},
    "studio:how-is-it": {"GET": SEEN_BY_OWNER}, "studio:last-backup": {"GET": (404, 403, 403)},
    "studio:fresh-token": {"GET": SEEN_BY_ALL},
    "studio:leave-elsewhere": {"POST": DONE_BY_ALL},
    "studio:second-factor": {"GET": SEEN_BY_ALL, "POST": WRONG_BY_ALL},
    "studio:password-again": {"GET": SEEN_BY_ALL, "POST": WRONG_BY_ALL},
    "studio:edit-pin": {"GET": SEEN_BY_ALL, "POST": WRONG_BY_ALL},
    "studio:remove-pin": {"POST": DONE_BY_ALL},
    "studio:classes": {"GET": SEEN_BY_ALL},
    "studio:class-roster": {"GET": SEEN_IN_REACH},
    "studio:class-line": {"GET": SEEN_IN_REACH, "POST": DONE_IN_REACH},
    "studio:add-student": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "studio:leave-class": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "studio:move-class": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "studio:return-to-class": {"POST": DONE_IN_REACH},
    "studio:add-guardian": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "studio:edit-guardian": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "studio:remove-guardian": {"POST": DONE_IN_REACH},
    "studio:consents": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "studio:families": {"GET": SEEN_IN_REACH, "POST": WRONG_IN_REACH},
    "studio:consent-forms": {"GET": SEEN_IN_REACH},
    # The cards themselves are the answer: their links are shown this once.
    "studio:make-cards": {"POST": SEEN_BY_OWNER},
    "studio:new-card": {"POST": SEEN_BY_OWNER},
    "studio:end-card": {"POST": DONE_BY_OWNER},
    "studio:leavers": {"GET": SEEN_BY_OWNER},
    "studio:assessment": {"GET": SEEN_BY_OWNER},
    "progress:family-preview": {"GET": SEEN_IN_REACH},
    "studio:office": {"GET": SEEN_BY_OWNER},
    "studio:students": {"GET": SEEN_BY_OWNER, "POST": SEEN_BY_OWNER},
    "studio:audit": {"GET": SEEN_BY_OWNER},
    "studio:tablets": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "studio:revoke-tablet": {"POST": DONE_BY_OWNER},
    "studio:edit-studio": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "studio:add-term": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "studio:edit-term": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "studio:add-holiday": {"POST": WRONG_BY_OWNER},
    "studio:carry-over": {"POST": DONE_BY_OWNER},
    "studio:remove-holiday": {"POST": DONE_BY_OWNER},
    "studio:add-class": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "studio:edit-class": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "studio:add-meeting": {"POST": WRONG_BY_OWNER},
    "studio:remove-meeting": {"POST": DONE_BY_OWNER},
    "studio:add-person": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "studio:edit-person": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "studio:drop-second-factor": {"POST": DONE_BY_OWNER},
    "studio:give-password": {"POST": DONE_BY_OWNER},
    "studio:bring-roster": {"GET": SEEN_BY_OWNER, "POST": WRONG_BY_OWNER},
    "studio:check-roster": {"GET": SEEN_BY_OWNER, "POST": DONE_BY_OWNER},
    "studio:kept-imports": {"GET": SEEN_BY_OWNER},
    "studio:all-cards": {"GET": SEEN_BY_OWNER, "POST": SEEN_BY_OWNER},
    "studio:rows-not-taken": {"GET": SEEN_BY_OWNER},
}
# The entrance is the door for people whom nobody knows, and what a tablet may trust; everywhere else they are sent to
# the entrance. A PIN opens nothing from a browser that is not enrolled.
ENTRANCE = ("studio:login", "studio:pin-login", "studio:login-code", "progress:worker")
OPEN_TO_NOBODY = {
    ("GET", "studio:login"): 200, ("POST", "studio:login"): 200,
    # A script that names no child; a browser asks for it anew whoever is in.
    ("GET", "progress:worker"): 200,
    ("GET", "studio:pin-login"): 302, ("POST", "studio:pin-login"): 403,
    ("GET", "studio:login-code"): 302, ("POST", "studio:login-code"): 302,
    # One word, for whatever watches over the server.
    ("GET", "studio:health"): 200,
    ("GET", "studio:trust"): 404, ("GET", "studio:authority-file"): 404,
}
OPEN_ROUTES = {route for _method, route in OPEN_TO_NOBODY}


def as_get(method: str) -> str:
    """HEAD is answered as GET is (RFC 9110, 9.3.2)."""
    return "GET" if method == "HEAD" else method

# The doors of families, about Ama, for people without an account; the staff is nobody there.
FAMILY_PEOPLE = ("guardian", "other_guardian", "former_guardian", "expired_link", NOBODY, "owner", "teacher")
HERS_ONLY, HER_WAY_ONLY = (200, *[404] * 6), (302, *[404] * 6)
FAMILY = {
    # Whoever holds the card gets as far as the question for the birth date.
    "studio:family-card": {"GET": (302,) * 7},
    "studio:family-entrance": dict.fromkeys(("GET", "POST"), (404,) * 7),
    "studio:family-leave": {"POST": (200,) * 7},
    "progress:family": {"GET": (302, 302, 404, 404, 404, 404, 404)},
    "progress:family-child": {"GET": HERS_ONLY},
    "progress:family-kept": {"GET": HERS_ONLY},
    "progress:family-take-back": {"POST": HER_WAY_ONLY},
}
FAMILY_DOORS = {
    (method, route, person): methods.get(as_get(method), (405,) * 7)[at]
    for route, methods in FAMILY.items() for method in METHODS for at, person in enumerate(FAMILY_PEOPLE)
}

# (method, route, person) -> status. A method that a route does not open is refused with 405.
DOORS = {
    (method, route, person): methods.get(as_get(method), (405, 405, 405))[at]
    for route, methods in OPEN.items() for method in METHODS for at, person in enumerate(PEOPLE)
} | {
    (method, route, NOBODY): OPEN_TO_NOBODY.get((as_get(method), route), 405 if route in OPEN_ROUTES else 302)
    for route in OPEN for method in METHODS
}


def routes() -> dict[str, list[str]]:
    """Every named route of the URLconf and the names of its arguments."""
    return dict(_routes_in(get_resolver().url_patterns, ""))


def _routes_in(patterns, namespace, names=()):
    for pattern in patterns:
        found = [*names, *pattern.pattern.converters]
        if isinstance(pattern, URLPattern):
            yield f"{namespace}{pattern.name}", found
        else:
            inner = f"{pattern.namespace}:" if pattern.namespace else ""
            yield from _routes_in(pattern.url_patterns, namespace + inner, found)


def address(route: str, keys: dict) -> str:
    """The path of a route, with what `furnish` put behind it."""
    wanted = routes()[route]
    kind = "results" if "results" in route else "roster"
    return reverse(route, kwargs={name: keys[f"{kind}_draft_id" if name == "draft_id" else name] for name in wanted})


def furnish(cast) -> dict:
    """Results, pain, follow-ups, a guardian and files for everyone; gives the keys of what belongs to Ama's class."""
    for number, (child, group) in enumerate(
        ((cast.other_student, cast.other_class), (cast.out_of_reach, cast.lonely_class), (cast.ama, cast.class_group))
    ):
        keys = _one_child(cast, child, group, number)
    holiday = Holiday.objects.create(
        term=cast.term, name="half-term", starts_on=dt.date(2026, 2, 16), ends_on=dt.date(2026, 2, 20)
    )
    meeting = ClassMeeting.objects.create(class_group=cast.class_group, weekday=1, starts_at=dt.time(16, 30))
    drafts = {
        f"{kind}_draft_id": keep_draft(
            kind=kind, filename=f"{kind}.csv", content=content, by=cast.owner,
            answers={"class_group": cast.class_group.pk, "term": cast.term.pk, "columns": columns, "order": ""},
        ).pk
        for kind, content, columns in (
            ("roster", b"name,born\nNele Vance,2014-06-01\n", {"0": "name", "1": "birth_on"}),
            ("results", b"student,measure,side,value,date\nAma Owiredu,rises,left,14,2026-03-10\n",
             {"0": "student", "1": "measure", "2": "side", "3": "value", "4": "date"}),
        )
    }
    kept = KeptImport.objects.create(
        kind="roster", filename="before.csv", counts={"refuse": 1}, headings=["name"], by=cast.owner,
        left_out=[{"row": 2, "cells": ["?"], "why": "“?” is not a name."}],
    )
    return keys | drafts | {
        "import_id": kept.pk,
        "term_id": cast.term.pk, "holiday_id": holiday.pk, "meeting_id": meeting.pk, "user_id": cast.teacher.pk,
        "measure_key": "rises", "exercise_key": "rises-one-foot", "battery_id": cast.battery.pk,
        "erasure_id": Erasure.objects.create(number=0, removed={}, results_kept=0, erased_by=cast.owner).pk,
        "run_key": _run(cast).key, "name": "all.pdf",
        "tablet_id": enrol_tablet(name="Tablet by the window", by=cast.owner)[0].pk,
    }


def _run(cast) -> ReportRun:
    run = ReportRun.objects.create(
        term=cast.term, kind="record", size="A4", asked_on=cast.screening.held_on, asked_by=cast.owner,
        expires_on=cast.screening.held_on,
    )
    run.sheets.create(student=cast.out_of_reach, position=0, state="left_out", reason="Nothing was measured.")
    return run


def _one_child(cast, child, group, number: int) -> dict:
    opened = cast.screening if group == cast.class_group else factories.ScreeningFactory(
        class_group=group, term=cast.term, battery=cast.battery, opened_by=cast.owner, held_on=cast.screening.held_on
    )
    result = measuring.record_result(
        key=uuid.UUID(int=number), screening=opened, student=child, measure=cast.rises, side="L",
        entry=Entry(value=Decimal(14)), by=cast.owner,
    )
    report = pain.report_pain(
        key=uuid.UUID(int=number), student=child, class_group=group, screening=opened, measure=cast.rises,
        places=["L-achilles"], feels=["sharp"], intensity=6, stopped="exercise", note="since Monday",
        reported_on=cast.screening.held_on, by=cast.owner,
    )
    follow_up, _made = open_follow_up(
        student=child, kind=FollowUp.NO_GAIN, class_group=group, opened_on=cast.screening.held_on,
        measure=cast.rises, side="L",
    )
    height = record_height(
        student=child, height_cm=Decimal("148.5"), measured_on=cast.screening.held_on, by=cast.owner
    )
    entry = plan_exercise(
        class_group=group, term=cast.term, student=child, exercise=Exercise.objects.get(key="short-foot"),
        dose=Dose(2, 8, 5), note="sitting", added_on=cast.screening.held_on, by=cast.owner,
    )
    class_log.log_change(
        key=uuid.UUID(int=number), day=class_log.ClassDay(group, cast.term, cast.screening.held_on),
        exercise=entry.exercise, student=child, change="fault:toes curled", by=cast.owner,
    )
    write_letter_text(student=child, term=cast.term, text="She listens with her feet.", after=None, by=cast.owner)
    write_handover_text(student=child, term=cast.term, text="Says little when it hurts.", by=cast.owner)
    guardian = factories.GuardianFactory(name=f"Guardian of {child.name}")
    guardian.students.add(child)
    tell_home(
        key=uuid.UUID(int=number), report=report, guardian=guardian, who="", way="phone", note="fetches her at six",
        by=cast.owner,
    )
    record_consent(
        student=child, scopes=[scope for scope, _words in Consent.SCOPES], is_given=True, said_by=guardian.name,
        way=Consent.FORM, at=timezone.now(), by=cast.owner,
    )
    return {
        "class_id": group.pk, "student_id": child.pk, "screening_id": opened.pk, "result_id": result.pk,
        "report_id": report.pk, "follow_up_id": follow_up.pk, "guardian_id": guardian.pk,
        "height_id": height.pk, "entry_id": entry.pk, "review_id": _review(cast, child).pk,
        "enrolment_id": child.enrolments.get().pk,
    }


def _review(cast, child):
    """A review with a teacher's and a health professional's view, decided, with a day to look again."""
    on = cast.screening.held_on
    review = open_review(student=child, why="The family asked.", on=on, by=cast.owner)
    say_points(review=review, said={"feet": ("not_yet", "The left foot tires.")}, whose="teacher", said_by="",
               said_on=on, by=cast.owner)
    say_points(review=review, said={"alignment": ("seen", "Knees track well.")}, whose="health", said_by="Dr Vane",
               said_on=on, by=cast.owner)
    decide(
        review=review, decided_on=on, asked=["family", "teacher"], names="Abena", decided="We wait for the autumn.",
        from_on=on, conditions="Two classes a week.", look_again_on=None,
        for_family="This year we work on strength.", by=cast.owner,
    )
    ladder = pointe_ladder()
    if ladder.pk is None:
        ladder.save()
    PointeStep.objects.create(student=child, ladder=ladder, step=1, note="Slowly.", on=on, by=cast.owner)
    PointeTime.objects.create(student=child, class_group=cast.class_group, held_on=on, minutes=17, said="fine",
                              by=cast.owner)
    return review
