"""A second thought loses nothing: a value put right to what it was before, and then undone, on every kind of page."""
import pytest
from playwright.sync_api import Browser, Page, expect

from screening.models import Result
from tests.browser.conftest import a_moment_later, all_sent, drawn, let_in
from tests.browser.run_hands import open_run, run_address, stored
from tests.conftest import Cast

pytestmark = pytest.mark.django_db(transaction=True)


def put_right(page: Page, cast: Cast, value: str) -> None:
    a_moment_later(page)
    page.locator(f"#cell-{cast.ama.pk}-L").get_by_role("link").tap()
    page.keyboard.type(value)
    page.keyboard.press("Enter")


@pytest.mark.parametrize("is_offline", [False, True], ids=["as it is sent", "before it is sent"])
def test_14_put_right_to_15_and_to_14_again_and_undone_is_15_on_the_sheet(
    page: Page, cast: Cast, enter, server: str, is_offline: bool
):
    enter(cast.teacher, server)
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/rises/")
    drawn(page).context.set_offline(is_offline)
    page.keyboard.type("14")
    page.keyboard.press("Enter")
    for value in ("15", "14"):
        put_right(page, cast, value)
        if not is_offline:
            all_sent(page)
    page.get_by_role("button", name="Undo").tap()
    expect(page.locator(f"#cell-{cast.ama.pk}-L").get_by_role("link")).to_contain_text("15")
    expect(page.get_by_role("button", name="Undo")).to_contain_text("Ama left, 15")
    page.context.set_offline(False)
    all_sent(page)
    assert Result.objects.in_force().get().value == 15
    page.get_by_role("button", name="Undo").tap()
    expect(page.locator(f"#cell-{cast.ama.pk}-L").get_by_role("link")).to_contain_text("14")
    page.get_by_role("button", name="Undo").tap()
    expect(page.get_by_role("button", name="Undo")).to_be_disabled()


def test_3_put_right_to_4_and_to_3_again_and_undone_is_4_in_a_run(page: Page, cast: Cast, enter, server: str):
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast))
    run.start()
    run.rise(2)
    run.tap_name("Ama")
    run.wait(1000)
    run.tap_name("Ama")
    for sign in ("+", "−"):
        run.tap(page.locator(".why").get_by_text(sign, exact=True))
    run.undo()
    run.says("Ama", "4")
    run.all_sent()
    assert stored(cast) == [("Ama", "L", 4, False, "", True)]


def test_14_put_right_to_15_and_to_14_again_and_undone_is_15_without_script(
    browser: Browser, cast: Cast, server: str
):
    context = browser.new_context(java_script_enabled=False, has_touch=True)
    let_in(context, cast.teacher, server)
    page = context.new_page()
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/rises/")
    cell, box = page.locator(f"#cell-{cast.ama.pk}-L"), page.get_by_label("Ama, left", exact=True)
    for at, value in enumerate(("14", "15", "14")):
        if at:
            cell.get_by_role("link").tap()
        box.fill(value)
        cell.get_by_role("button", name="Save").tap()
    page.get_by_role("button", name="Undo").tap()
    expect(cell.get_by_role("link")).to_contain_text("15")
    expect(page.get_by_role("button", name="Undo")).to_contain_text("Ama left, 15")
    context.close()
