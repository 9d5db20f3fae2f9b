"""A group run: one count for everyone, one tap a child, nothing lost; the clock is moved by the test."""
import datetime as dt
import uuid
from decimal import Decimal

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from progress.actions import measuring
from progress.models import PainReport
from screening.actions import Entry
from screening.models import Result, Screening
from tests.browser.conftest import drawn, either_way
from tests.browser.modules import PENDING, SENDS
from tests.browser.run_hands import Run, enrol_more, open_run, run_address, set_cap, stored
from tests.conftest import Cast

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def run(page: Page, cast: Cast, enter, server: str) -> Run:
    enter(cast.teacher, server)
    return open_run(page, run_address(server, cast))


@either_way
def test_a_tap_on_a_name_takes_the_count_and_stop_all_the_rest_as_still_up(run: Run, cast: Cast):
    run.start()
    run.says("Ama", "up")
    run.rise(8)
    run.tap_name("Ama")
    run.says("Ama", "9")
    run.rise(8)
    run.press("Stop all")
    run.says("Bettina", "17", "still up")
    run.all_sent()
    assert stored(cast) == [("Ama", "L", 9, False, "", True), ("Bettina", "L", 17, True, "", True)]


def test_then_the_other_foot_and_the_run_ends_with_the_last_name(run: Run, cast: Cast):
    run.start()
    run.tap_name("Ama")
    run.tap_name("Bettina")
    run.hint("All stopped.")
    run.start("Right foot")
    run.rise(2)
    run.tap_name("Bettina")
    run.tap_name("Ama")
    run.hint("Nobody left to measure.")
    run.all_sent()
    assert stored(cast)[2:] == [("Bettina", "R", 3, False, "", False), ("Ama", "R", 3, False, "", False)]


def test_nobody_is_down_before_the_first_rise(run: Run, cast: Cast):
    run.tap_name("Ama")
    run.hint("Not started yet. Tap Start first.")
    run.press("Start")
    run.wait(3000)
    run.hint("Four beats, then up.")
    run.tap_name("Ama")
    run.hint("Wait for the first rise.")
    assert run.page.evaluate(PENDING) == []


def test_a_second_tap_says_why_and_puts_right_but_a_double_tap_does_not(run: Run, cast: Cast):
    run.start()
    run.rise(8)
    run.tap_name("Ama")
    run.tap_name("Ama")
    run.hint("Already down at 9. Tap again to say why.")
    run.wait(1000)
    run.tap_name("Ama")
    run.press("wobble")
    run.page.locator(".why [data-plus]").tap()
    run.page.locator(".why [data-plus]").tap()
    run.page.locator(".why [data-minus]").tap()
    run.says("Ama", "10", "wobble")
    run.all_sent()
    assert stored(cast) == [("Ama", "L", 10, False, "wobble", True)]
    assert Result.objects.count() == 5


def test_undo_takes_back_tap_after_tap_until_she_is_up_again(run: Run, cast: Cast):
    run.start()
    run.rise(8)
    run.tap_name("Ama")
    run.wait(1000)
    run.tap_name("Ama")
    run.press("gripped")
    expect(run.page.locator("[data-undo]")).to_contain_text("Ama 9, gripped")
    run.undo()
    expect(run.page.locator("[data-undo]")).to_contain_text("Ama 9")
    run.says("Ama", "9")
    run.undo()
    run.says("Ama", "up")
    run.rise(2)
    run.tap_name("Ama")
    run.all_sent()
    assert stored(cast) == [("Ama", "L", 11, False, "", True)]


def test_undo_after_a_reload_goes_on_where_it_was(run: Run, cast: Cast):
    run.start()
    run.rise(8)
    run.tap_name("Ama")
    run.wait(1000)
    run.tap_name("Ama")
    run.press("gripped")
    run.press("tired")
    run.all_sent()
    run.page.reload()
    drawn(run.page)
    run.says("Ama", "9", "tired")
    for _tap in range(3):
        run.undo()
    expect(run.page.locator("[data-undo]")).to_be_disabled()
    run.all_sent()
    assert stored(cast) == []


def test_the_cap_ends_her_run_by_itself(page: Page, cast: Cast, enter, server: str):
    set_cap(cast, cast.rises, 4)
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast))
    run.start()
    run.rise(1)
    run.tap_name("Ama")
    run.rise(4)
    run.says("Bettina", "4", "reached the limit")
    run.hint("All stopped.")
    run.all_sent()
    assert stored(cast) == [("Ama", "L", 2, False, "", True), ("Bettina", "L", 4, True, "", True)]


def test_whoever_rests_or_is_not_here_is_never_asked(page: Page, cast: Cast, enter, server: str):
    PainReport.objects.create(
        student=cast.ama, places=["L-achilles"], feels=["sharp"], asks="stop", reported_on=cast.screening.held_on,
        reported_by=cast.teacher,
    )
    enrol_more(cast, "Carys")
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast))
    run.press("Not today")
    run.tap_name("Carys")
    run.says("Ama", "no rises for now")
    run.says("Carys", "not today")
    run.start()
    run.tap_name("Ama")
    expect(page.get_by_text("Ama should rest: no rises for now")).to_be_visible()
    run.press("Leave it out")
    run.tap_name("Carys")
    run.tap_name("Bettina")
    run.hint("All stopped.")
    run.all_sent()
    assert [row[:3] for row in stored(cast)] == [("Carys", "L", None), ("Carys", "R", None), ("Bettina", "L", 1)]


def test_not_today_is_taken_back_like_any_tap(run: Run, cast: Cast):
    run.press("Not today")
    run.hint("Tap who does not do this measure today, or who is here after all.")
    run.tap_name("Ama")
    expect(run.page.locator("[data-undo]")).to_contain_text("Ama not today")
    run.undo()
    run.start()
    run.says("Ama", "up")
    run.all_sent()
    assert stored(cast) == []


@either_way
def test_what_was_tapped_without_network_is_there_after_a_reload(run: Run, cast: Cast, server: str):
    run.page.route(SENDS, lambda route: route.abort("internetdisconnected"))
    run.start()
    run.rise(5)
    run.tap_name("Ama")
    run.wait(1000)
    run.tap_name("Ama")
    run.press("tired")
    run.page.reload()
    drawn(run.page)
    run.says("Ama", "6", "tired")
    run.says("Bettina", "up")
    assert not Result.objects.exists()
    run.page.unroute(SENDS)
    run.all_sent()
    assert stored(cast) == [("Ama", "L", 6, False, "tired", True)]


def record(cast: Cast, value: int, by, corrects: Result | None = None) -> Result:
    entry = Entry(value=Decimal(value))
    if corrects is not None:
        return measuring.correct_result(key=uuid.uuid4(), result=corrects, entry=entry, by=by)
    return measuring.record_result(
        key=uuid.uuid4(), screening=cast.screening, student=cast.ama, measure=cast.rises, side="L", entry=entry, by=by
    )


def test_what_the_other_tablet_recorded_stands_on_this_one_and_is_not_asked_again(run: Run, cast: Cast):
    run.start()
    theirs = record(cast, 12, cast.owner)
    run.hears("Ama", "12")
    run.tap_name("Bettina")
    run.hint("All stopped.")
    expect(run.page.locator("[data-undo]")).to_contain_text("Bettina")
    record(cast, 13, cast.owner, corrects=theirs)
    run.hears("Ama", "13")


def test_both_tablets_results_of_one_child_are_kept_as_two_attempts(run: Run, cast: Cast):
    run.start()
    run.rise(8)
    run.page.route(SENDS, lambda route: route.abort("internetdisconnected"))
    run.tap_name("Ama")
    record(cast, 12, cast.owner)
    run.page.unroute(SENDS)
    run.all_sent()
    rows = Result.objects.in_force().order_by("attempt").values_list("attempt", "value", "by__name")
    assert list(rows) == [(1, 12, "Ottoline Brack"), (2, 9, "Davit Meskhi")]


@either_way
def test_a_result_that_the_server_refuses_is_said_and_stays_in_the_outbox(run: Run, cast: Cast):
    # Told of the closing beforehand, the page would not take the tap at all.
    run.page.route("**/news/**", lambda route: route.abort())
    run.start()
    # Well before the tap, by whose age the server goes: the page's clock runs ahead of the server's in this test, and
    # what was tapped before the closing is taken.
    closed_at = timezone.now() - dt.timedelta(minutes=1)
    Screening.objects.update(closed_at=closed_at, closed_by=cast.owner)
    run.tap_name("Ama")
    run.wait(3000)
    expect(run.page.locator("[data-hint]")).to_contain_text("Ama was not saved: This screening is closed.")
    expect(run.page.get_by_text("1 not accepted.")).to_be_visible()
    expect(run.tile("Ama")).not_to_contain_text("1")
