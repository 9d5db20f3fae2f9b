"""A tap is answered in its own turn: what was tapped says so before anything else runs, and is noted by then."""
import pytest
from playwright.sync_api import Page, expect

from progress.actions.classwork.programme import plan_exercise
from progress.models import Exercise
from progress.rules.dose import Dose
from screening.models import Result
from tests.browser.conftest import all_sent, drawn
from tests.browser.run_hands import open_run, run_address
from tests.conftest import Cast

pytestmark = pytest.mark.django_db(transaction=True)

# Clicks and looks without giving way to anything: [what the place says, how many taps are noted].
CLICK = """([what, place]) => {
  document.querySelector(what).click();
  const noted = Object.keys(localStorage).filter(name => name.startsWith("barre-tap-"));
  return [document.querySelector(place).innerText, noted.length];
}"""
FORBID = "() => { Storage.prototype.setItem = () => { throw new DOMException('full', 'QuotaExceededError'); }; }"


@pytest.fixture
def at(page: Page, cast: Cast, enter, server: str):
    enter(cast.teacher, server)

    def go(room: str) -> Page:
        page.goto(f"{server}/barre/{room}/")
        return drawn(page)

    return go


def click(page: Page, what: str, place: str) -> list:
    return page.evaluate(CLICK, [what, place])


def test_a_grade_is_written_and_noted_in_the_turn_of_its_tap(at, cast: Cast):
    page = at(f"screenings/{cast.screening.pk}/landing-control")
    cell = f"#cell-{cast.ama.pk}-L"
    assert click(page, f"{cell} button[value='2']", f"{cell} .written") == ["clean\nput right", 1]
    expect(page.locator("[data-undo]")).to_contain_text("Ama left, clean")
    all_sent(page)


def test_a_typed_count_is_written_and_noted_in_the_turn_of_keep(at, cast: Cast):
    page = at(f"screenings/{cast.screening.pk}/rises")
    cell = f"#cell-{cast.ama.pk}-L"
    page.locator(f"{cell} input.box").fill("14")
    assert click(page, ".pad .keep-key", f"{cell} .written")[0].startswith("14")
    all_sent(page)


def test_a_name_in_a_run_stands_on_the_floor_in_the_turn_of_its_tap(page: Page, cast: Cast, enter, server: str):
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast))
    run.start()
    run.rise(4)
    tile = f".tile[data-child='{cast.ama.pk}']"
    words, noted = click(page, tile, tile)
    assert words.split() == ["Ama", "5"]
    assert noted == 1
    run.all_sent()


def test_a_name_in_the_class_log_says_absent_in_the_turn_of_its_tap(at, cast: Cast):
    plan_exercise(
        class_group=cast.class_group, term=cast.term, exercise=Exercise.objects.get(key="short-foot"),
        dose=Dose(2, 8), added_on=cast.screening.held_on, by=cast.teacher,
    )
    page = at(f"classes/{cast.class_group.pk}/log")
    tile = f"[data-view=''] [data-student='{cast.ama.pk}']"
    assert click(page, tile, tile) == ["Ama\nabsent", 1]
    all_sent(page)


def test_what_cannot_be_noted_is_written_only_once_the_disk_has_it(at, cast: Cast):
    page = at(f"screenings/{cast.screening.pk}/landing-control")
    page.evaluate(FORBID)
    cell = f"#cell-{cast.ama.pk}-L"
    words, noted = click(page, f"{cell} button[value='2']", cell)
    assert (words.split()[:3], noted) == (["lost", "corrected", "clean"], 0)
    expect(page.locator(f"{cell} .kept")).to_have_text("clean")
    all_sent(page)
    assert Result.objects.get().value == 2


def test_a_tap_whose_frame_never_came_is_found_when_the_page_opens_again(at, cast: Cast):
    page = at(f"screenings/{cast.screening.pk}/landing-control")
    page.context.set_offline(True)
    page.evaluate("() => { IDBDatabase.prototype.transaction = () => { throw new Error('the tab is closing'); }; }")
    assert click(page, f"#cell-{cast.ama.pk}-L button[value='2']", f"#cell-{cast.ama.pk}-L .written")[1] == 1
    page.context.set_offline(False)
    page.reload()
    expect(page.locator(f"#cell-{cast.ama.pk}-L .kept")).to_have_text("clean")
    all_sent(page)
    assert Result.objects.count() == 1
