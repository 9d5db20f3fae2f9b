"""A page that arrives in pieces: what was painted first stays where it is, for a finger may already be on its way."""
import time
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Page

from tests.browser.conftest import drawn, either_way, painted
from tests.browser.studio_on_show import BARRE_ROOMS, Show

PIECES, BETWEEN_SECONDS, STILL_PX = 20, 0.03, 8
# Notes where each control was when it was first seen in the page's own letters, frame by frame from the first one, and
# where it is now. Until those letters are there others stand in for them, a little wider or narrower.
WATCH = """(() => {
  const first = new Map(), shown = each => each.checkVisibility({ visibilityProperty: true });
  const place = each => { const box = each.getBoundingClientRect(); return [box.left, box.top + scrollY]; };
  const isLettered = () => document.fonts.check('1em "Source Sans 3"');
  const look = () => document.querySelectorAll('main :is(a, button, summary, label, input)').forEach(each => {
    if (!first.has(each) && shown(each)) first.set(each, place(each));
  });
  const go = () => { if (isLettered()) look(); requestAnimationFrame(go); };
  requestAnimationFrame(go);
  const words = each => (each.textContent.trim() || each.getAttribute('aria-label') || each.name).slice(0, 30);
  window.jumped = far => [...first].filter(([each]) => each.isConnected && shown(each)).flatMap(([each, was]) => {
    const is = place(each), isStill = was.every((at, axis) => Math.abs(at - is[axis]) <= far);
    return isStill ? [] : [`${words(each)}: ${was.map(Math.round)} to ${is.map(Math.round)}`];
  });
})()"""


@pytest.fixture
def arrives_in_pieces(in_pieces: Callable) -> None:
    in_pieces(_pieces)


def _pieces(body: bytes) -> Iterator[bytes]:
    size = len(body) // PIECES + 1
    for at in range(0, len(body), size):
        yield body[at : at + size]
        time.sleep(BETWEEN_SECONDS)


@either_way
@pytest.mark.parametrize("room", BARRE_ROOMS)
def test_nothing_jumps_from_under_a_finger(room: str, page: Page, show: Show, enter: Callable, arrives_in_pieces):
    page.add_init_script(WATCH)
    enter(show.owner, show.address)
    page.goto(show.address + BARRE_ROOMS[room](show))
    painted(drawn(page))
    assert page.evaluate("jumped", STILL_PX) == []
