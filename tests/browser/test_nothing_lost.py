"""Nothing typed is lost: a server that fails, a network that is cut, and a finger that taps twice."""
import pytest
from playwright.sync_api import Page, Route, expect

from screening.models import Result
from tests.browser.conftest import all_sent, drawn, kept
from tests.browser.modules import SENDS
from tests.conftest import Cast

pytestmark = pytest.mark.django_db(transaction=True)


def cut(route: Route) -> None:
    route.abort("internetdisconnected")


def broken(route: Route) -> None:
    route.fulfill(status=500, body="<h1>Something went wrong</h1>", content_type="text/html")


def other_page(route: Route) -> None:
    """A page that the network puts in between, with a friendly status."""
    route.fulfill(status=200, body="<h1>Welcome to the wireless network</h1>", content_type="text/html")


def lost_answer(route: Route) -> None:
    """The server stores the entry, and its answer never arrives."""
    route.fetch()
    route.abort("connectionreset")


@pytest.fixture
def rises(page: Page, cast: Cast, enter, server: str) -> Page:
    enter(cast.teacher, server)
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/rises/")
    return page


@pytest.mark.parametrize("trouble", [cut, broken, lost_answer, other_page])
def test_a_value_that_did_not_arrive_stays_and_goes_out_once_by_itself(rises: Page, cast: Cast, trouble):
    rises.route(SENDS, trouble)
    rises.get_by_label("Ama, left", exact=True).fill("14")
    rises.get_by_role("button", name="Save").tap()
    expect(rises.locator(f"#cell-{cast.ama.pk}-L").get_by_role("link")).to_contain_text("14")
    expect(rises.get_by_text("Saved on this tablet. 1 waiting to be sent.")).to_be_visible()
    rises.unroute(SENDS)
    all_sent(rises)
    expect(rises.get_by_text("All sent.")).to_be_visible()
    assert [result.value for result in Result.objects.all()] == [14]


def test_what_waits_is_seen_again_after_a_reload(rises: Page, cast: Cast):
    rises.route(SENDS, cut)
    rises.get_by_label("Ama, left", exact=True).fill("14")
    rises.get_by_role("button", name="Save").tap()
    expect(rises.get_by_text("1 waiting to be sent.")).to_be_visible()
    rises.reload()
    expect(rises.locator(f"#cell-{cast.ama.pk}-L").get_by_role("link")).to_contain_text("14")
    expect(rises.get_by_role("button", name="Undo")).to_contain_text("Ama left, 14")
    assert not Result.objects.exists()


NOTED = """([person, path, student]) => ["L", "R"].forEach((side, at) => {
  const key = crypto.randomUUID(), fields = { key, student: String(student), side, value: "14" };
  localStorage.setItem("barre-tap-" + key, JSON.stringify(
    { key, person: String(person), name: "", path, fields, words: side, state: "waiting", why: "", kept: 1, tap: at }));
})"""


def test_taps_that_were_only_noted_as_the_tab_closed_are_all_seen_when_it_opens(rises: Page, cast: Cast):
    path = f"/barre/screenings/{cast.screening.pk}/rises/record/"
    rises.evaluate(NOTED, [cast.teacher.pk, path, cast.ama.pk])
    rises.route(SENDS, cut)
    rises.reload()
    drawn(rises)
    for side in "LR":
        expect(rises.locator(f"#cell-{cast.ama.pk}-{side}").get_by_role("link")).to_contain_text("14")
    rises.unroute(SENDS)
    all_sent(rises)
    assert sorted(Result.objects.values_list("side", "value")) == [("L", 14), ("R", 14)]


# Another tab holds the tablet's own shelf, as a slow tablet does by itself.
BUSY = """() => new Promise(resolve => { indexedDB.open("barre-outbox", 1).onsuccess = event => {
  const rows = event.target.result.transaction("rows", "readwrite").objectStore("rows");
  (function again() { resolve(true); if (!window.isOver) rows.count().onsuccess = again; })();
}; })"""


def test_a_box_that_was_tapped_already_takes_no_second_tap_before_the_page_knows(
    page: Page, cast: Cast, enter, server: str
):
    enter(cast.teacher, server)
    address = f"{server}/barre/screenings/{cast.screening.pk}/landing-control/"
    # A shelf that does not answer holds nobody up for ever; here the clock stands still.
    page.clock.install(time=0)
    page.goto(address)
    page.clock.pause_at(60_000)
    page.context.route(SENDS, cut)
    drawn(page).get_by_role("button", name="Ama, left: clean").tap()
    page.clock.run_for(200)
    expect(page.get_by_text("1 waiting to be sent.")).to_be_visible()
    other = page.context.new_page()
    other.goto(address)
    other.evaluate(BUSY)
    page.reload()
    page.get_by_role("button", name="Ama, left: lost").tap()
    page.get_by_role("button", name="Bettina, left: lost").tap()
    other.evaluate("isOver = true")
    expect(page.locator(f"#cell-{cast.bettina.pk}-L").get_by_role("link")).to_contain_text("lost")
    expect(page.locator(f"#cell-{cast.ama.pk}-L").get_by_role("link")).to_contain_text("clean")
    assert kept(page) == 2


@pytest.mark.parametrize("gap_ms", [0, 30, 150])
def test_two_quick_taps_on_a_grade_store_one_result(page: Page, cast: Cast, enter, server: str, gap_ms: int):
    enter(cast.teacher, server)
    page.clock.install(time=0)
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/landing-control/")
    page.clock.pause_at(60_000)
    place = drawn(page).get_by_role("button", name="Ama, left: clean").bounding_box()
    for _tap in range(2):
        page.touchscreen.tap(place["x"] + 20, place["y"] + 20)
        page.clock.run_for(gap_ms)
    page.clock.resume()
    expect(page.locator(f"#cell-{cast.ama.pk}-L").get_by_role("link")).to_contain_text("clean")
    all_sent(page)
    assert Result.objects.count() == 1


def test_two_quick_taps_on_keep_store_one_result(rises: Page, cast: Cast):
    rises.get_by_label("Ama, left", exact=True).fill("14")
    place = drawn(rises).get_by_role("button", name="Save").bounding_box()
    for _tap in range(2):
        rises.touchscreen.tap(place["x"] + 20, place["y"] + 20)
    expect(rises.locator(f"#cell-{cast.ama.pk}-L").get_by_role("link")).to_contain_text("14")
    all_sent(rises)
    assert Result.objects.count() == 1


def test_two_quick_taps_on_next_step_make_one_pain_report(rises: Page, cast: Cast, server: str):
    rises.goto(f"{server}/barre/screenings/{cast.screening.pk}/hurts/{cast.ama.pk}/?measure=rises")
    rises.locator(".foot-tap-behind-L-heel").tap()
    rises.locator("label.answer", has_text="sharp, pin-point").tap()
    place = drawn(rises).get_by_role("button", name="Next step").bounding_box()
    for _tap in range(2):
        rises.touchscreen.tap(place["x"] + 20, place["y"] + 20)
    rises.wait_for_url("**/barre/pain/*/")
    expect(rises.get_by_role("heading", name="Stop for today.")).to_be_visible()
    assert cast.ama.pain_reports.count() == 1
