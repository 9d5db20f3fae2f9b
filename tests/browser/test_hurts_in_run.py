"""It hurts in the midst of a run: the others go on, and she is stopped by what was reported, never by a tap alone."""
import pytest
from playwright.sync_api import Page, expect

from progress.models import PainReport
from screening.models import Result
from studio.models import Consent
from tests.browser.conftest import drawn, either_way
from tests.browser.run_hands import RISE_MS, Run, open_run, run_address, stored
from tests.conftest import Cast
from tests.family.conftest import agree

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def run(page: Page, cast: Cast, enter, server: str) -> Run:
    enter(cast.teacher, server)
    return open_run(page, run_address(server, cast))


def ama_hurts(run: Run) -> Page:
    run.start()
    run.press("It hurts")
    run.tap_name("Ama")
    expect(run.page.get_by_role("heading", name="Ama: where does it hurt?")).to_be_visible()
    return drawn(run.page)


def report_dull_ache(run: Run) -> None:
    run.page.wait_for_url("**/hurts/**")
    page = drawn(run.page)
    page.get_by_label("left, Achilles").check(force=True)
    page.get_by_label("dull ache").check(force=True)
    page.get_by_role("button", name="Next step").tap()
    run.wait(RISE_MS)


def test_it_hurts_is_two_taps_from_the_place_and_the_others_go_on(run: Run, cast: Cast):
    run.start()
    run.rise(4)
    before = run.taps
    run.press("It hurts")
    run.tap_name("Ama")
    assert run.taps - before == 2
    expect(run.page.get_by_role("heading", name="Ama: where does it hurt?")).to_be_visible()
    run.wait(RISE_MS * 3)
    run.page.get_by_role("link", name="Nothing hurts").tap()
    expect(run.page.locator(".count")).to_have_text("8")
    run.says("Ama", "up")
    run.tap_name("Bettina")
    run.says("Bettina", "8")
    run.tap_name("Ama")
    run.all_sent()
    assert stored(cast) == [("Bettina", "L", 8, False, "", True), ("Ama", "L", 8, False, "", True)]


def test_after_the_next_step_she_rests_and_the_group_is_where_it_is(run: Run, cast: Cast):
    page = ama_hurts(run)
    page.get_by_label("left, Achilles").check(force=True)
    page.get_by_label("sharp, pin-point").check(force=True)
    expect(page.get_by_text("The others go on: 1")).to_be_visible()
    page.get_by_role("button", name="Next step").tap()
    run.wait(RISE_MS * 5)
    page.wait_for_url("**/barre/pain/*/**")
    page.get_by_role("link", name="Back to the group").tap()
    run.says("Ama", "no rises for now")
    expect(page.locator(".count")).to_have_text("6")
    assert PainReport.objects.get().student == cast.ama


def test_without_network_the_pain_form_is_not_opened_and_the_run_goes_on(run: Run, cast: Cast):
    run.start()
    run.page.context.set_offline(True)
    run.press("It hurts")
    run.tap_name("Ama")
    run.hint("No network. Stop Ama now, and report where it hurts as soon as it is back.")
    run.says("Bettina", "up")


@either_way
def test_who_leaves_the_page_of_pain_by_back_has_stored_nothing(run: Run, cast: Cast):
    ama_hurts(run).go_back()
    run.says("Ama", "up")
    run.tap_name("Bettina")
    run.all_sent()
    assert [row[0] for row in stored(cast)] == ["Bettina"]


def test_the_report_alone_stops_her_in_the_run(run: Run, cast: Cast):
    page = ama_hurts(run)
    report_dull_ache(run)
    page.wait_for_url("**/barre/pain/*/**")
    page.get_by_role("link", name="Back to the group").tap()
    # It stopped the exercise: that ends the day's rises, however dull it was.
    run.says("Ama", "no rises for now")
    run.says("Bettina", "up")
    run.all_sent()
    assert [(row[0], row[4]) for row in stored(cast)] == [("Ama", Result.PAIN)] * 2
    assert PainReport.objects.get().student == cast.ama


def test_a_report_kept_without_network_and_undone_leaves_her_in_the_run(run: Run, cast: Cast):
    page = ama_hurts(run)
    page.route("**/barre/**", lambda route: route.abort("internetdisconnected"))
    report_dull_ache(run)
    page.get_by_role("button", name="Undo, tapped by mistake").tap()
    expect(page.get_by_role("button", name="Next step")).to_be_visible()
    page.unroute("**/barre/**")
    page.get_by_role("link", name="Nothing hurts").tap()
    run.says("Ama", "up")
    run.all_sent()
    assert stored(cast) == []
    assert not PainReport.objects.exists()


def test_one_at_a_time_comes_back_to_one_at_a_time(page: Page, cast: Cast, enter, server: str):
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast, more="one/"))
    ama_hurts(run).get_by_role("link", name="Nothing hurts").tap()
    run.says("Ama", "up")
    expect(page.locator("#run.is-one")).to_be_visible()
    run.press("It hurts")
    run.tap_name("Ama")
    report_dull_ache(run)
    page.wait_for_url("**/barre/pain/*/**")
    page.get_by_role("link", name="Back to the run").tap()
    expect(page.locator("#run.is-one")).to_be_visible()
    drawn(page)


def test_a_report_undone_on_its_next_step_lets_her_go_on_where_she_was(page: Page, cast: Cast, enter, server: str):
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast, more="one/"))
    ama_hurts(run)
    report_dull_ache(run)
    page.wait_for_url("**/barre/pain/*/**")
    page.get_by_role("button", name="Undo, tapped by mistake").tap()
    expect(page.get_by_text("Tapped by mistake.")).to_be_visible()
    page.get_by_role("link", name="Back to the run").tap()
    drawn(page)
    expect(page.locator("#run.is-one")).to_be_visible()
    run.says("Ama", "up")
    assert stored(cast) == []


def test_where_no_notes_of_pain_are_agreed_she_is_stopped_without_that_word(page: Page, cast: Cast, enter, server: str):
    agree(cast, cast.ama, Consent.PAIN, is_given=False)
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast))
    run.start()
    run.press("It hurts")
    run.tap_name("Ama")
    page.get_by_role("link", name="Back to the group").tap()
    drawn(page)
    run.says("Ama", "not today")
    run.all_sent()
    assert [(row[0], row[4]) for row in stored(cast)] == [("Ama", Result.NOT_TODAY)] * 2


def test_from_a_run_it_is_known_that_the_exercise_stopped_and_when(page: Page, cast: Cast, enter, server: str):
    enter(cast.teacher, server)
    way = f"{server}/barre/screenings/{cast.screening.pk}/hurts/{cast.ama.pk}/?measure=rises&run&up&at=7"
    page.goto(way)
    expect(page.get_by_label("not this exercise")).to_be_checked()
    report_dull_ache(Run(page))
    page.wait_for_url("**/barre/pain/*/**")
    row = PainReport.objects.get()
    assert (row.stopped, row.at_count, row.asks) == ("exercise", 7, "stop")


def test_a_page_kept_without_its_address_knows_the_run_all_the_same(page: Page, cast: Cast, enter, server: str):
    """A tablet without network shows the page it keeps, which was fetched without what the address says."""
    enter(cast.teacher, server)
    way = f"{server}/barre/screenings/{cast.screening.pk}/hurts/{cast.ama.pk}/?measure=rises"
    kept = page.request.get(way).text()
    page.route("**/hurts/**", lambda route: route.fulfill(body=kept, content_type="text/html"))
    page.goto(way + "&run&up&at=7")
    expect(page.get_by_label("not this exercise")).to_be_checked()
    expect(page.locator("[name=at_count]")).to_have_value("7")
