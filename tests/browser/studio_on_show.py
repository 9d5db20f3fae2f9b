"""The demo studio with every kind of page in it, for tests and pictures that look and never write."""
import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client, override_settings
from django.urls import reverse
from pytest_django.live_server_helper import LiveServer

from progress.actions.classwork.exercises import fill_in_exercises
from progress.actions.demo import fill_in_demo
from progress.actions.papers.reports import order_reports
from progress.actions.pointe_weeks import log_minutes, put_on_step
from progress.actions.reviews import decide, open_review, say_points
from progress.models import FollowUp, PainReport, ReportRun, Review
from screening.actions import fill_in_catalogue
from screening.models import Battery, BatteryMeasure, Measure, Result, Screening
from studio.actions import make_owner, make_stages
from studio.family.actions import make_key
from studio.models import ClassGroup, Enrolment, ImportDraft, Student, Term, User

NOW = dt.datetime(2026, 3, 24, 17, 0, tzinfo=dt.UTC)
DAY = NOW.date()
PASSWORD = "barre-and-floor-barre"
PLAIN_FILES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
# Every date can be read with the day or the month first; the second name needs Windows-1252.
ROSTER = (
    "Full name;Date of birth;Level\n"
    "Odalys Brenner;03/04/2014;Pre-pointe\nZoë Lindqvåg;05/06/2013;Pre-pointe\n"
).encode("cp1252")
RESULTS = (
    b"Student;Date;Rises left;Rises right\n"
    b"Dunya Rahmani;03/02/2026;11;12\nDunya Rahmani;05/02/2026;10;999\n"
)


@dataclass
class Show:
    """The studio and what its pages are about. `address` is set by whoever serves it.

    `family_cookie`: of a device on which the student's family has opened its link; `unopened`: another family's token.
    """

    owner: User
    teacher: User
    a_class: ClassGroup
    student: Student
    screening: Screening
    all_kinds: Screening
    twelve: Screening
    follow_up: FollowUp
    report: PainReport
    result: Result
    roster: ImportDraft
    results: ImportDraft
    review: Review
    run: ReportRun
    term: Term
    family_cookie: str
    unopened: str
    address: str = ""


@contextmanager
def served_show() -> Iterator[Show]:
    """The studio in a database and on a server of its own; the caller holds the clock while it looks.

    Of its own, because the tests' database is emptied after every test, and where no test asked for that
    one yet, the studio's real one is what Django would write into.
    """
    before = connection.settings_dict["NAME"]
    test = connection.settings_dict["TEST"]
    usual = test["NAME"]
    test["NAME"] = f"{usual}-show" if usual else "test_risebook_show"
    connection.close()
    connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
    test["NAME"] = usual
    hasher = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    try:
        settings = override_settings(PASSWORD_HASHERS=hasher, STORAGES=PLAIN_FILES)
        with settings, time_machine.travel(NOW, tick=False):
            show = build_show()
        server = LiveServer("localhost")
        show.address = server.url
        yield show
        server.stop()
        if connection.vendor == "postgresql":
            # A thread of the server may be about to close its own connection; a base that is in use is not dropped.
            with connection.cursor() as cursor:
                cursor.execute(
                    "select pg_terminate_backend(pid, 5000) from pg_stat_activity"
                    " where datname = current_database() and pid <> pg_backend_pid()"
                )
    finally:
        connection.creation.destroy_test_db(before, verbosity=0)


def build_show() -> Show:
    """Builds the studio into an empty database; the clock must stand on DAY."""
    make_stages()
    fill_in_catalogue()
    fill_in_exercises()
    make_owner(username="ottoline", name="Owner")
    made = fill_in_demo(today=DAY)
    owner, teacher = User.objects.get(username="ottoline"), made["teacher"]
    for person in (owner, teacher):
        person.set_password(PASSWORD)
        person.save()
    a_class = ClassGroup.objects.get(name="Pre-pointe A")
    student = Student.objects.get(name="Dunya Rahmani")
    client = Client()
    client.force_login(owner, backend="django.contrib.auth.backends.ModelBackend")
    report, term = PainReport.objects.filter(student__name="Hana Okabe").latest("pk"), Term.objects.latest("starts_on")
    _score_again(a_class, teacher)
    return Show(
        owner=owner, teacher=teacher, a_class=a_class, student=student,
        screening=Screening.objects.get(class_group=a_class, held_on=DAY),
        all_kinds=_screening_of_twelve(_one_of_each_kind(), owner),
        twelve=_screening_of_twelve(Battery.objects.get(key="barre-check"), owner),
        follow_up=report.follow_ups.latest("pk"), report=report,
        result=Result.objects.filter(student=student, measure__key="rises").latest("pk"),
        roster=_bring(client, "studio:bring-roster", "roster.csv", ROSTER, a_class),
        results=_bring(client, "progress:bring-results", "results.csv", RESULTS, a_class),
        review=_reviewed(student, owner, teacher),
        run=order_reports(term=term, kind="record", size="A4", students=[student], asked_on=DAY, by=owner),
        term=term, family_cookie=_opened_by_family(student, owner),
        unopened=_link_of("Freya Lindmark", owner),
    )


def _reviewed(student: Student, owner: User, teacher: User) -> Review:
    """A review with two people's views and a decision, and the first minutes on pointe."""
    review = open_review(student=student, why="The family asked.", on=DAY, by=owner)
    for whose, name, answer, by in (("teacher", "", "seen", teacher), ("health", "Dr Imke Vane", "not_yet", owner)):
        said = {"feet": (answer, "The left foot tires after eight rises."), "trunk": ("not_looked", "")}
        say_points(review=review, said=said, whose=whose, said_by=name, said_on=DAY, by=by)
    decide(
        review=review, decided_on=DAY, asked=["family", "teacher"], names="Abena Owusu", decided="We begin in autumn.",
        from_on=DAY + dt.timedelta(days=160), conditions="Two classes a week.", by=owner,
    )
    put_on_step(student=student, step=1, note="Steady.", on=DAY, by=owner)
    group = student.enrolments.latest("joined_on").class_group
    log_minutes(student=student, class_group=group, held_on=DAY, minutes=15, said="fine", by=owner)
    return review


def _score_again(group: ClassGroup, by: User) -> None:
    """Six children of an earlier day, scored by a second pair of eyes; the lines stay as they were."""
    rows = Result.objects.filter(screening__class_group=group, measure__key="rises", side="L", taken_on__lt=DAY)
    day = rows.latest("taken_on").taken_on
    for at, row in enumerate(rows.filter(taken_on=day).exclude(by=by).order_by("-student__name")[:6]):
        Result.objects.create(
            screening=row.screening, student=row.student, measure=row.measure, protocol=row.protocol, side="L",
            attempt=row.attempt + 1, value=row.value + at % 3, taken_on=day, by=by,
        )


def _link_of(name: str, owner: User) -> str:
    guardian = Student.objects.get(name=name).guardians.get()
    return make_key(guardian=guardian, term=Term.objects.latest("starts_on"), by=owner)


def _opened_by_family(student: Student, owner: User) -> str:
    client = Client()
    client.get(reverse("studio:family-card", args=[_link_of(student.name, owner)]))
    client.post(reverse("studio:family-entrance"), {"birth_on": student.birth_on.isoformat()})
    return client.cookies["family"].value


def _one_of_each_kind() -> Battery:
    battery = Battery.objects.create(name="One of each kind", key="one-of-each", position=9)
    first = {measure.kind: measure for measure in Measure.objects.order_by("-position")}
    for at, measure in enumerate(first.values()):
        BatteryMeasure.objects.create(battery=battery, measure=measure, position=at)
    return battery


def _screening_of_twelve(battery: Battery, owner: User) -> Screening:
    """An empty screening of a class of twelve that meets on no day and so stays off the first page."""
    group, is_new = ClassGroup.objects.get_or_create(name="Open morning")
    term = Term.objects.latest("starts_on")
    twelve = Student.objects.filter(enrolments__class_group__name="Pre-pointe B").distinct()
    for child in twelve if is_new else ():
        Enrolment.objects.create(student=child, class_group=group, term=term, joined_on=term.starts_on)
    return Screening.objects.create(
        class_group=group, term=term, battery=battery, held_on=DAY, opened_by=owner
    )


def _bring(client: Client, room: str, name: str, content: bytes, group: ClassGroup) -> ImportDraft:
    upload = SimpleUploadedFile(name, content, content_type="text/csv")
    term = Term.objects.latest("starts_on")
    client.post(reverse(room), {"file": upload, "class_group": group.pk, "term": term.pk})
    return ImportDraft.objects.get(filename=name)


def _way(room: str, **about: Callable[[Show], object]) -> Callable[[Show], str]:
    return lambda show: reverse(room, kwargs={name: read(show) for name, read in about.items()})


def _sheet(kind: str) -> Callable[[Show], str]:
    def way(show: Show) -> str:
        key = next(e.measure.key for e in show.all_kinds.battery.entries.all() if e.measure.kind == kind)
        return reverse("progress:sheet", args=[show.all_kinds.pk, key])

    return way


def _a_student(show: Show) -> int:
    return show.student.pk


def _a_class(show: Show) -> int:
    return show.a_class.pk


def _of_full_class(key: str) -> Callable[[Show], str]:
    return lambda show: reverse("progress:sheet", args=[show.screening.pk, key])


def _run(key: str, more: str = "") -> Callable[[Show], str]:
    return lambda show: reverse("progress:run", args=[show.twelve.pk, key]) + more


def _hurts(show: Show) -> str:
    return reverse("progress:report-pain", args=[show.screening.pk, show.student.pk]) + "?measure=rises"


# Every page a person can stand on: its name, and the way to it.
STAFF_ROOMS: dict[str, Callable[[Show], str]] = {
    "today": _way("progress:today"),
    "classes": _way("studio:classes"),
    "help": _way("studio:help"),
    "class sheet": _way("progress:class-sheet", class_id=_a_class),
    "roster": _way("studio:class-roster", class_id=_a_class),
    "the line": _way("studio:class-line", class_id=_a_class),
    "add student": _way("studio:add-student", class_id=_a_class),
    "move": _way("studio:move-class", enrolment_id=lambda s: _enrolment(s).pk),
    "leave": _way("studio:leave-class", enrolment_id=lambda s: _enrolment(s).pk),
    "student": _way("progress:student", student_id=_a_student),
    "work in class": _way("progress:student-work", student_id=_a_student),
    "particulars": _way("progress:edit-student", student_id=_a_student),
    "guardian": _way("studio:add-guardian", student_id=_a_student),
    "all results": lambda show: reverse("progress:results", args=[show.student.pk]) + "?measure=rises",
    "correct result": _way("progress:correct-result", result_id=lambda s: s.result.pk),
    "story": _way("progress:story", student_id=lambda s: s.report.student_id),
    "height": _way("progress:heights", student_id=_a_student),
    "family letter": _way("progress:write-letter", student_id=_a_student),
    "pointe review": _way("progress:review", student_id=_a_student),
    "view of the points": _way("progress:say-points", review_id=lambda s: s.review.pk),
    "view of somebody else": lambda show: reverse("progress:say-points", args=[show.review.pk]) + "?whose=health",
    "decision": _way("progress:decide-review", review_id=lambda s: s.review.pk),
    "reviews of a class": _way("progress:class-reviews", class_id=_a_class),
    "handing over": _way("progress:write-handover", student_id=_a_student),
    "years": _way("progress:years", student_id=_a_student),
    "minutes of a class": _way("progress:class-pointe", class_id=_a_class),
    "first weeks on pointe": _way("progress:student-pointe", student_id=_a_student),
    "steps on pointe": _way("progress:pointe-ladder"),
    "the studio's years": _way("progress:studio-years"),
    "way back": _way("progress:way-back", student_id=lambda s: s.report.student_id),
    "referral note": _way("progress:referral-note", student_id=lambda s: s.report.student_id),
    "return steps": _way("progress:return-ladder"),
    "pain rules": _way("progress:pain-rules"),
    "follow-ups": _way("progress:follow-ups"),
    "follow-up": _way("progress:follow-up", follow_up_id=lambda s: s.follow_up.pk),
    "closing": _way("progress:close-follow-up", follow_up_id=lambda s: s.follow_up.pk),
    "open screening": _way("progress:open-screening", class_id=_a_class),
    "screening": _way("progress:screening", screening_id=lambda s: s.screening.pk),
    "account": _way("studio:account"),
    "your PIN": _way("studio:edit-pin"),
    "second factor": _way("studio:second-factor"),
    "families": _way("studio:families", class_id=_a_class),
    "consents": _way("studio:consents", student_id=_a_student),
    "forms to sign": _way("studio:consent-forms", class_id=_a_class),
    "leavers": _way("studio:leavers"),
    "certificates of erasure": _way("progress:erasures"),
    "assessment": _way("studio:assessment"),
    "what the family reads": _way("progress:family-preview", student_id=_a_student),
    "office": _way("studio:office"),
    "tablets": _way("studio:tablets"),
    "who saw what": _way("studio:audit"),
    "erase": _way("progress:erase-student", student_id=_a_student),
    "the studio": _way("studio:edit-studio"),
    "term": _way("studio:edit-term", term_id=lambda s: s.term.pk),
    "class": _way("studio:edit-class", class_id=_a_class),
    "person": _way("studio:edit-person", user_id=lambda s: s.teacher.pk),
    "students": _way("studio:students"),
    "term reports": _way("progress:reports"),
    "reports being printed": _way("progress:report-run", run_key=lambda s: s.run.key),
    "network": _way("studio:network"),
    "trust": _way("studio:trust"),
    "measures": _way("progress:catalogue"),
    "measure": _way("progress:edit-measure", measure_key=lambda s: "rises"),
    "protocol": _way("progress:edit-protocol", measure_key=lambda s: "landing-control"),
    "battery": _way("progress:add-battery"),
    "targets": _way("progress:targets"),
    "assessors": _way("progress:assessors"),
    "programme": _way("progress:programme", class_id=_a_class),
    "barre card": _way("progress:barre-card", class_id=_a_class),
    "exercises": _way("progress:exercises"),
    "exercise": _way("progress:exercise", exercise_key=lambda s: "rises-one-foot"),
    "edit exercise": _way("progress:edit-exercise", exercise_key=lambda s: "short-foot"),
    "bring roster": _way("studio:bring-roster"),
    "roster preview": _way("studio:check-roster", draft_id=lambda s: s.roster.pk),
    "bring results": _way("progress:bring-results"),
    "results preview": _way("progress:check-results", draft_id=lambda s: s.results.pk),
    "not found": lambda show: "/students/0/",
}
BARRE_ROOMS: dict[str, Callable[[Show], str]] = {
    "barre": _way("progress:barre"),
    "help at the barre": _way("progress:barre-help"),
    "group run": _run("rises"),
    "run of holds": _run("passe-balance"),
    "one at a time": _run("rises", "one/"),
    "sheet of counts": _sheet("count"),
    "sheet of seconds": _sheet("seconds"),
    "sheet of grades": _sheet("grade"),
    "sheet of tallies": _sheet("tally"),
    "counts of sixteen": _of_full_class("rises"),
    "holds of sixteen": _of_full_class("passe-balance"),
    "grades of sixteen": _of_full_class("landing-control"),
    "grades of twelve": lambda show: reverse("progress:sheet", args=[show.twelve.pk, "landing-control"]),
    "class log": _way("progress:class-log", class_id=_a_class),
    "class log of an exercise": lambda show: reverse("progress:class-log", args=[show.a_class.pk])
    + f"?exercise=rises-one-foot&student={show.student.pk}",
    "it hurts": _hurts,
    "next step": _way("progress:pain-next-step", report_id=lambda s: s.report.pk),
}
# What a family sees, on a device that has opened its link.
FAMILY_ROOMS: dict[str, Callable[[Show], str]] = {
    "family page": _way("progress:family-child", student_id=_a_student),
    "family, kept": _way("progress:family-kept", student_id=_a_student),
    "family entrance": _way("studio:family-card", token=lambda s: s.unopened),
}
ROOMS = {**STAFF_ROOMS, **BARRE_ROOMS, **FAMILY_ROOMS}


def _enrolment(show: Show) -> Enrolment:
    return Enrolment.objects.filter(student=show.student, term=show.term).get()
