"""Taps on a sheet: written at once, put right, taken back in any order, and beside those of another tablet."""
import datetime as dt
import re

import pytest
from django.utils import timezone
from playwright.sync_api import BrowserContext, Locator, Page, expect

from progress.actions import measuring
from screening.actions import save_protocol
from screening.models import Result, Screening
from tests.browser.conftest import a_moment_later, all_sent, drawn, either_way, let_in
from tests.conftest import Cast
from tests.progress.test_measuring import record

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def landing(page: Page, cast: Cast, enter, server: str) -> Page:
    enter(cast.teacher, server)
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/landing-control/")
    return drawn(page)


def cell(page: Page, student, side: str) -> Locator:
    return page.locator(f"#cell-{student.pk}-{side}")


def grade(page: Page, what: str) -> None:
    page.get_by_role("button", name=what).tap()


def open_again(page: Page, student, side: str) -> None:
    """Taps a written word, late enough not to be taken for the second tap of a double tap."""
    written = cell(page, student, side).get_by_role("link")
    expect(written).to_be_visible()
    a_moment_later(page)
    written.tap()


def standing() -> list[tuple]:
    rows = Result.objects.in_force().exclude(reason_missing=Result.WITHDRAWN).order_by("student", "side", "pk")
    return [(row.student.first_name, row.side, row.value and int(row.value)) for row in rows]


def undo(page: Page) -> Locator:
    return page.get_by_role("button", name=re.compile("^Undo"))


def test_undo_goes_back_tap_by_tap_to_an_empty_sheet(landing: Page, cast: Cast):
    for tap in ("Ama, left: clean", "Ama, right: lost", "Bettina, left: corrected"):
        grade(landing, tap)
    for words in ("Bettina left, corrected", "Ama right, lost", "Ama left, clean"):
        expect(undo(landing)).to_contain_text(words)
        undo(landing).tap()
    expect(undo(landing)).to_be_disabled()
    all_sent(landing)
    assert standing() == []
    assert Result.objects.count() == 6


def test_any_written_word_is_taken_back_not_only_the_last(landing: Page, cast: Cast):
    for tap in ("Ama, left: clean", "Ama, right: lost"):
        grade(landing, tap)
    open_again(landing, cast.ama, "L")
    cell(landing, cast.ama, "L").get_by_role("button", name="Take back").tap()
    expect(landing.get_by_role("button", name="Ama, left: clean")).to_be_visible()
    all_sent(landing)
    assert standing() == [("Ama", "R", 0)]


def test_a_correction_without_network_is_taken_back_to_what_stood_before(landing: Page, cast: Cast):
    landing.context.set_offline(True)
    grade(landing, "Ama, left: clean")
    open_again(landing, cast.ama, "L")
    grade(landing, "Ama, left: lost")
    expect(undo(landing)).to_contain_text("Ama left, lost")
    undo(landing).tap()
    expect(cell(landing, cast.ama, "L").get_by_role("link")).to_contain_text("clean")
    landing.context.set_offline(False)
    all_sent(landing)
    assert standing() == [("Ama", "L", 2)]
    undo(landing).tap()
    all_sent(landing)
    assert standing() == []


def test_a_finger_elsewhere_leaves_a_reopened_word_as_it_was(landing: Page, cast: Cast):
    grade(landing, "Ama, left: clean")
    open_again(landing, cast.ama, "L")
    landing.get_by_role("heading", level=1).tap()
    expect(cell(landing, cast.ama, "L").get_by_role("link")).to_contain_text("clean")
    all_sent(landing)
    assert Result.objects.count() == 1


def test_not_today_without_network_writes_both_feet_and_one_undo_takes_both_back(landing: Page, cast: Cast):
    landing.context.set_offline(True)
    landing.get_by_text("Not today").first.tap()
    landing.get_by_role("button", name="Ama", exact=True).tap()
    for side in "LR":
        expect(cell(landing, cast.ama, side).get_by_role("link")).to_contain_text("not today")
    landing.context.set_offline(False)
    all_sent(landing)
    assert standing() == [("Ama", "L", None), ("Ama", "R", None)]
    undo(landing).tap()
    all_sent(landing)
    expect(landing.get_by_role("button", name="Ama, right: clean")).to_be_visible()
    assert standing() == []


def test_how_many_are_left_is_counted_as_one_taps(landing: Page, cast: Cast):
    expect(landing.locator(".left-count")).to_contain_text("2 to go")
    grade(landing, "Ama, left: clean")
    expect(landing.locator(".left-count")).to_contain_text("2 to go, of Ama only the right")
    grade(landing, "Ama, right: clean")
    expect(landing.locator(".left-count")).to_have_text(re.compile(r"^\s*1\s+to go\s*$"))


def test_what_another_teacher_recorded_appears_within_seconds(landing: Page, cast: Cast):
    record(cast, 2, measure=cast.landing)
    expect(cell(landing, cast.ama, "L").get_by_role("link")).to_contain_text("clean")


@either_way
def test_both_attempts_of_two_tablets_are_kept_and_who_measured(
    page: Page, browser, browser_context_args, cast: Cast, enter, server: str
):
    enter(cast.teacher, server)
    other: BrowserContext = browser.new_context(**browser_context_args)
    with other:
        let_in(other, cast.owner, server)
        tablets = [page, other.new_page()]
        for tablet in tablets:
            tablet.goto(f"{server}/barre/screenings/{cast.screening.pk}/passe-balance/")
            tablet.context.set_offline(True)
        for tablet, seconds in zip(tablets, ("12.5", "9"), strict=True):
            tablet.get_by_label("Ama, left", exact=True).fill(seconds)
            tablet.keyboard.press("Enter")
        for tablet in tablets:
            tablet.context.set_offline(False)
            all_sent(tablet)
        for tablet in tablets:
            attempts = cell(tablet, cast.ama, "L").locator(".attempts").filter(visible=True)
            expect(attempts).to_have_text(re.compile("12.5 · 9|9 · 12.5"))
    found = {(row.by.username, row.value) for row in Result.objects.all()}
    assert found == {("davit", 12.5), ("ottoline", 9)}


def test_digits_that_are_being_typed_outlive_the_news_of_another_tablet(
    page: Page, cast: Cast, enter, server: str
):
    enter(cast.teacher, server)
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/rises/")
    page.get_by_label("Ama, left", exact=True).fill("1")
    record(cast, 9)
    with page.expect_event("console", lambda message: message.text == "told"):
        page.evaluate("document.addEventListener('barre:news', () => setTimeout(() => console.log('told')))")
    expect(page.get_by_label("Ama, left", exact=True)).to_have_value("1")


def test_a_tap_made_under_an_older_protocol_is_stored_as_what_it_was(landing: Page, cast: Cast):
    landing.context.set_offline(True)
    grade(landing, "Ama, left: clean")
    save_protocol(measure=cast.landing, changes={"instruction": "Three jumps, then stay."}, by=cast.owner)
    landing.context.set_offline(False)
    all_sent(landing)
    landing.reload()
    grade(drawn(landing), "Bettina, left: clean")
    all_sent(landing)
    assert list(Result.objects.order_by("pk").values_list("protocol__version", flat=True)) == [1, 2]


@either_way
def test_a_closed_day_is_opened_again_from_the_line_and_everything_goes_out(landing: Page, cast: Cast):
    landing.context.set_offline(True)
    for tap in ("Ama, left: clean", "Ama, right: lost"):
        grade(landing, tap)
    measuring.close_screening(screening=cast.screening, closed_on=cast.screening.held_on, by=cast.owner)
    # Both were tapped after the closing: what was tapped before it is taken.
    Screening.objects.update(closed_at=timezone.now() - dt.timedelta(hours=1))
    # The page hears that the day is closed, and comes anew.
    with landing.expect_navigation():
        landing.context.set_offline(False)
    amas = cell(drawn(landing), cast.ama, "L")
    expect(amas.get_by_text("not accepted")).to_be_visible()
    expect(amas.get_by_text("not measured")).to_be_hidden()
    landing.get_by_text("2 not accepted.").tap()
    expect(landing.get_by_text("This screening is closed. Open it again to enter more.").first).to_be_visible()
    landing.get_by_role("button", name="Open the screening again and send").first.tap()
    all_sent(landing)
    assert standing() == [("Ama", "L", 2), ("Ama", "R", 0)]
