"""The hand finds each sign where it was: one chosen box, one place for digits, Save and It hurts on every sheet."""
from uuid import uuid4

import pytest
from playwright.sync_api import Page, expect

from screening.actions import Entry, close_screening, record_result
from screening.models import Result
from tests.browser.conftest import a_moment_later, all_sent, drawn, either_way
from tests.browser.run_hands import enrol_more, open_run, run_address
from tests.conftest import Cast

pytestmark = pytest.mark.django_db(transaction=True)

SIGNS = ["[data-sign='1']", "[data-sign='0']", "[data-rub-out]", "[data-keep-key]", ".hurts summary"]
PLACES = """async signs => (await document.fonts.ready) && signs.map(what => {
  const { x, y, width, height } = document.querySelector(what).getBoundingClientRect();
  return [x, y, width, height];
})"""
CHOSEN = """() => [...document.querySelectorAll('#sheet .cell.picked')]
  .map(cell => cell.dataset.name + cell.dataset.side)"""


@pytest.fixture
def rises(page: Page, cast: Cast, enter, server: str) -> Page:
    enter(cast.teacher, server)
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/rises/")
    return drawn(page)


def is_same(places: list, others: list) -> bool:
    """A page's end is scrolled to by whole pixels."""
    pairs = zip(sum(places, []), sum(others, []), strict=True)
    return all(abs(one - other) <= 1 for one, other in pairs)


def keep(page: Page, value: str) -> None:
    page.keyboard.type(value)
    page.keyboard.press("Enter")


@either_way
def test_digits_keep_and_it_hurts_have_one_place_on_all_sheets_and_are_on_the_screen(
    rises: Page, cast: Cast, server: str
):
    enrol_more(cast, *(f"Dancer{number:02}" for number in range(12)))
    drawn(rises).reload()
    counted = drawn(rises).evaluate(PLACES, SIGNS)
    rises.goto(f"{server}/barre/screenings/{cast.screening.pk}/passe-balance/")
    drawn(rises).get_by_role("button", name="Type it").tap()
    assert is_same(rises.evaluate(PLACES, SIGNS), counted)
    rises.evaluate("window.scrollTo(0, 600)")
    assert is_same(rises.evaluate(PLACES, SIGNS), counted)
    height, hurts = rises.viewport_size["height"], rises.locator(".hurts summary").bounding_box()
    assert hurts["y"] + hurts["height"] <= height
    rises.goto(f"{server}/barre/screenings/{cast.screening.pk}/landing-control/")
    graded = drawn(rises).locator(".hurts summary").bounding_box()
    assert is_same([[graded["y"], graded["x"] + graded["width"]]], [[hurts["y"], hurts["x"] + hurts["width"]]])


def test_the_first_box_takes_the_keys_at_once(rises: Page, cast: Cast):
    keep(rises, "14")
    expect(rises.locator(f"#cell-{cast.ama.pk}-L").get_by_role("link")).to_contain_text("14")


def test_after_undo_the_undone_box_alone_is_chosen_and_takes_the_keys(rises: Page, cast: Cast):
    keep(rises, "14")
    rises.get_by_role("button", name="Undo").tap()
    assert rises.evaluate(CHOSEN) == ["AmaL"]
    keep(rises, "12")
    all_sent(rises)
    standing = Result.objects.in_force().get(value__isnull=False)
    assert (standing.student, standing.side, standing.value) == (cast.ama, "L", 12)


def test_a_question_goes_with_the_value_that_it_was_asked_about(rises: Page):
    keep(rises, "120")
    expect(rises.get_by_text("120 rises: sure?")).to_be_visible()
    rises.locator("[data-rub-out]").tap()
    expect(rises.get_by_label("Ama, left", exact=True)).to_have_value("12")
    expect(rises.get_by_text("120 rises: sure?")).to_be_hidden()
    rises.locator("[data-keep-key]").tap()
    expect(rises.get_by_role("button", name="Undo")).to_contain_text("Ama left, 12")


def test_typing_over_a_value_that_is_put_right_replaces_it(rises: Page, cast: Cast):
    keep(rises, "14")
    cell = rises.locator(f"#cell-{cast.ama.pk}-L")
    a_moment_later(rises)
    cell.get_by_role("link").tap()
    keep(rises, "9")
    expect(cell.get_by_role("link")).to_contain_text("9")


def test_a_tap_on_a_closed_sheet_says_that_it_is_closed(rises: Page, cast: Cast):
    keep(rises, "14")
    all_sent(rises)
    close_screening(screening=cast.screening, by=cast.teacher)
    rises.reload()
    drawn(rises).locator(f"#cell-{cast.ama.pk}-L .written").tap(force=True)
    expect(rises.get_by_text("open the screening again")).to_be_visible()


def test_another_persons_result_shows_her_initials_on_sheet_and_run(rises: Page, cast: Cast, server: str):
    record_result(key=uuid4(), screening=cast.screening, student=cast.ama, measure=cast.rises, side="L",
                  entry=Entry(value=11), by=cast.owner)
    rises.reload()
    assert drawn(rises).locator(f"#cell-{cast.ama.pk}-L .by").text_content() == "OB"
    rises.goto(run_address(server, cast))
    assert drawn(rises).locator(f"[data-child='{cast.ama.pk}'] .tile-by").text_content() == "OB"


@either_way
def test_the_way_out_of_a_run_is_seen_and_reasons_never_lie_over_it_hurts(
    page: Page, cast: Cast, enter, server: str
):
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast))
    assert page.evaluate("document.documentElement.scrollHeight <= window.innerHeight")
    expect(page.get_by_role("link", name="Leave", exact=True)).to_be_visible()
    run.start()
    run.rise(2)
    run.tap_name("Ama")
    run.wait(1000)
    run.tap_name("Ama")
    expect(page.locator(".why.is-open")).to_have_count(1)
    at = page.locator("[data-pick-hurts]").bounding_box()
    found = "([x, y]) => !!document.elementFromPoint(x, y).closest('[data-pick-hurts]')"
    assert page.evaluate(found, [at["x"] + 6, at["y"] + 6])
    run.wait(13_000)
    expect(page.locator(".why.is-open")).to_have_count(0)
