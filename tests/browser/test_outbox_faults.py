"""A real server on a file is killed and started again, and the browser with it; every tap is there once."""
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, BrowserType, expect

from tests.bench.outbox_runs import one_run, wait_until_kept
from tests.bench.real_studio import RealStudio
from tests.browser.conftest import all_sent

RUNS = 6


@pytest.fixture(scope="module")
def studio(tmp_path_factory) -> Iterator[RealStudio]:
    built = RealStudio(tmp_path_factory.mktemp("studio"), days=RUNS + 4, children=6)
    built.start()
    yield built
    built.kill()


@pytest.fixture(params=[(1024, 768), (768, 1024)], ids=["landscape", "portrait"])
def size(request) -> dict:
    return dict(zip(("width", "height"), request.param, strict=True))


def tap(page, what: str) -> None:
    page.get_by_role("button", name=what).tap()


def test_a_server_killed_in_mid_request_stores_each_tap_once(studio: RealStudio, browser: Browser, size):
    screening = studio.screenings.pop()
    with browser.new_context(has_touch=True, viewport=size, locale="en-GB") as context:
        studio.let_in(context)
        page = context.new_page()
        page.goto(f"{studio.address}/barre/screenings/{screening}/landing-control/")
        with page.expect_request("**/record/"):
            tap(page, "Child00, left: clean")
        studio.kill()
        tap(page, "Child00, right: lost")
        expect(page.get_by_text("waiting to be sent.")).to_be_visible()
        studio.start()
        all_sent(page, within_seconds=120)
    assert sorted(studio.standing(screening).values()) == [0, 2]
    assert len(studio.results(screening)) == 2


def test_a_tablet_that_was_switched_off_shows_and_sends_what_was_tapped(
    studio: RealStudio, browser_type: BrowserType, browser_type_launch_args, tmp_path, size
):
    screening = studio.screenings.pop()
    args = {key: value for key, value in browser_type_launch_args.items() if key != "headless"}
    how = {**args, "has_touch": True, "viewport": size, "locale": "en-GB"}
    sheet = f"{studio.address}/barre/screenings/{screening}/landing-control/"
    with browser_type.launch_persistent_context(tmp_path, **how) as context:
        studio.let_in(context)
        page = context.new_page()
        page.goto(sheet)
        wait_until_kept(page)
        context.set_offline(True)
        tap(page, "Child00, left: clean")
        tap(page, "Child01, left: corrected")
        expect(page.get_by_text("2 waiting to be sent.")).to_be_visible()
    with browser_type.launch_persistent_context(tmp_path, **how) as context:
        context.set_offline(True)
        page = context.new_page()
        page.goto(sheet)
        expect(page.get_by_text("2 waiting to be sent.")).to_be_visible()
        expect(page.locator("#sheet .written:visible")).to_have_count(2)
        studio.let_in(context)
        context.set_offline(False)
        all_sent(page)
    assert sorted(studio.standing(screening).values()) == [1, 2]


@pytest.mark.parametrize("seed", range(RUNS))
def test_random_taps_cuts_and_kills_lose_nothing_and_double_nothing(studio: RealStudio, browser: Browser, seed: int):
    run = one_run(studio, browser, studio.screenings.pop(), seed)
    assert run.is_whole, run
