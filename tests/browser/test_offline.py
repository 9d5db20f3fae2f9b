"""In aeroplane mode the barre opens, shows what was tapped, and keeps on; nobody finds another person's pages there."""
import re
import threading
import time
import uuid
from decimal import Decimal

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from progress.actions import measuring
from screening.actions import Entry
from screening.models import Result
from studio.models import ClassMeeting
from tests.browser.conftest import all_sent, drawn, either_way, let_in
from tests.browser.modules import SENDS
from tests.conftest import PASSWORD, Cast

pytestmark = pytest.mark.django_db(transaction=True)

KEPT = "caches.keys().then(names => names.filter(name => name.startsWith('barre-pages-')))"


def open_the_hub(page: Page, server: str) -> None:
    page.goto(f"{server}/barre/")
    expect(page.get_by_text("These classes open without network on this tablet.")).to_be_visible(timeout=60_000)


@pytest.fixture
def hub(page: Page, cast: Cast, enter, server: str) -> Page:
    ClassMeeting.objects.create(class_group=cast.class_group, weekday=1, starts_at="16:30")
    enter(cast.teacher, server)
    open_the_hub(page, server)
    return page


def sheet(page: Page, name: str) -> None:
    page.get_by_role("link", name=name).tap()
    page.wait_for_url("**/barre/screenings/**")
    drawn(page)


def shelves(page: Page, number: int) -> list[str]:
    """The shelves of pages on this tablet, once there are so many."""
    until = time.monotonic() + 20
    while len(found := page.evaluate(KEPT)) != number:
        assert time.monotonic() < until, found
        page.wait_for_timeout(50)
    return found


def cell(page: Page, student, side: str):
    return page.locator(f"#cell-{student.pk}-{side}")


@either_way
def test_a_whole_class_is_measured_in_aeroplane_mode_and_sent_afterwards(hub: Page, cast: Cast):
    hub.context.set_offline(True)
    sheet(hub, "Landing control")
    for child in ("Ama", "Bettina"):
        for side in ("left", "right"):
            hub.get_by_role("button", name=f"{child}, {side}: corrected").tap()
    hub.get_by_role("link", name="rises").tap()
    hub.wait_for_url("**/rises/")
    drawn(hub)
    for child in ("Ama", "Bettina"):
        for side, value in (("left", "14"), ("right", "16")):
            hub.get_by_label(f"{child}, {side}", exact=True).fill(value)
            hub.keyboard.press("Enter")
    expect(hub.get_by_text("Saved on this tablet. 8 waiting to be sent.")).to_be_visible()
    assert not Result.objects.exists()
    hub.context.set_offline(False)
    all_sent(hub)
    assert Result.objects.count() == 8


@either_way
def test_what_was_sent_is_seen_again_when_the_page_opens_without_network(hub: Page, cast: Cast):
    sheet(hub, "Landing control")
    hub.get_by_role("button", name="Ama, left: clean").tap()
    all_sent(hub)
    hub.context.set_offline(True)
    hub.get_by_role("button", name="Ama, right: lost").tap()
    hub.reload()
    expect(cell(hub, cast.ama, "L").get_by_role("link")).to_contain_text("clean")
    expect(cell(hub, cast.ama, "R").get_by_role("link")).to_contain_text("lost")
    hub.context.set_offline(False)
    all_sent(hub)
    assert Result.objects.count() == 2


def tile(page: Page, name: str):
    return page.locator(".tile:visible", has_text=name)


@either_way
def test_a_run_that_opens_without_network_asks_for_nothing_that_was_sent(hub: Page, cast: Cast):
    sheet(hub, "By hand")
    address = hub.url
    for value in ("14", "15"):
        hub.get_by_label("Ama, left", exact=True).fill(value)
        hub.keyboard.press("Enter")
        all_sent(hub)
        drawn(hub).goto(f"{address}?again=cell-{cast.ama.pk}-L")
    hub.context.set_offline(True)
    hub.goto(f"{address}run/")
    expect(tile(drawn(hub), "Ama")).to_contain_text("15")
    expect(tile(hub, "Bettina")).to_have_text("Bettina")


def test_a_run_that_opens_without_network_shows_what_the_other_tablet_told_it(hub: Page, cast: Cast):
    sheet(hub, "rises")
    measuring.record_result(
        key=uuid.uuid4(), screening=cast.screening, student=cast.ama, measure=cast.rises, side="L",
        entry=Entry(value=Decimal(12)), by=cast.owner,
    )
    expect(tile(hub, "Ama")).to_contain_text("12")
    hub.context.set_offline(True)
    hub.reload()
    expect(tile(drawn(hub), "Ama")).to_contain_text("12")


@either_way
def test_a_tab_that_was_closed_opens_again_without_network(hub: Page, cast: Cast, server: str):
    sheet(hub, "Landing control")
    hub.context.set_offline(True)
    hub.get_by_role("button", name="Ama, left: clean").tap()
    expect(hub.get_by_text("1 waiting to be sent.")).to_be_visible()
    context = hub.context
    hub.close()
    page = context.new_page()
    page.goto(f"{server}/barre/")
    sheet(page, "Landing control")
    expect(cell(page, cast.ama, "L").get_by_role("link")).to_contain_text("clean")
    context.set_offline(False)
    all_sent(page)
    assert Result.objects.count() == 1


def test_the_page_of_pain_opens_without_network(hub: Page, cast: Cast):
    hub.context.set_offline(True)
    sheet(hub, "By hand")
    hub.get_by_text("It hurts", exact=True).tap()
    hub.get_by_role("link", name="Bettina").tap()
    expect(hub.get_by_role("heading", name="Bettina: where does it hurt?")).to_be_visible()


def test_pain_is_two_taps_from_a_group_run_without_network_too(hub: Page, cast: Cast):
    hub.context.set_offline(True)
    sheet(hub, "rises")
    drawn(hub).get_by_role("button", name="It hurts").tap()
    hub.locator(".tile:visible", has_text="Bettina").tap()
    expect(hub.get_by_role("heading", name="Bettina: where does it hurt?")).to_be_visible()


def test_a_network_that_dies_in_the_middle_of_a_page_gives_way_to_the_kept_one(hub: Page, in_pieces):
    is_seen = threading.Event()

    def dying(body: bytes):
        yield body[: len(body) // 2]
        is_seen.wait(60)
        yield body[len(body) // 2 :]

    in_pieces(dying, of="landing-control/")
    try:
        hub.get_by_role("link", name="Landing control").tap(no_wait_after=True)
        expect(hub.get_by_role("button", name="Ama, left: clean")).to_be_visible()
    finally:
        is_seen.set()


def test_one_at_a_time_stays_so_without_network(hub: Page, cast: Cast):
    hub.context.set_offline(True)
    sheet(hub, "rises")
    hub.locator(".run-menu > summary").tap()
    hub.get_by_role("link", name="One at a time").tap()
    hub.wait_for_url("**/run/one/")
    drawn(hub).reload()
    expect(drawn(hub).get_by_role("button", name="one more")).to_be_visible()
    expect(hub.locator(".tile:visible")).to_have_count(1)


@either_way
def test_pain_is_reported_without_network_and_the_way_back_is_the_sheet_she_came_from(hub: Page, cast: Cast):
    hub.context.set_offline(True)
    sheet(hub, "By hand")
    hub.get_by_text("It hurts", exact=True).tap()
    hub.get_by_role("link", name="Bettina").tap()
    hub.wait_for_url("**/hurts/**")
    hub.locator(".foot-tap-behind-L-heel").tap()
    hub.locator("label.answer", has_text="numb or tingling").tap()
    hub.get_by_role("button", name="Next step").tap()
    expect(hub.get_by_role("heading", name="To be seen by a doctor today.")).to_be_visible()
    hub.locator("a.button.ink[data-way-back]").filter(visible=True).tap()
    expect(hub.get_by_role("heading", name="Rises, one foot")).to_be_visible()
    expect(hub.get_by_text("1 waiting to be sent.")).to_be_visible()
    hub.context.set_offline(False)
    all_sent(hub)
    report = cast.bettina.pain_reports.get()
    assert (report.feels, report.places, report.screening) == (["numb"], ["L-heel"], cast.screening)


def test_a_page_that_was_never_opened_leads_to_those_that_were(hub: Page, server: str):
    hub.context.set_offline(True)
    hub.goto(f"{server}/barre/screenings/999999/")
    expect(hub.get_by_text("That page needs the network. These open without it.")).to_be_visible()


@pytest.mark.parametrize("way", ["/", "the link"])
def test_leaving_the_barre_without_network_ends_at_what_opens_without_it(hub: Page, server: str, way: str):
    hub.context.set_offline(True)
    if way == "/":
        hub.goto(f"{server}/")
    else:
        hub.get_by_role("link", name="Leave the barre").tap()
    hub.wait_for_url("**/barre/?not-kept")
    expect(hub.get_by_text("That page needs the network. These open without it.")).to_be_visible()
    hub.context.set_offline(False)
    hub.get_by_role("link", name="Leave the barre").tap()
    hub.wait_for_url(f"{server}/")


def test_logging_out_leaves_no_page_of_the_barre_on_the_tablet(hub: Page, server: str):
    shelves(hub, 1)
    hub.goto(f"{server}/account/")
    hub.get_by_role("button", name="Log out").tap()
    expect(hub.get_by_role("button", name="Log in")).to_be_visible()
    shelves(hub, 0)


def test_another_person_finds_nothing_of_the_first_one(hub: Page, cast: Cast, server: str):
    let_in(hub.context, cast.owner, server)
    hub.goto(server)
    shelves(hub, 0)
    open_the_hub(hub, server)
    assert [name.rsplit("-", 1)[1] for name in shelves(hub, 1)] == [str(cast.owner.pk)]


def test_the_worker_keeps_no_entry_and_no_news(hub: Page, cast: Cast):
    sheet(hub, "Landing control")
    hub.get_by_role("button", name="Ama, left: clean").tap()
    all_sent(hub)
    with hub.expect_response("**/news/**"):
        pass
    paths = hub.evaluate("""async () => {
      const found = [];
      for (const name of await caches.keys())
        for (const request of await (await caches.open(name)).keys()) found.push(new URL(request.url).pathname);
      return found;
    }""")
    assert [path for path in paths if re.search("/(record|news|take-back|missing|token|login|close)/", path)] == []
    assert f"/barre/screenings/{cast.screening.pk}/rises/" in paths


def test_an_entry_that_waits_outlives_logging_out_and_in_and_is_nobody_elses(
    hub: Page, cast: Cast, server: str
):
    sheet(hub, "Landing control")
    hub.route(SENDS, lambda route: route.abort())
    hub.get_by_role("button", name="Ama, left: clean").tap()
    expect(hub.get_by_text("1 waiting to be sent.")).to_be_visible()
    let_in(hub.context, cast.owner, server)
    open_the_hub(hub, server)
    hub.locator(".outbox-line > summary").tap()
    expect(hub.get_by_text("1 of Davit Meskhi go out when Davit Meskhi logs in here.")).to_be_visible()
    assert not Result.objects.exists()
    hub.unroute(SENDS)
    hub.context.clear_cookies()
    hub.goto(f"{server}/login/?next=/barre/")
    hub.get_by_label("Name").fill("davit")
    hub.get_by_label("Password").fill(PASSWORD)
    hub.get_by_role("button", name="Log in").tap()
    expect(hub.get_by_role("heading", name="At the barre")).to_be_visible()
    all_sent(hub)
    assert Result.objects.get().by == cast.teacher


@either_way
def test_a_login_that_ran_out_asks_to_log_in_and_then_sends(hub: Page, cast: Cast, server: str):
    sheet(hub, "Landing control")
    context: BrowserContext = hub.context
    context.clear_cookies()
    hub.get_by_role("button", name="Ama, left: clean").tap()
    expect(hub.get_by_text("Log in to send. 1 saved on this tablet.")).to_be_visible()
    hub.locator(".outbox-line > summary").tap()
    hub.get_by_role("link", name="Log in").tap()
    hub.get_by_label("Name").fill("davit")
    hub.get_by_label("Password").fill(PASSWORD)
    hub.get_by_role("button", name="Log in").tap()
    expect(hub.get_by_role("heading", name="Landing control")).to_be_visible()
    all_sent(hub)
    assert Result.objects.get().value == 2


@either_way
def test_a_token_that_another_login_made_old_is_renewed_by_itself(hub: Page, cast: Cast):
    sheet(hub, "Landing control")
    hub.context.clear_cookies(name="csrftoken")
    hub.get_by_role("button", name="Ama, left: clean").tap()
    all_sent(hub)
    assert Result.objects.count() == 1


@either_way
def test_a_clock_that_is_wrong_changes_neither_order_nor_day(hub: Page, cast: Cast):
    sheet(hub, "Landing control")
    hub.context.set_offline(True)
    hub.evaluate("const real = Date.now; Date.now = () => real() + 4e11")
    hub.get_by_role("button", name="Ama, left: clean").tap()
    hub.evaluate("const later = Date.now; Date.now = () => later() - 9e11")
    hub.get_by_role("button", name="Ama, right: lost").tap()
    hub.context.set_offline(False)
    all_sent(hub)
    rows = list(Result.objects.order_by("pk").values_list("side", "taken_on"))
    assert rows == [("L", cast.screening.held_on), ("R", cast.screening.held_on)]


def test_the_measuring_day_opens_without_network_as_last_seen_and_says_since_when(hub: Page, cast: Cast, server: str):
    hub.goto(f"{server}/barre/screenings/{cast.screening.pk}/")
    expect(hub.get_by_text("This page opens without network on this tablet.")).to_be_visible(timeout=60_000)
    hub.context.set_offline(True)
    hub.reload()
    expect(hub.get_by_role("link", name="Landing control")).to_be_visible()
    expect(hub.locator(".outbox-words")).to_have_text(re.compile(r"^All sent\. As of \d+:\d\d\.$"))
    expect(hub.get_by_text("No network. What was made ready opens all the same.")).to_be_visible()
