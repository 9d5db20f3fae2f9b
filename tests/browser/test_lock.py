"""The lock over a page of an enrolled tablet: what it hides, who opens it, with and without the network."""
import datetime as dt
import re
import time
from collections.abc import Callable
from itertools import pairwise

import pytest
import time_machine as machine
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Page, expect

from screening.models import Result
from studio.entrance.actions import enrol_tablet, set_pin
from studio.entrance.keys import PinTries, Tablet, Visit
from studio.models import User
from tests.browser.conftest import drawn
from tests.browser.modules import KEEP, OUTBOX, SENDS
from tests.browser.test_fingers import too_small
from tests.conftest import PASSWORD, Cast

pytestmark = pytest.mark.django_db(transaction=True)
PIN = "7302"
# Whether the page was covered before anybody could have seen it.
BEFORE_PAINT = """document.addEventListener("DOMContentLoaded", () => {
    window.wasLocked = document.documentElement.classList.contains("locked");
})"""
# Once whatever the page would send has been sent: one tab, and one after the other, holds this lock while it sends.
SENT = f"async () => {{ {OUTBOX}.flush(); return navigator.locks.request('barre-outbox', () => true); }}"
# What the tablet holds to check a PIN by itself.
KEPT = """() => new Promise((resolve) => {
    const open = indexedDB.open("lock", 1);
    open.onsuccess = () => {
        const all = open.result.transaction("pins").objectStore("pins").getAll();
        const plain = (_key, value) => ArrayBuffer.isView(value) ? [...value] : value;
        all.onsuccess = () => { open.result.close(); resolve(JSON.stringify(all.result, plain)); };
    };
})"""


@pytest.fixture
def look_again(page: Page) -> Callable[[], None]:
    """Lets the page look at its clock, as it does every five seconds; to be asked for before the tablet comes in."""
    page.clock.install()
    return lambda: page.clock.run_for(6000)


@pytest.fixture
def tablet(page: Page, context: BrowserContext, cast: Cast, server: str) -> Page:
    """The teacher in by PIN on an enrolled tablet, on the first page."""
    row, token = enrol_tablet(name="Tablet by the window", by=cast.owner)
    for person, pin in ((cast.teacher, PIN), (cast.other_teacher, "580214")):
        set_pin(person=person, pin=pin)
    context.add_cookies([{"name": "tablet", "value": token, "url": server, "httpOnly": True, "sameSite": "Lax"}])
    page.goto(server)
    come_in(page, "Davit Meskhi", PIN)
    expect(page.get_by_role("heading", level=1)).to_contain_text("24 March")
    return page


def tap_pin(page: Page, pin: str) -> None:
    for digit in pin:
        page.locator(".pin-pad:visible").get_by_role("button", name=digit, exact=True).tap()


def come_in(page: Page, name: str, pin: str) -> None:
    page.get_by_label(name).check()
    tap_pin(page, pin)
    page.get_by_role("button", name="Come in").tap()


def lock(page: Page) -> None:
    page.evaluate("window.lock.close()")
    expect(page.locator("#lock")).to_be_visible()


def open_lock(page: Page, pin: str = PIN) -> None:
    tap_pin(page, pin)
    page.get_by_role("button", name="Open").tap()


def expect_in(page: Page, person: User, address: str) -> None:
    """That the page at this address is drawn and is this person's."""
    expect(page.locator('meta[name="barre-person"]')).to_have_attribute("content", str(person.pk))
    assert drawn(page).url == address


def wait_until_no_pin_is_kept(page: Page) -> None:
    until = time.monotonic() + 20
    while page.evaluate(KEPT) != "[]":
        assert time.monotonic() < until, "the tablet still keeps a PIN"
        page.wait_for_timeout(50)


def pass_minutes(page: Page, minutes: float) -> None:
    """As if nobody had touched any tab for so long."""
    page.evaluate("ago => localStorage.setItem('lock-active', Date.now() - ago)", minutes * 60000)


def outside(page: Page) -> list[str]:
    """Everything but the lock that an eye or a screen reader would still find."""
    return page.evaluate("""() => [...document.body.children].filter((part) => part.id !== "lock"
        && (getComputedStyle(part).visibility !== "hidden" || !part.inert)).map((part) => part.tagName)""")


def test_after_the_owners_minutes_nothing_of_the_page_is_left_to_read(
    look_again, tablet: Page, cast: Cast, server: str
):
    tablet.goto(f"{server}/students/{cast.ama.pk}/")
    assert outside(tablet)
    pass_minutes(tablet, 9)
    look_again()
    expect(tablet.locator("#lock")).to_be_hidden()
    pass_minutes(tablet, 10.1)
    look_again()
    expect(tablet.locator("#lock")).to_be_visible()
    assert outside(tablet) == []
    assert tablet.title() == "Locked"
    seen = tablet.locator("html").aria_snapshot()
    assert "Hello Davit" in seen and "Ama" not in seen and "Today" not in seen


def test_the_lock_ends_the_visit_at_the_server(tablet: Page, cast: Cast, server: str):
    with tablet.expect_response("**/lock/"):
        lock(tablet)
    assert not Visit.objects.filter(person=cast.teacher).exists()


def test_a_lock_without_the_network_ends_the_visit_as_soon_as_the_network_is_back(
    tablet: Page, context: BrowserContext, cast: Cast
):
    context.set_offline(True)
    lock(tablet)
    assert Visit.objects.filter(person=cast.teacher).exists()
    with tablet.expect_response("**/lock/"):
        context.set_offline(False)
    assert not Visit.objects.filter(person=cast.teacher).exists()


def test_what_can_be_tapped_on_the_lock_is_as_large_as_a_finger(tablet: Page):
    lock(tablet)
    assert too_small(tablet, "#lock") == []
    tablet.get_by_role("button", name="With the password").tap()
    assert too_small(tablet, "#lock") == []


@pytest.mark.parametrize("room", ["", "classes/{0}/log/", "screenings/{1}/rises/", "screenings/{1}/hurts/{2}/"])
def test_every_page_of_the_barre_is_locked_with_one_tap_as_large_as_a_finger(
    tablet: Page, cast: Cast, server: str, room: str
):
    tablet.goto(f"{server}/barre/" + room.format(cast.class_group.pk, cast.screening.pk, cast.ama.pk))
    assert too_small(drawn(tablet)) == []
    tablet.get_by_role("button", name="Lock", exact=True).tap()
    expect(tablet.locator("#lock")).to_be_visible()


def test_neither_escape_nor_reloading_nor_back_opens_it(tablet: Page, cast: Cast, server: str):
    tablet.goto(f"{server}/students/{cast.ama.pk}/")
    tablet.goto(f"{server}/follow-ups/")
    lock(tablet)
    for _twice in range(3):
        tablet.keyboard.press("Escape")
    expect(tablet.locator("#lock")).to_be_visible()
    tablet.evaluate("history.back()")
    tablet.wait_for_url(re.compile(f"/login/.next=/students/{cast.ama.pk}/$"))
    assert "Ama" not in tablet.locator("html").aria_snapshot()
    tablet.goto(f"{server}/students/{cast.ama.pk}/")
    expect(tablet.get_by_role("heading", name="Who is here?")).to_be_visible()


def test_the_right_pin_gives_the_page_back_as_it_was_and_its_forms_still_send(
    tablet: Page, cast: Cast, server: str
):
    tablet.goto(f"{server}/account/pin/")
    tablet.get_by_label("New PIN").fill("9157")
    lock(tablet)
    open_lock(tablet)
    expect(tablet.locator("#lock")).to_be_hidden()
    expect(tablet.get_by_label("New PIN")).to_have_value("9157")
    tablet.get_by_label("The PIN again").fill("9157")
    tablet.get_by_label("Your password").first.fill(PASSWORD)
    tablet.get_by_role("button", name="Set it").tap()
    expect(tablet.get_by_text("Your PIN is set.")).to_be_visible()


def test_five_wrong_pins_ask_for_the_password(tablet: Page, cast: Cast):
    lock(tablet)
    for _n in range(5):
        open_lock(tablet, "8100")
        expect(tablet.get_by_role("alert").filter(has_text="not Davit’s PIN")).to_be_visible()
    open_lock(tablet)
    expect(tablet.get_by_role("alert").filter(has_text="Five wrong PINs")).to_be_visible()
    assert PinTries.objects.get(person=cast.teacher).wrong == 5
    tablet.locator("#lock-password").fill(PASSWORD)
    tablet.get_by_role("button", name="Open").tap()
    expect(tablet.locator("#lock")).to_be_hidden()


def test_somebody_else_comes_in_and_finds_her_own_pages(tablet: Page, cast: Cast, server: str):
    lock(tablet)
    tablet.get_by_role("button", name="Somebody else").tap()
    come_in(tablet, "Selma Quist", "580214")
    expect(tablet.locator(".who")).to_contain_text("Selma Quist")
    assert outside(tablet)


def test_somebody_else_goes_on_with_the_sheet_at_the_barre(tablet: Page, cast: Cast, server: str):
    cast.class_group.teachers.add(cast.other_teacher)
    sheet = f"{server}/barre/screenings/{cast.screening.pk}/rises/"
    tablet.goto(sheet)
    lock(tablet)
    tablet.get_by_role("button", name="Somebody else").tap()
    come_in(tablet, "Selma Quist", "580214")
    tablet.wait_for_url(sheet)
    drawn(tablet)


def test_a_second_tab_locks_and_opens_with_the_first(tablet: Page, context: BrowserContext, server: str):
    second = context.new_page()
    second.goto(f"{server}/follow-ups/")
    lock(tablet)
    expect(second.locator("#lock")).to_be_visible()
    open_lock(tablet)
    expect(second.locator("#lock")).to_be_hidden()


def test_over_a_run_the_lock_stands_as_over_any_page(tablet: Page, cast: Cast, server: str):
    tablet.goto(f"{server}/barre/screenings/{cast.screening.pk}/rises/run/")
    lock(drawn(tablet))
    parts = [tablet.locator(f"#lock {part}").bounding_box() for part in (".brand", "h2", ".floor + p")]
    assert all(above["y"] + above["height"] <= below["y"] for above, below in pairwise(parts)), parts


def test_a_running_beat_is_a_hand_on_the_tablet(look_again, tablet: Page, cast: Cast, server: str):
    tablet.goto(f"{server}/barre/screenings/{cast.screening.pk}/rises/run/")
    tablet.get_by_role("button", name="Start").tap()
    expect(tablet.locator(".is-running")).to_be_attached()
    pass_minutes(tablet, 11)
    look_again()
    expect(tablet.locator("#lock")).to_be_hidden()
    expect(tablet.locator(".is-running")).to_be_attached()


def test_a_revoked_tablet_opens_by_no_pin(tablet: Page, cast: Cast):
    lock(tablet)
    Tablet.objects.update(revoked_at=dt.datetime(2026, 3, 24, tzinfo=dt.UTC), revoked_by=cast.owner)
    open_lock(tablet)
    expect(tablet.get_by_role("alert").filter(has_text="enrolled tablets only")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_lock_has_no_barrier_and_targets_for_a_hand_in_passing(tablet: Page, scheme):
    tablet.emulate_media(color_scheme=scheme)
    lock(tablet)
    assert Axe().run(tablet).response["violations"] == []
    for button in tablet.locator("#lock button:visible").all():
        assert button.bounding_box()["height"] >= 64, button.inner_text()


def test_what_one_person_tapped_waits_for_her_and_never_goes_out_as_anothers(
    tablet: Page, cast: Cast, server: str
):
    cast.class_group.teachers.add(cast.other_teacher)
    sheet = f"{server}/barre/screenings/{cast.screening.pk}/rises/"
    tablet.goto(sheet)
    tablet.route(SENDS, lambda route: route.abort())
    tablet.evaluate(KEEP, [f"/barre/screenings/{cast.screening.pk}/rises/record/", cast.ama.pk, "9"])
    expect(tablet.get_by_text("1 waiting to be sent")).to_be_visible()
    # Until her visit has ended it may still go out, as hers.
    with tablet.expect_response("**/lock/"):
        lock(tablet)
    tablet.unroute(SENDS)
    tablet.get_by_role("button", name="Somebody else").tap()
    come_in(tablet, "Selma Quist", "580214")
    expect_in(tablet, cast.other_teacher, sheet)
    tablet.evaluate(SENT)
    assert not Result.objects.exists()
    assert [row["person"] for row in tablet.evaluate(f"async () => {OUTBOX}.others()")] == [str(cast.teacher.pk)]
    lock(tablet)
    tablet.get_by_role("button", name="Somebody else").tap()
    come_in(tablet, "Davit Meskhi", PIN)
    expect_in(tablet, cast.teacher, sheet)
    expect(tablet.get_by_text("All sent.")).to_be_visible()
    assert Result.objects.get().by == cast.teacher


# --- without the network ---------------------------------------------------------------------------


def test_without_the_network_the_same_person_opens_it_by_her_pin(tablet: Page, context: BrowserContext):
    context.set_offline(True)
    lock(tablet)
    open_lock(tablet)
    expect(tablet.locator("#lock")).to_be_hidden()


def test_a_page_that_the_tablet_kept_opens_locked_and_by_pin_only(
    tablet: Page, context: BrowserContext, cast: Cast, server: str
):
    tablet.goto(f"{server}/barre/")
    expect(tablet.get_by_text("These classes open without network")).to_be_visible(timeout=60_000)
    sheet = f"{server}/barre/screenings/{cast.screening.pk}/rises/"
    tablet.goto(sheet)
    context.set_offline(True)
    lock(tablet)
    tablet.add_init_script(BEFORE_PAINT)
    tablet.goto(sheet)
    assert tablet.evaluate("window.wasLocked") is True
    expect(tablet.locator("#lock")).to_be_visible()
    assert "Ama" not in tablet.locator("html").aria_snapshot()
    open_lock(tablet)
    expect(tablet.locator("#lock")).to_be_hidden()
    assert "Ama" in tablet.locator("html").aria_snapshot()
    later = context.new_page()
    later.add_init_script("localStorage.setItem('lock-active', Date.now() - 660000)")
    later.add_init_script(BEFORE_PAINT)
    later.goto(f"{server}/barre/")
    assert later.evaluate("window.wasLocked") is True
    expect(later.locator("#lock")).to_be_visible()
    assert "Pre-pointe" not in later.locator("html").aria_snapshot()


def test_without_the_network_five_wrong_pins_end_it_until_the_server_is_asked(
    tablet: Page, context: BrowserContext, cast: Cast
):
    context.set_offline(True)
    lock(tablet)
    for _n in range(4):
        open_lock(tablet, "8100")
        expect(tablet.get_by_role("alert").filter(has_text="This is not your PIN.")).to_be_visible()
    open_lock(tablet, "8100")
    unknown = tablet.get_by_role("alert").filter(has_text="cannot tell your PIN any more")
    expect(unknown).to_be_visible()
    open_lock(tablet)
    expect(unknown).to_be_visible()
    expect(tablet.locator("#lock")).to_be_visible()
    context.set_offline(False)
    open_lock(tablet)
    expect(tablet.locator("#lock")).to_be_hidden()


def test_without_the_network_nobody_else_comes_in(tablet: Page, context: BrowserContext):
    context.set_offline(True)
    lock(tablet)
    open_lock(tablet, "580214")
    expect(tablet.get_by_role("alert").filter(has_text="This is not your PIN.")).to_be_visible()
    tablet.get_by_role("button", name="Somebody else").tap()
    expect(tablet.get_by_role("alert").filter(has_text="only Davit can open")).to_be_visible()
    tablet.get_by_role("button", name="With the password").tap()
    tablet.locator("#lock-password").fill(PASSWORD)
    tablet.get_by_role("button", name="Open").tap()
    expect(tablet.get_by_role("alert").filter(has_text="A password needs the network")).to_be_visible()


def test_the_tablet_keeps_no_pin_in_the_clear_and_none_after_a_log_out(tablet: Page, server: str):
    rows = tablet.evaluate(KEPT)
    assert '"bits":[' in rows and PIN not in rows
    tablet.goto(f"{server}/account/")
    tablet.get_by_role("button", name="Log out").tap()
    expect(tablet.get_by_role("heading", name="Who is here?")).to_be_visible()
    wait_until_no_pin_is_kept(tablet)


def test_a_pin_that_was_changed_elsewhere_no_longer_opens_it_alone(
    tablet: Page, context: BrowserContext, cast: Cast, server: str
):
    with machine.travel(dt.datetime(2026, 3, 24, 17, 1, tzinfo=dt.UTC), tick=False):
        set_pin(person=cast.teacher, pin="9157")
    tablet.goto(server)
    wait_until_no_pin_is_kept(tablet)
    context.set_offline(True)
    lock(tablet)
    open_lock(tablet)
    expect(tablet.get_by_role("alert").filter(has_text="cannot tell your PIN")).to_be_visible()
