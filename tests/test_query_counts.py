"""Pages ask the database as often for fifty students as for five; pinned, so that a loop of questions shows."""
import datetime as dt
from decimal import Decimal

import pytest
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from progress.actions.follow_ups import add_note, open_follow_up
from progress.actions.standings import rebuild_standings
from progress.models import FollowUp, PainReport
from screening.models import Protocol, Result, Screening
from screening.results_file import guess_columns as guess_results
from studio.actions import keep_draft
from studio.entrance.actions import enrol_tablet
from studio.models import ClassMeeting, Student
from studio.roster_file import guess_columns as guess_roster
from tests import factories
from tests.family.conftest import agree

# As many weeks as make a verdict instead of "too early".
WEEKS = 6
# The largest page asks less than this, the session and the studio's row included; more is a page to look at.
# 33 since rests are asked for by open follow-ups, too: pain that is to be seen, beside reports and steps; 34 since the
# programme says how often to measure, for which it asks on which days the class meets.
MOST_QUESTIONS = 34
# What a family reads tells pain that is open with its answers, who at home was told, what the student may do, and the
# day of the next class and of the next measuring; the letter's page asks beside it for its words, whether anything
# was measured, and for a follow-up that keeps it from being printed. The child's rows alone, so as many for every
# class.
# The story begins with the term on one line: its chart, what rests and the programme are asked for beside the entries;
# 43 since it tells of pointe reviews, steps and minutes.
MORE_QUESTIONS = {"what the family reads": 36, "words of a letter": 39, "story": 43}


def newcomers(cast, count: int) -> list[Student]:
    children = [factories.StudentFactory(added_by=cast.owner) for _n in range(count)]
    for child in children:
        factories.EnrolmentFactory(student=child, class_group=cast.class_group, term=cast.term)
    return children


def weekly_screenings(cast) -> list[Screening]:
    days = [cast.screening.held_on - dt.timedelta(weeks=back) for back in range(WEEKS, 0, -1)]
    return [cast.screening, *(factories.ScreeningFactory(
        class_group=cast.class_group, term=cast.term, battery=cast.battery, held_on=day, opened_by=cast.teacher,
        closed_by=cast.teacher, closed_at=dt.datetime.combine(day, dt.time(18), dt.UTC),
    ) for day in days)]


def fill(cast, children: list[Student], screenings: list[Screening]) -> None:
    """Measures each child in each screening; gives her pain, follow-ups and a guardian."""
    measures = [(measure, Protocol.objects.get(measure=measure)) for measure in (cast.rises, cast.balance)]
    Result.objects.bulk_create(
        Result(
            screening=screening, student=child, measure=measure, protocol=protocol, side=side,
            value=Decimal(9 + (number + week) % 4), taken_on=screening.held_on, by=cast.teacher,
        )
        for number, child in enumerate(children) for week, screening in enumerate(screenings)
        for measure, protocol in measures for side in "LR"
    )
    for child in children:
        factories.GuardianFactory().students.add(child)
        agree(cast, child)
        report = PainReport.objects.create(
            student=child, screening=cast.screening, measure=cast.rises, places=["L-achilles"], feels=["sharp"],
            intensity=6, asks="stop", reported_on=cast.screening.held_on, reported_by=cast.teacher,
        )
        opened = {"student": child, "class_group": cast.class_group, "opened_on": cast.screening.held_on}
        stop, _made = open_follow_up(kind=FollowUp.STOP_SIGN, **opened)
        stop.pain_reports.add(report)
        add_note(follow_up=stop, text="sat out", by=cast.teacher)
        open_follow_up(kind=FollowUp.NO_GAIN, measure=cast.rises, side="L", **opened)
    rebuild_standings()


def questions_of(client, path) -> int:
    # The audit leaves out a look like one a short while ago; here each is the first.
    cache.clear()
    with CaptureQueriesContext(connection) as asked:
        assert client.get(path).status_code == 200
    return len(asked)


def addresses(cast) -> dict[str, str]:
    group, screening = [cast.class_group.pk], [cast.screening.pk]
    return {
        "today": reverse("progress:today"),
        "barre": reverse("progress:barre"),
        "class sheet": reverse("progress:class-sheet", args=group),
        "one strand": reverse("progress:class-sheet", args=group) + "?measure=rises",
        "student": reverse("progress:student", args=[cast.ama.pk]),
        "results": reverse("progress:results", args=[cast.ama.pk]),
        "story": reverse("progress:story", args=[cast.ama.pk]),
        "height": reverse("progress:heights", args=[cast.ama.pk]),
        "way back": reverse("progress:way-back", args=[cast.ama.pk]),
        "record": reverse("progress:student-record", args=[cast.ama.pk]),
        "words of a letter": reverse("progress:write-letter", args=[cast.ama.pk]),
        "printed class sheet": reverse("progress:print-class-sheet", args=group),
        "term overview": reverse("progress:term-overview", args=[cast.term.pk]),
        "referral note": reverse("progress:referral-note", args=[cast.ama.pk]),
        "follow-ups": reverse("progress:follow-ups"),
        "my follow-ups": reverse("progress:follow-ups") + "?view=mine",
        "sheet": reverse("progress:sheet", args=[*screening, "rises"]),
        "run": reverse("progress:run", args=[*screening, "rises"]),
        "run, one at a time": reverse("progress:run-one", args=[*screening, "rises"]),
        "screening": reverse("progress:screening", args=screening),
        "open a screening": reverse("progress:open-screening", args=group),
        "programme": reverse("progress:programme", args=group),
        "years": reverse("progress:years", args=[cast.ama.pk]),
        "pointe work of the class": reverse("progress:class-pointe", args=group),
        "pointe work": reverse("progress:student-pointe", args=[cast.ama.pk]),
        "reviews of the class": reverse("progress:class-reviews", args=group),
        "pointe review": reverse("progress:review", args=[cast.ama.pk]),
        "barre card": reverse("progress:barre-card", args=group),
        "class log": reverse("progress:class-log", args=group),
        "work in class": reverse("progress:student-work", args=[cast.ama.pk]),
        "exercises": reverse("progress:exercises"),
        "families": reverse("studio:families", args=group),
        "consents": reverse("studio:consents", args=[cast.ama.pk]),
        "what the family reads": reverse("progress:family-preview", args=[cast.ama.pk]),
        "forms to sign": reverse("studio:consent-forms", args=group),
        "roster": reverse("studio:class-roster", args=group),
        "the line": reverse("studio:class-line", args=group),
        "classes": reverse("studio:classes"),
        "add a student": reverse("studio:add-student", args=group),
        "office": reverse("studio:office"),
        "students": reverse("studio:students"),
    }


@pytest.mark.parametrize("person", ["owner", "teacher"])
def test_fifty_students_ask_no_more_of_the_database_than_five(cast, client, person):
    pages = addresses(cast)
    if person == "teacher":
        pages = {name: path for name, path in pages.items() if not path.startswith("/office/")}
    client.force_login(getattr(cast, person), backend="django.contrib.auth.backends.ModelBackend")
    ClassMeeting.objects.create(class_group=cast.class_group, weekday=1, starts_at=dt.time(16, 30))
    counts, screenings = {}, weekly_screenings(cast)
    for children in ([cast.ama, cast.bettina, *newcomers(cast, 3)], newcomers(cast, 45)):
        fill(cast, children, screenings)
        for name, path in pages.items():
            counts.setdefault(name, []).append(questions_of(client, path))
    assert {name: found for name, found in counts.items() if found[0] != found[1]} == {}
    too_many = {
        name: found for name, found in counts.items() if found[1] > MORE_QUESTIONS.get(name, MOST_QUESTIONS)
    }
    assert too_many == {}


def test_an_enrolled_tablet_asks_twice_more_for_itself_and_for_the_pin(as_teacher, cast):
    before = questions_of(as_teacher, "/")
    as_teacher.cookies["tablet"] = enrol_tablet(name="Tablet", by=cast.owner)[1]
    as_teacher.get("/")
    assert questions_of(as_teacher, "/") == before + 2


def test_ten_classes_ask_no_more_of_the_database_than_three(as_owner, cast):
    names = ("progress:today", "progress:barre", "studio:classes", "studio:office", "studio:students")
    pages = [reverse(name) for name in names]
    ClassMeeting.objects.create(class_group=cast.class_group, weekday=1, starts_at=dt.time(16, 30))
    # One has a screening open, one has none; the third meets on another day.
    ClassMeeting.objects.create(class_group=cast.other_class, weekday=1, starts_at=dt.time(18, 0))
    before = [questions_of(as_owner, path) for path in pages]
    for number in range(7):
        group = factories.ClassGroupFactory()
        group.teachers.add(cast.teacher)
        child = factories.StudentFactory()
        factories.EnrolmentFactory(student=child, class_group=group, term=cast.term)
        ClassMeeting.objects.create(class_group=group, weekday=1, starts_at=dt.time(9 + number))
    assert [questions_of(as_owner, path) for path in pages] == before


@pytest.mark.parametrize("kind, heading, row", [
    ("roster", "name,born,guardian", "Pupil Number{n},2014-06-01,Guardian {n}"),
    ("results", "student,measure,side,attempt,value,date", "Ama Owiredu,rises,left,1,9,2026-03-{n:02}"),
])
def test_the_preview_of_twenty_rows_asks_no_more_of_the_database_than_one_of_two(as_owner, cast, kind, heading, row):
    counts = []
    for size in (2, 20):
        lines = [heading, *(row.format(n=n) for n in range(1, size + 1))]
        columns = guess_roster(lines[0].split(",")) if kind == "roster" else guess_results(lines[0].split(","))
        draft = keep_draft(
            kind=kind, filename="a.csv", content="\n".join(lines).encode(), by=cast.owner,
            answers={"class_group": cast.class_group.pk, "term": cast.term.pk, "columns": columns, "order": ""},
        )
        route = {"roster": "studio:check-roster", "results": "progress:check-results"}[kind]
        counts.append(questions_of(as_owner, reverse(route, args=[draft.pk])))
    assert counts[0] == counts[1]
