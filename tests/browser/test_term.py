"""A term of one child: screened, trained, hurt in class without a network, cleared, back in steps, screened again.

What the pages say of her at its end is the same everywhere.
"""
import datetime as dt
import re
import uuid

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from progress.actions.day import ClassDay, state_attendance
from progress.models import FollowUp, LogEntry, PainAnswer, PainReport, ReturnStep, Standing
from progress.queries import resting_students
from screening.models import Result
from studio.entrance import visits
from studio.family.models import Consent
from studio.models import ClassMeeting
from tests import factories
from tests.browser.conftest import all_sent
from tests.conftest import Cast
from tests.family.conftest import agree

pytestmark = pytest.mark.django_db(transaction=True)

FIRST, LAST = dt.date(2026, 1, 13), dt.date(2026, 3, 24)
# Six classes; in the fourth it hurts, in the fifth she rests, before the sixth a clinician has seen her.
CLASSES = [dt.date(2026, 1, 20) + dt.timedelta(weeks=week) for week in range(6)]
HURT_ON, SEEN_ON = CLASSES[3], CLASSES[5]
ONE_FOOT, DOMING = "rises-one-foot", "short-foot"
RISES_ONE_FOOT = 4
COUNTS = {FIRST: ("8", "9"), LAST: ("15", "17")}
BETWEEN = {dt.date(2026, 1, 27): (9, 11), dt.date(2026, 3, 3): (11, 12)}


@pytest.fixture
def go(page: Page, cast: Cast, server: str, enter, time_machine, settings, monkeypatch):
    """Opens a page on a day of the term, as the teacher."""
    # The clock jumps over weeks: a page that still asks for news must not find its visit run out.
    settings.SESSION_COOKIE_AGE = 400 * 24 * 60 * 60
    monkeypatch.setattr(visits, "DESK_IDLE", dt.timedelta(days=400))
    cast.screening.delete()
    ClassMeeting.objects.create(class_group=cast.class_group, weekday=1, starts_at=dt.time(16, 30))

    def to(path: str, on: dt.date) -> None:
        time_machine.move_to(dt.datetime.combine(on, dt.time(17), dt.UTC), tick=False)
        enter(cast.teacher, server)
        time_machine.move_to(dt.datetime.combine(on, dt.time(17), dt.UTC), tick=False)
        page.goto(f"{server}{path}")

    return to


def screen(page: Page, cast: Cast, go, on: dt.date) -> None:
    go(f"/classes/{cast.class_group.pk}/open-screening/", on)
    page.get_by_role("button", name="Open it").tap()
    page.wait_for_url("**/barre/screenings/*/")
    page.goto(page.url + "rises/")
    for side, value in zip(("left", "right"), COUNTS[on], strict=True):
        page.get_by_label(f"Ama, {side}", exact=True).fill(value)
        page.keyboard.press("Enter")
    all_sent(page)
    page.get_by_role("link", name="Leave the barre").tap()
    page.get_by_role("button", name="Close the screening").tap()
    expect(page.get_by_role("heading", name="Missing")).to_be_visible()


def plan_two_exercises(page: Page, cast: Cast, go) -> None:
    go(f"/classes/{cast.class_group.pk}/programme/", FIRST)
    for number, key in enumerate((ONE_FOOT, DOMING), start=1):
        page.locator(".plan-more summary").tap()
        page.locator("#id_exercise").select_option(key)
        page.locator(".plan-form").get_by_role("button", name="Add").tap()
        expect(page.locator("ol.plan > li:not(.empty)")).to_have_count(number)


def log_class(page: Page, cast: Cast, go, on: dt.date) -> None:
    go(f"/barre/classes/{cast.class_group.pk}/log/", on)
    page.get_by_role("button", name=re.compile("are here|All are here|all here", re.IGNORECASE)).first.tap()
    for key in (ONE_FOOT, DOMING):
        page.locator(f'[data-row="{key}"]').get_by_role("button").tap()
    all_sent(page)


def hurt_without_a_network(page: Page, cast: Cast, go) -> None:
    go(f"/barre/classes/{cast.class_group.pk}/log/", HURT_ON)
    page.locator(".picker.hurts summary").tap()
    page.locator(".picker.hurts").get_by_role("link", name="Ama").tap()
    page.wait_for_url("**/hurts/**")
    page.context.set_offline(True)
    page.locator(".foot-tap-behind-L-achilles").tap()
    page.locator("label.answer", has_text="sharp, pin-point").tap()
    page.locator("label.answer", has_text="today").tap()
    page.get_by_role("button", name="Next step").tap()
    expect(page.get_by_role("heading", name="Stop for today.")).to_be_visible()
    assert not PainReport.objects.exists()
    page.context.set_offline(False)
    page.wait_for_url(re.compile(r"/barre/pain/\d+/"))
    assert PainReport.objects.get().reported_on == HURT_ON
    assert resting_students([cast.ama.pk], now=timezone.now()) == {cast.ama.pk}


def clear_her(page: Page, cast: Cast, go) -> None:
    go(f"/students/{cast.ama.pk}/referral-note/", SEEN_ON)
    # The note is for somebody outside the house: the family is asked first.
    expect(page.get_by_role("heading", name="Ask the family first")).to_be_visible()
    agree(cast, cast.ama, Consent.CLINICIAN)
    go(f"/students/{cast.ama.pk}/referral-note/", SEEN_ON)
    expect(page.get_by_text("Sharp, pin-point, left Achilles; since today")).to_be_visible()
    go(f"/follow-ups/{FollowUp.objects.get(kind=FollowUp.STOP_SIGN).pk}/", SEEN_ON)
    page.get_by_label("seen and cleared by a clinician").check()
    page.get_by_label("Clinician’s name").fill("Dr Vane")
    page.get_by_label("Seen on").fill(str(SEEN_ON))
    page.get_by_label("What is allowed now").fill("rises on one foot")
    page.get_by_label("That is, at most").select_option("all")
    page.get_by_label("Comes back on which step?").select_option(str(RISES_ONE_FOOT))
    page.get_by_label("What was done?").fill("The note went along and came back.")
    page.get_by_role("button", name="Close with this note").tap()
    expect(page.get_by_text("Closed: Ama Owiredu.")).to_be_visible()
    assert PainAnswer.objects.get().said_by == "Dr Vane"


def move_her_up(page: Page, cast: Cast, go) -> None:
    after = SEEN_ON + dt.timedelta(days=1)
    state_attendance(
        key=uuid.uuid4(), day=ClassDay(cast.class_group, cast.term, after), present=[cast.ama], absent=[], by=cast.owner
    )
    go(f"/students/{cast.ama.pk}/way-back/", after)
    page.get_by_role("button", name="No pain: one step up").tap()
    expect(page.get_by_text(f"Step {RISES_ONE_FOOT + 1} of 8")).to_be_visible()
    assert ReturnStep.objects.last().kind == ReturnStep.UP


def measure_between(cast: Cast) -> None:
    """Two more measuring days, so that there is something to say."""
    for on, values in BETWEEN.items():
        day = factories.ScreeningFactory(
            class_group=cast.class_group, term=cast.term, battery=cast.battery, opened_by=cast.teacher, held_on=on,
            closed_by=cast.teacher, closed_at=dt.datetime.combine(on, dt.time(18), dt.UTC),
        )
        for side, value in zip("LR", values, strict=True):
            Result.objects.create(
                screening=day, student=cast.ama, measure=cast.rises, protocol=cast.rises.protocols.get(), side=side,
                value=value, taken_on=on, by=cast.teacher,
            )


def pages_agree(page: Page, cast: Cast, go) -> None:
    lines = {row.side: row for row in Standing.objects.filter(student=cast.ama, measure=cast.rises)}
    assert {row.verdict for row in lines.values()} != {"too_early"}
    go(f"/classes/{cast.class_group.pk}/", LAST)
    row = page.get_by_role("row", name="Ama Owiredu")
    # The class sheet draws the way and says the last count.
    expect(row.locator(".kind-count .count")).to_have_text(list(COUNTS[LAST]))
    go(f"/students/{cast.ama.pk}/", LAST)
    for name, last in zip(("Left", "Right"), COUNTS[LAST], strict=True):
        expect(page.locator("#strand-rises .chart-at-tablet")).to_contain_text(f"{name} {last}")
    load = page.locator("table.load").get_by_role("row", name=re.compile("rises on one foot")).locator("td")
    expect(load.first).to_be_visible()
    assert any(re.sub(r"\D.*", "", text) for text in load.all_inner_texts())
    go(f"/students/{cast.ama.pk}/referral-note/", LAST)
    note = page.locator("main").inner_text()
    # The note says what was counted before the pain and at its time, and how much she danced since.
    counted = "before, 27 January: left 9, right 11; at the time, 3 March: left 11, right 12."
    assert counted in note and "In the 14 days before: 1 of 1 class." in note
    go(f"/students/{cast.ama.pk}/story/", LAST)
    story = page.locator("main").inner_text()
    assert "Rises: left 15, right 17" in story and "Rises: left 8, right 9" in story
    for told in ("Sharp, pin-point, left Achilles", "Dr Vane on 24 February; allowed: rises on one foot",
                 "The note went along and came back."):
        assert told in note and told in story


def test_a_term_from_the_first_screening_to_the_last(page: Page, cast: Cast, go):
    screen(page, cast, go, FIRST)
    plan_two_exercises(page, cast, go)
    for on in CLASSES[:3]:
        log_class(page, cast, go, on)
    hurt_without_a_network(page, cast, go)
    log_class(page, cast, go, HURT_ON)
    log_class(page, cast, go, CLASSES[4])
    clear_her(page, cast, go)
    log_class(page, cast, go, SEEN_ON)
    move_her_up(page, cast, go)
    hers = LogEntry.objects.in_force().filter(student=cast.ama, exercise__key=ONE_FOOT)
    assert {row.log.held_on for row in hers} == {*CLASSES[:3], SEEN_ON}
    measure_between(cast)
    screen(page, cast, go, LAST)
    pages_agree(page, cast, go)
