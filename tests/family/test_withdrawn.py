"""Consent taken back at noon holds at a minute past: behind every door of the table, in files and in the mail."""
import datetime as dt
import re
import uuid

import pytest
from django.urls import reverse
from django.utils import timezone

from progress.actions import pain
from progress.actions.papers import reports
from progress.actions.standings import rebuild_standings
from progress.models import FollowUp, PainReport
from progress.queries.digest import digest_for
from screening.models import Protocol, Result
from studio.models import Consent
from tests import factories
from tests.conftest import TODAY
from tests.doors import FAMILY, OPEN, address, furnish
from tests.family.conftest import agree
from tests.family.test_family_doors import path_of
from tests.progress.test_reports import AT_ONCE
from tests.reading import words_of
from tests.test_access import QUESTIONS, knock

AS_A_PART = {"HX-Request": "true"}
NOON = dt.datetime(2026, 3, 24, 12, tzinfo=dt.UTC)
# What only Ama's own records say, as a reader would see it.
# (a count and the level that comes of it, a height; what hurt and that she rests).
HER_NUMBERS = (
    r"\b67\b", r"\b6[5-9]\b rises", r"\b148\.5\b", r"gaining|stalled|at target|not clear",
    r"Rises, left foot\s+about", r"Rises: both feet",
)
HER_PAIN = (
    "right big toe joint", "like needles", "9 of 10", "Ama rests", "No rises for now: Ama", "rest from rising",
    "no rises until answered",
)


@pytest.fixture
def keys(cast):
    """Ama with five weeks of 67 rises, a height, a sharp pain with a note, follow-ups; everything agreed."""
    keys = furnish(cast)
    protocol = Protocol.objects.get(measure=cast.rises)
    for week in range(5):
        held_on = TODAY - dt.timedelta(weeks=week)
        screening = cast.screening if not week else factories.ScreeningFactory(
            class_group=cast.class_group, term=cast.term, battery=cast.battery, opened_by=cast.teacher, held_on=held_on
        )
        for side in "LR":
            Result.objects.create(
                screening=screening, student=cast.ama, measure=cast.rises, protocol=protocol, side=side, value=67,
                attempt=2, taken_on=held_on, by=cast.owner, is_confirmed=True,
            )
    rebuild_standings()
    pain.report_pain(
        key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=None, measure=None,
        places=["R-big-toe-joint"], feels=["sharp"], intensity=9, stopped="exercise", note="like needles",
        reported_on=TODAY, by=cast.owner,
    )
    agree(cast, cast.ama, at=NOON - dt.timedelta(days=60))
    return keys


@pytest.fixture
def bound(cast, keys, settings, tmp_path, django_capture_on_commit_callbacks):
    """The key of a run whose files were bound an hour before noon."""
    settings.VAR_DIR, settings.TASKS = tmp_path, AT_ONCE
    with django_capture_on_commit_callbacks(execute=True):
        run = reports.order_reports(
            term=cast.term, kind="record", size="A4", students=[cast.ama], asked_on=TODAY, by=cast.owner)
    return run.key


@pytest.fixture
def before_noon(cast, time_machine):
    time_machine.move_to(NOON - dt.timedelta(hours=1), tick=False)


def comes_in_anew(client, cast):
    """A visit of an hour ago has ended, and would be shown nothing whatever stood there."""
    client.logout()
    client.force_login(cast.owner, backend="django.contrib.auth.backends.ModelBackend")


@pytest.fixture
def taken_back_at_noon(cast, as_owner, time_machine):
    """Takes these scopes back when the clock strikes twelve, and lets a minute pass; the owner has just come in."""
    def take_back(*scopes):
        time_machine.move_to(NOON, tick=False)
        agree(cast, cast.ama, *scopes, is_given=False)
        comes_in_anew(as_owner, cast)
        time_machine.move_to(NOON + dt.timedelta(minutes=1), tick=False)

    return take_back


def behind_every_door(staff, guardian, keys, run_key):
    """(where, answer) of every door of the table, as page and as part, with every question it understands."""
    for route, methods in OPEN.items():
        path = address(route, keys)
        for question in ("", *QUESTIONS.get(route, ())) if "GET" in methods else ():
            answer = knock(staff, "GET", path + question)
            yield f"{route}{question}", answer
            # What is printed or saved has no parts.
            if answer.headers["Content-Type"].startswith("text/html"):
                yield f"{route}{question}", knock(staff, "GET", path + question, headers=AS_A_PART)
        for headers in ({}, AS_A_PART) if "POST" in methods else ():
            yield f"{route} (sent)", knock(staff, "POST", path, headers=headers)
    for name in ("all.pdf", "all.zip"):
        yield f"{name} of the term", knock(staff, "GET", reverse("progress:report-file", args=[run_key, name]))
    for route, methods in FAMILY.items():
        for method in methods:
            yield route, knock(guardian, method, path_of(route, keys))


@pytest.fixture
def told(as_owner, amas, keys, bound):
    """Where one of these patterns is to be read."""
    def where(*patterns) -> set[str]:
        pattern = re.compile("|".join(patterns))
        doors = behind_every_door(as_owner, amas.client, keys | {"token": amas.token}, bound)
        return {door for door, answer in doors if pattern.search(readable(answer))}

    return where


def readable(answer) -> str:
    """What a person reads of it: no address and no key of a form, but the names of controls."""
    text = words_of(answer)
    if not answer.headers["Content-Type"].startswith("text/html"):
        return text
    text = re.sub(r"<style>.*?</style>", "", text, flags=re.DOTALL)
    named = re.findall(r'aria-label="([^"]*)"', text)
    return " ".join([re.sub(r"<[^>]*>", " ", text), *named])


@pytest.mark.thorough
def test_a_minute_before_noon_her_numbers_and_her_pain_are_there_to_be_found(before_noon, cast, told):
    numbers, hurts = told(*HER_NUMBERS), told(*HER_PAIN)
    files = {"all.pdf of the term", "all.zip of the term", "progress:student-record", COPY}
    assert numbers >= files | {
        "progress:student", "progress:results", "progress:class-sheet", "progress:print-class-sheet", "progress:sheet",
        "progress:story", "progress:heights", "progress:review", "progress:chart-figure", "progress:news",
        "progress:term-workbook", "progress:term-results",
        "progress:family-child", "progress:family-preview", "progress:family-letter",
    }
    assert hurts >= files | {
        "progress:student", "progress:story", "progress:referral-note", "progress:follow-ups",
        "progress:family-child", "progress:family-preview",
    }


# Whoever asks what is held about her gets all of it while it is held, agreed to or not (GDPR, article 15).
COPY, COPY_SENT = "progress:student-copy", "progress:student-copy (sent)"
# Says what the words of the judgement mean, about nobody.
HELP = "studio:help"


@pytest.mark.thorough
def test_a_minute_after_measurements_were_taken_back_no_door_says_a_number_of_hers(
    before_noon, cast, told, taken_back_at_noon
):
    taken_back_at_noon(Consent.MEASUREMENTS)
    assert told(*HER_NUMBERS) - {COPY, COPY_SENT, HELP} == set()


@pytest.mark.thorough
def test_a_minute_after_pain_notes_were_taken_back_no_door_says_that_it_hurt(
    before_noon, cast, told, as_owner, taken_back_at_noon
):
    """The form that asks where it hurts names all places; it is not shown for her either."""
    taken_back_at_noon(Consent.PAIN)
    assert told(*HER_PAIN) - {COPY, COPY_SENT} == set()
    for report in PainReport.objects.filter(student=cast.ama):
        assert as_owner.get(reverse("progress:pain-next-step", args=[report.pk])).status_code == 404


def test_a_minute_after_the_familys_page_was_taken_back_no_link_says_anything(
    before_noon, cast, amas, keys, as_owner, taken_back_at_noon
):
    taken_back_at_noon(Consent.FAMILY)
    named = [
        route for route, methods in FAMILY.items() for method in methods
        if "Ama" in readable(knock(amas.client, method, path_of(route, keys | {"token": amas.token})))
    ]
    assert named == []
    assert as_owner.get(address("progress:family-letter", keys)).status_code == 302


def test_a_minute_after_sharing_with_a_clinician_was_taken_back_there_is_no_note(
    before_noon, cast, keys, as_owner, taken_back_at_noon
):
    path = address("progress:referral-note", keys)
    assert "like needles" in as_owner.get(path).content.decode()
    taken_back_at_noon(Consent.CLINICIAN)
    answer = as_owner.get(path).content.decode()
    assert "Nobody has agreed yet" in answer and "like needles" not in answer


def test_files_of_this_morning_are_closed_by_a_letter_of_yesterday_that_was_typed_in_since(
    before_noon, cast, keys, bound, as_owner, time_machine
):
    path = reverse("progress:report-file", args=[bound, "all.pdf"])
    assert "9 of 10" in readable(as_owner.get(path))
    time_machine.move_to(NOON, tick=False)
    agree(cast, cast.ama, Consent.PAIN, is_given=False, at=NOON - dt.timedelta(days=1))
    comes_in_anew(as_owner, cast)
    assert as_owner.get(path).status_code == 302


def test_the_daily_mail_counts_nothing_of_what_was_taken_back(before_noon, cast, keys, taken_back_at_noon):
    FollowUp.objects.exclude(student=cast.ama).update(acts=None)
    FollowUp.objects.filter(student=cast.ama).update(acts=cast.owner, due_on=TODAY)
    assert "Stop signs: 1" in digest_for(cast.owner, today=TODAY, now=timezone.now()).body
    taken_back_at_noon(Consent.PAIN)
    assert digest_for(cast.owner, today=TODAY, now=timezone.now()).body.startswith("Stalled or slipping: 1\n")
    taken_back_at_noon(Consent.MEASUREMENTS)
    assert digest_for(cast.owner, today=TODAY, now=timezone.now()) is None


def test_a_printed_record_has_nothing_of_what_was_taken_back(cast, keys, as_owner):
    path = reverse("progress:student-record", args=[cast.ama.pk])
    assert re.search("|".join(HER_NUMBERS), readable(as_owner.get(path)))
    agree(cast, cast.ama, Consent.MEASUREMENTS, Consent.PAIN, is_given=False)
    printed = readable(as_owner.get(path))
    assert "Ama Owiredu" in printed and not re.search("|".join(HER_PAIN + HER_NUMBERS), printed)


@pytest.mark.thorough
def test_given_again_it_is_all_there_again(cast, told):
    agree(cast, cast.ama, Consent.MEASUREMENTS, is_given=False)
    agree(cast, cast.ama, Consent.MEASUREMENTS)
    assert "progress:results" in told(*HER_NUMBERS)


def test_her_follow_ups_go_and_come_with_the_consent_they_need(cast, keys, as_owner):
    listed = "Stalled or slipping", "Stop signs"
    agree(cast, cast.ama, Consent.MEASUREMENTS, is_given=False)
    page = as_owner.get(reverse("progress:student", args=[cast.ama.pk])).content.decode()
    assert [kind in page for kind in listed] == [False, True]
    agree(cast, cast.ama, Consent.MEASUREMENTS)
    agree(cast, cast.ama, Consent.PAIN, is_given=False)
    page = as_owner.get(reverse("progress:student", args=[cast.ama.pk])).content.decode()
    assert [kind in page for kind in listed] == [True, False]
    assert FollowUp.objects.filter(student=cast.ama, closed_at__isnull=True).count() == 2


def test_the_class_sheet_says_no_consent_and_nothing_else_about_her(cast, keys, as_owner):
    agree(cast, cast.ama, Consent.MEASUREMENTS, is_given=False)
    rows = as_owner.get(reverse("progress:class-sheet", args=[cast.class_group.pk])).context["sheet"].rows
    [hers] = [row for row in rows if row.student == cast.ama]
    assert {(cell.verdict, cell.value) for cell in hers.cells} == {("", "")}
    assert hers.still == "no consent"
