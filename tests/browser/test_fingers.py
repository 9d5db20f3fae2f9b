"""Everything that can be tapped at the barre is as large as a finger needs: 64 px each way, as it is really hit."""
import json

import pytest
from playwright.sync_api import Page, Route, expect

from tests.browser.conftest import SIZES
from tests.browser.studio_on_show import BARRE_ROOMS

# The smallest square, and the one exception of the look: a grade's box, so that twelve children fit a landscape tablet.
FINGER_PX, GRADE_PX = 64, 50
# For each thing on screen: how far to each side of its middle it is what a finger meets, and whether the whole square
# around the middle of that is hers. Asked of the browser's own hit test, so that what lies over it counts, and what
# reaches past its drawing.
MEASURE = """([within, finger, grade]) => {
  const kinds = 'a[href], button, summary, select, textarea, label:has(input), '
    + 'input:not([type=hidden]):not(label input)';
  const ofGrade = '.many.kind-grade :is(.entry .box, .written, .rest)';
  const isGrade = each => each.matches(ofGrade) && innerWidth > innerHeight;
  const found = [...document.querySelector(within).querySelectorAll(kinds)].filter(each =>
    each.checkVisibility({ visibilityProperty: true }) && !each.closest('.skip, .foot-plate, [inert]'));
  return found.flatMap(each => {
    each.scrollIntoView({ block: 'center', inline: 'nearest', behavior: 'instant' });
    const box = each.getBoundingClientRect(), x = box.left + box.width / 2, y = box.top + box.height / 2;
    const isHers = (left, top) => each.contains(document.elementFromPoint(left, top));
    const reach = (right, down) => {
      let far = 0;
      while (far < 400 && isHers(x + right * (far + 1), y + down * (far + 1))) far += 1;
      return far;
    };
    const west = reach(-1, 0), east = reach(1, 0), north = reach(0, -1), south = reach(0, 1);
    const tall = isGrade(each) ? grade : finger;
    const middle = x + (east - west) / 2, level = y + (south - north) / 2, steps = [-1, -0.5, 0, 0.5, 1];
    const isWhole = steps.every(right => steps.every(down =>
      isHers(middle + right * (finger - 1) / 2, level + down * (tall - 1) / 2)));
    const words = (each.getAttribute('aria-label') || each.textContent || each.name || '').trim().replace(/\\s+/g, ' ');
    return isWhole ? [] : [`${words.slice(0, 40)}: ${west + east + 1} x ${north + south + 1}`];
  });
}"""
OPENED = {
    "not today": ("grades of sixteen", ".picker:not(.hurts) > summary"),
    "who hurts": ("counts of sixteen", ".picker.hurts > summary"),
    "who hurts, in the log": ("class log", ".picker.hurts > summary"),
    "the groups": ("group run", ".run-menu > summary"),
    "somewhere else": ("it hurts", ".elsewhere > summary"),
}
REFUSED = {
    "why": "This screening is closed.", "reopen": "/barre/screenings/1/open/", "asks_back": False,
    "others": [{"path": "/barre/screenings/2/rises/record/", "words": "Screening, 3 March"}],
}


def too_small(page: Page, within: str = "body") -> list[str]:
    """What a finger could miss, with the tablet held either way."""
    found = []
    for way, size in SIZES.items():
        page.set_viewport_size(size)
        found += [f"{way}: {each}" for each in page.evaluate(MEASURE, [within, FINGER_PX, GRADE_PX])]
    return found


@pytest.mark.parametrize("name", BARRE_ROOMS)
def test_whatever_can_be_tapped_at_the_barre_is_as_large_as_a_finger(visit, name: str):
    assert too_small(visit(name)) == []


@pytest.mark.parametrize("opened", OPENED)
def test_what_opens_at_the_barre_is_as_large_as_a_finger(visit, opened: str):
    name, way = OPENED[opened]
    page = visit(name)
    page.locator(way).tap()
    assert too_small(page, "details[open]") == []


def test_the_list_behind_the_line_is_as_large_as_a_finger(visit):
    page = visit("counts of sixteen")

    def refuse(route: Route) -> None:
        route.fulfill(status=422, body=json.dumps(REFUSED), content_type="application/json")

    page.route("**/record/", refuse)
    page.locator(".pad").get_by_role("button", name="9", exact=True).tap()
    page.locator(".keep-key").tap()
    expect(page.get_by_text("1 not accepted.")).to_be_visible()
    page.locator(".outbox-line > summary").tap()
    expect(page.get_by_role("button", name="Send to: Screening, 3 March")).to_be_visible()
    assert too_small(page, "details[open]") == []
