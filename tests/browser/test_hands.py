"""Other hands and eyes: keyboard alone, large text, less motion, a closer look, twelve on a tablet."""
import re

import pytest
from playwright.sync_api import expect

from studio.models import Student
from tests.browser.conftest import drawn
from tests.browser.studio_on_show import Show

# Every control that a person could use, and every one that Tab stops at; radios of one name are one stop.
CONTROLS = """
() => {
  const kinds = 'a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex="0"]';
  const all = [...document.querySelectorAll(kinds)];
  const firstOf = name => all.find(other => other.type === 'radio' && other.name === name);
  const isSeen = el => el.checkVisibility({ visibilityProperty: true });
  return all.filter(el => isSeen(el) && !el.disabled)
    .filter(el => el.type !== 'radio' || el === firstOf(el.name))
    .map(el => { el.dataset.stop = ''; return 1; }).length;
}
"""
STOP = """
() => {
  const el = document.activeElement;
  const shown = el.matches('input[type=radio], input[type=checkbox]') ? el.parentElement : el;
  const rings = [el, shown, el.nextElementSibling].filter(Boolean).map(each => getComputedStyle(each));
  const first = !('stopped' in el.dataset);
  el.dataset.stopped = '';
  return { what: (el.getAttribute('aria-label') || el.textContent || el.name || '').trim().slice(0, 30),
    isNew: first && 'stop' in el.dataset,
    ring: rings.some(style => style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2) };
}
"""
PASSED_BY = """
() => [...document.querySelectorAll('[data-stop]:not([data-stopped])')].map(el => el.outerHTML.slice(0, 80))
"""


@pytest.mark.parametrize(
    "room", ["grades of sixteen", "counts of sixteen", "it hurts", "follow-ups", "student"]
)
def test_tab_reaches_every_control_and_shows_where_it_stands(visit, room: str):
    page = visit(room)
    controls, without_ring = page.evaluate(CONTROLS), []
    page.evaluate("document.activeElement.blur()")
    for _press in range(controls + 5):
        page.keyboard.press("Tab")
        stop = page.evaluate(STOP)
        if stop["isNew"] and not stop["ring"]:
            without_ring.append(stop["what"])
    assert not without_ring
    assert not page.evaluate(PASSED_BY)


def test_a_pain_is_told_with_the_keyboard_alone(visit):
    page = visit("it hurts")
    page.get_by_label("left, Achilles").focus()
    page.keyboard.press("Space")
    expect(page.get_by_label("left, Achilles")).to_be_checked()
    page.get_by_label("sharp, pin-point").focus()
    page.keyboard.press("Space")
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    # More than one thing is felt: the second is told beside the first.
    expect(page.get_by_label("sharp, pin-point")).to_be_checked()
    expect(page.get_by_label("dull ache")).to_be_checked()


def test_a_panel_opens_with_the_keyboard_and_escape_shuts_it(visit):
    page = visit("grades of sixteen")
    panel = page.get_by_role("link", name="Jaya")
    page.get_by_text("It hurts", exact=True).focus()
    page.keyboard.press("Enter")
    expect(panel).to_be_visible()
    page.keyboard.press("Escape")
    expect(panel).to_be_hidden()


ACTIONS = {
    "group run": ["Start", "Undo", "Not today", "It hurts", "Dilnoza", "group 1 of"],
    "grades of twelve": ["Not today", "It hurts", "clean", "Leave the barre"],
    "grades of sixteen": ["Undo", "Not today", "It hurts", "clean"],
    "counts of sixteen": ["Undo", "Not today", "It hurts", "Save"],
    "it hurts": ["Next step", "Nothing hurts", "Somewhere else"],
    "next step": ["To the student", "Undo, tapped by mistake"],
    "today": ["Go on with the screening", "Log the class", "Today", "Office"],
    "class sheet": ["Class list", "Go on with the screening"],
    "student": ["Family letter", "More", "Shade the right"],
    "follow-ups": ["Close", "Mine"],
}


# Words that are cut: text wider than the box it stands in, or a name broken inside a word.
CUT = """
() => [...document.querySelectorAll(
  '.button, .box, .sheet-name, .tile, .tile-name, .rooms a, h1, h2, summary, .answer span')]
  .filter(el => el.checkVisibility() && getComputedStyle(el).display !== 'inline')
  .filter(el => el.scrollWidth > el.clientWidth + 1 || el.scrollHeight > el.clientHeight + 8)
  .map(el => el.textContent.trim().slice(0, 40) + ' ' + el.scrollWidth + '>' + el.clientWidth)
"""


@pytest.mark.parametrize("room", ACTIONS)
def test_text_twice_as_large_loses_no_action_and_cuts_no_word(visit, room: str):
    page = visit(room)
    reader = page.context.new_cdp_session(page)
    reader.send("Page.setFontSizes", {"fontSizes": {"standard": 32, "fixed": 26}})
    page.reload()
    drawn(page)
    assert page.evaluate("getComputedStyle(document.documentElement).fontSize") == "32px"
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
    for words in ACTIONS[room]:
        control = page.locator("a, button, summary").filter(visible=True, has_text=words).first
        control.scroll_into_view_if_needed()
        box = control.bounding_box()
        assert box["x"] >= 0 and box["x"] + box["width"] <= 1024 + 1, words
    assert not page.evaluate(CUT)


def test_less_motion_stops_every_transition(visit):
    page = visit("today")
    moving = """() => [...document.querySelectorAll('*')].map(el => getComputedStyle(el))
      .filter(style => parseFloat(style.transitionDuration) > 0 || style.animationName !== 'none').length"""
    page.emulate_media(reduced_motion="no-preference")
    assert page.evaluate(moving) > 0
    page.emulate_media(reduced_motion="reduce")
    assert page.evaluate(moving) == 0


def test_a_finger_on_a_chart_reads_the_nearest_result_and_the_keys_the_next(visit):
    page = visit("student")
    box = page.locator("#chart-rises")
    ring = box.locator(".chart-at-tablet .chart-ring circle").nth(2)
    place = ring.bounding_box()
    page.touchscreen.tap(place["x"] + place["width"] / 2, place["y"] + place["height"] / 2)
    said = box.locator(".chart-said")
    expect(said).to_have_text(box.locator(".chart-values li").nth(2).text_content())
    expect(ring).to_have_class("is-read")
    first = said.text_content()
    box.focus()
    page.keyboard.press("ArrowRight")
    expect(said).not_to_have_text(first)
    expect(said).to_have_text(re.compile(r"^\d+ \w+: "))


def test_one_band_at_a_time_and_a_button_shades_the_other_foot(visit):
    page = visit("student")
    strand = page.locator("#strand-rises")
    bands = strand.locator(".chart-at-tablet .chart-band path")
    shown = "els => els.filter(el => el.closest('[data-band]').getAttribute('display') !== 'none')" \
        ".map(el => el.closest('[data-band]').dataset.band)"
    assert set(bands.evaluate_all(shown)) == {"L"}
    strand.get_by_role("button", name="Shade the right").tap()
    assert set(bands.evaluate_all(shown)) == {"R"}
    expect(strand.get_by_text("Shaded: where most single counts of the right foot fall.")).to_be_visible()
    expect(strand.get_by_role("button", name="Shade the left")).to_be_focused()


def test_odds_and_ranges_are_folded_until_somebody_asks(visit):
    page = visit("student")
    strand = page.locator("#strand-rises")
    odds = strand.get_by_text(re.compile("The level is most likely")).first
    expect(odds).to_be_hidden()
    expect(strand.locator(".chart-at-tablet .chart-bracket").first).to_be_hidden()
    strand.get_by_text("How sure?").tap()
    expect(odds).to_be_visible()
    expect(strand.locator(".chart-at-tablet .chart-bracket").first).to_be_visible()


def test_the_owners_figure_opens_and_goes_back_within_the_security_policy(visit):
    page = visit("all results")
    heard: list[str] = []
    page.on("console", lambda message: heard.append(message.text) if message.type == "error" else None)
    page.get_by_role("button", name="Explore").tap()
    plot = page.locator(".chart-plot")
    expect(plot.locator("g.trace").first).to_be_attached()
    expect(page.locator("#all-results")).to_be_hidden()
    assert plot.bounding_box()["height"] > 300
    page.get_by_role("button", name="Back to the list").tap()
    expect(plot).to_have_count(0)
    expect(page.locator("#all-results")).to_be_visible()
    assert not heard


def test_without_network_the_list_stays_and_says_so(visit):
    page = visit("all results")
    page.route("**/charts/**", lambda route: route.abort())
    page.get_by_role("button", name="Explore").tap()
    expect(page.get_by_text("The figure did not load. The list is still here.")).to_be_visible()
    expect(page.locator("#all-results")).to_be_visible()


def test_twelve_children_fit_a_landscape_tablet_without_scrolling(visit, show: Show):
    page = visit("grades of twelve")
    # Whoever rests takes as much room as the others.
    expect(page.get_by_role("button", name=re.compile(": clean|^no rises for now"))).to_have_count(24)
    assert page.evaluate("document.documentElement.scrollHeight - document.documentElement.clientHeight") <= 0
    last = Student.objects.filter(enrolments__class_group__name="Pre-pointe B").order_by("name").last()
    assert page.get_by_role("button", name=f"{last.first_name}, right: clean").bounding_box()["y"] < 768
