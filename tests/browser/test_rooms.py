"""Every page at every width: nothing scrolls sideways, every target is big enough, nobody is kept out."""
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.conftest import drawn, let_family_in, let_in
from tests.browser.studio_on_show import ROOMS, Show
from tests.browser.walk import LISTEN, Seen, look_at

_seen: dict[str, Seen] = {}


@pytest.fixture(scope="module")
def walker(browser: Browser, _show: Show) -> Iterator[Page]:
    """One tab of the owner's for the whole walk."""
    context = browser.new_context(has_touch=True, locale="en-GB", service_workers="block")
    with context:
        let_in(context, _show.owner, _show.address)
        let_family_in(context, _show)
        context.add_init_script(LISTEN)
        yield context.new_page()


@pytest.fixture
def seen(walker: Page, show: Show) -> Callable[[str], Seen]:
    """What was seen of a room; each is walked through once, by the first test that asks."""

    def of(room: str) -> Seen:
        if room not in _seen:
            _seen[room] = look_at(walker, show, room)
        return _seen[room]

    return of


@pytest.mark.parametrize("room", ROOMS)
def test_no_width_makes_a_page_scroll_sideways(seen, room: str):
    assert not seen(room).sideways


@pytest.mark.parametrize("room", ROOMS)
def test_every_target_is_high_enough_for_its_hand(seen, room: str):
    assert not seen(room).small, "\n".join(seen(room).small)


@pytest.mark.parametrize("room", ROOMS)
def test_the_browser_has_no_complaint(seen, room: str):
    heard = [each for each in seen(room).complaints if not (room == "not found" and "404" in each)]
    assert not heard


@pytest.mark.parametrize("room", ROOMS)
def test_no_page_has_a_barrier_in_the_light_or_the_dark(seen, room: str):
    assert not seen(room).barriers, "\n".join(seen(room).barriers)


@pytest.mark.thorough
@pytest.mark.parametrize("room", ROOMS)
def test_no_word_sticks_out_is_cut_or_lies_over_another(seen, room: str):
    assert not seen(room).lost, "\n".join(seen(room).lost)


@pytest.mark.parametrize("width", [960, 1120, 1200, 1280, 1366, 1391, 1392, 1440])
def test_the_class_sheet_shows_its_last_column_on_every_screen(walker: Page, show: Show, width: int):
    """What to do next stands in the last column; the table may scroll within itself, and then it is cut."""
    walker.set_viewport_size({"width": width, "height": 800})
    walker.goto(show.address + ROOMS["class sheet"](show))
    drawn(walker)
    over = "box => box.scrollWidth - box.clientWidth"
    assert walker.locator(":has(> .strips)").evaluate(over) == 0
