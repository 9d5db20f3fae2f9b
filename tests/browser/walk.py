"""Looks at one page of the studio on show and writes down what can be measured; judges nothing."""
import json
from dataclasses import dataclass, field

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.browser.boxes import LOST_WORDS
from tests.browser.conftest import drawn
from tests.browser.studio_on_show import BARRE_ROOMS, ROOMS, Show

SIZES = ((1024, 768), (768, 1024), (390, 844), (1440, 900))
# Design sizes: an arm's length away at the barre, a finger elsewhere, grades of over nine in landscape.
BARRE_TARGET, STAFF_TARGET, TIGHT_GRADE = 64, 48, 50
# A row of the class sheet is one link across the page; that sixteen stand in one view is what the sheet is for. The
# name in it is as high as its words, and the whole row takes the tap.
SHEET_ROW = 16
# Tap areas of the foot plate reach past the region and meet their neighbours: as large as a foot allows.
FOOT_REGION = 56
# On a phone these are read and worked with, the other pages only looked up.
PHONE_ROOMS = ("today", "class sheet", "student", "follow-ups", "family page", "family, kept", "family entrance")
AXE = Axe()

# Every control a finger can reach: what it says and how high it is. A choice counts with its label; a link in
# the middle of a sentence does not count, nor does what only a keyboard meets. Panels are opened first.
TARGETS = """
() => {
  document.querySelectorAll('details').forEach(each => { each.open = true; });
  const reach = [];
  const kinds = 'a[href], button, select, textarea, summary, input:not([type=hidden])';
  for (const el of document.querySelectorAll(kinds)) {
    const label = el.matches('[type=radio], [type=checkbox]') && (el.closest('label') || el.labels[0]);
    const box = (label || el).getBoundingClientRect();
    if (!el.checkVisibility({ visibilityProperty: true }) || !box.width || box.right < 0) continue;
    if (el.disabled || el.matches('[aria-disabled], .skip')) continue;
    const sentence = el.parentElement.closest('p, li, td, dd') || el.parentElement;
    const isInProse = el.matches('a') && getComputedStyle(el).display === 'inline'
      && sentence.textContent.trim().length > el.textContent.trim().length + 2;
    if (!isInProse) reach.push({
      what: (el.getAttribute('aria-label') || el.textContent || el.name).trim().slice(0, 40),
      high: Math.round(box.height * 10) / 10,
      isRow: el.matches('.strips tbody a, .look summary'),
      isGrade: el.matches('.many.kind-grade :is(.grades .box, .written, .rest)'),
      isRegion: el.matches('.foot-tap *'),
      isWay: el.matches('a:not(.box):not(.button):not(.written), .outbox-line > summary'),
    });
  }
  return reach;
}
"""
SIDEWAYS = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
# What the policy kept out is told to the page; the console may stay silent about a style.
LISTEN = """
window.keptOut = [];
document.addEventListener('securitypolicyviolation',
  event => keptOut.push(event.violatedDirective + ' ' + event.blockedURI));
"""


@dataclass
class Seen:
    """What was seen of one page: empty is good. `sideways`: pixels too wide, with panels shut and open."""

    sideways: dict[str, tuple[float, float]] = field(default_factory=dict)
    small: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)
    barriers: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)


def look_at(page: Page, show: Show, room: str) -> Seen:
    """Opens one page and looks at it in every size, and in the light and the dark."""
    seen, heard = Seen(), []
    hear = lambda message: heard.append(message.text) if is_complaint(message) else None  # noqa: E731
    fail = lambda error: heard.append(str(error))  # noqa: E731
    page.on("console", hear)
    page.on("pageerror", fail)
    page.emulate_media(color_scheme="light", reduced_motion="reduce")
    page.set_viewport_size({"width": SIZES[0][0], "height": SIZES[0][1]})
    page.goto(show.address + ROOMS[room](show))
    drawn(page)
    seen.barriers += barriers(page, "light")
    page.emulate_media(color_scheme="dark")
    # The tree of a page is the same in the dark; only its colours are looked at once more.
    seen.barriers += barriers(page, "dark", only="color-contrast")
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        _look_at_size(page, room, seen, width, height)
    _look_at_large_text(page, seen)
    seen.complaints = [*page.evaluate("keptOut"), *heard]
    page.remove_listener("console", hear)
    page.remove_listener("pageerror", fail)
    # A page at the barre goes on asking for news; between two rooms the clock is another one, and she is nobody.
    page.goto("about:blank")
    return seen


def _look_at_large_text(page: Page, seen: Seen) -> None:
    """The same words with letters twice as large, as a reader sets them in the browser."""
    reader = page.context.new_cdp_session(page)
    for letters, sizes in ((32, SIZES[:3]), (16, SIZES[:1])):
        reader.send("Page.setFontSizes", {"fontSizes": {"standard": letters, "fixed": 13}})
        for width, height in sizes:
            page.set_viewport_size({"width": width, "height": height})
            found = page.evaluate(LOST_WORDS) if letters == 32 else []  # noqa: PLR2004
            seen.lost += [f"{width}x{height}, 200 %: {words}" for words in found]
    reader.detach()


def is_complaint(message) -> bool:
    """What the browser says against a page; that this walk keeps the worker out is no fault of the page."""
    return message.type in ("error", "warning") and "registration blocked by Playwright" not in message.text


def _look_at_size(page: Page, room: str, seen: Seen, width: int, height: int) -> None:
    over, reach, over_open = page.evaluate(
        f"() => {{ const wide = {SIDEWAYS}; return [wide(), ({TARGETS})(), wide()]; }}"
    )
    if max(over, over_open) > 0:
        seen.sideways[f"{width}x{height}"] = (over, over_open)
    for target in reach:
        if target["high"] < least_height(room, target, is_landscape=width > height) - 0.5:
            seen.small.append(f"{width}x{height} {json.dumps(target, ensure_ascii=False)}")
    page.evaluate("document.querySelectorAll('details').forEach(each => { each.open = false; })")
    seen.lost += [f"{width}x{height} {words}" for words in page.evaluate(LOST_WORDS)]
    if width == 390 and room in PHONE_ROOMS:
        seen.barriers += barriers(page, "phone")


def least_height(room: str, target: dict, *, is_landscape: bool) -> int:
    if target["isRow"]:
        return SHEET_ROW
    if room not in BARRE_ROOMS or target["isWay"]:
        return STAFF_TARGET
    if target["isRegion"]:
        return FOOT_REGION
    return TIGHT_GRADE if target["isGrade"] and is_landscape else BARRE_TARGET


def barriers(page: Page, where: str, *, only: str = "") -> list[str]:
    """What axe finds between a person and the page."""
    options: dict = {"resultTypes": ["violations"]}
    if only:
        options["runOnly"] = [only]
    found = AXE.run(page, options=options).response["violations"]
    return [
        f"{where}: {each['id']}, {each['help']}: {node['html'][:160]} {node.get('any', [{}])[:1]}"
        for each in found for node in each["nodes"][:3]
    ]
