"""The number pad and the clock write where the finger chose, and nowhere else."""
import pytest
from playwright.sync_api import Page, expect

from screening.models import Result
from tests.browser.conftest import SIZES, a_moment_later, all_sent, drawn
from tests.browser.modules import SENDS
from tests.browser.run_hands import enrol_more
from tests.conftest import Cast

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def rises(page: Page, cast: Cast, enter, server: str) -> Page:
    enter(cast.teacher, server)
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/rises/")
    return page


def pad(page: Page, *keys: str) -> None:
    for key in keys:
        page.locator(".pad").get_by_role("button", name=key, exact=True).tap()


def test_a_value_typed_after_a_question_is_the_same_childs(rises: Page, cast: Cast):
    rises.get_by_label("Ama, left", exact=True).tap()
    pad(rises, "1", "2", "0", "Save")
    expect(rises.get_by_text("120 rises: sure?")).to_be_visible()
    pad(rises, "1", "6", "Save")
    expect(rises.locator(f"#cell-{cast.ama.pk}-L").get_by_role("link")).to_contain_text("16")
    all_sent(rises)
    result = Result.objects.get()
    assert (result.student, result.side, result.value) == (cast.ama, "L", 16)


def test_digits_go_into_the_next_free_box_where_the_first_one_was_taken_on_the_tablet(rises: Page, cast: Cast):
    rises.route(SENDS, lambda route: route.abort("internetdisconnected"))
    pad(drawn(rises), "9", "Save")
    expect(rises.get_by_text("1 waiting to be sent.")).to_be_visible()
    rises.reload()
    pad(drawn(rises), "1", "2")
    expect(rises.get_by_label("Ama, right", exact=True)).to_have_value("12")


@pytest.mark.parametrize("held", [SIZES["portrait"]], ids=["portrait"], indirect=True)
def test_the_next_box_is_never_under_the_pad(rises: Page, cast: Cast):
    enrol_more(cast, *(f"Dancer{number:02}" for number in range(10)))
    rises.reload()
    for _child in range(9):
        pad(drawn(rises), "9", "Save")
        box, side = rises.locator("input.box:focus").bounding_box(), rises.locator("#sheet-side").bounding_box()
        head = rises.locator(".sheet-head").bounding_box()
        assert head["y"] + head["height"] <= box["y"] and box["y"] + box["height"] <= side["y"]
    all_sent(rises)


def test_yes_keeps_the_unusual_value_as_confirmed(rises: Page, cast: Cast):
    rises.get_by_label("Ama, left", exact=True).tap()
    pad(rises, "1", "2", "0", "Save")
    rises.get_by_role("button", name="Yes").tap()
    expect(rises.locator(f"#cell-{cast.ama.pk}-L").get_by_role("link")).to_contain_text("120")
    all_sent(rises)
    assert Result.objects.get().is_confirmed


def test_the_first_digit_replaces_what_stood_there(rises: Page, cast: Cast):
    rises.get_by_label("Ama, left", exact=True).tap()
    pad(rises, "1", "4", "Save")
    written = rises.locator(f"#cell-{cast.ama.pk}-L").get_by_role("link")
    expect(written).to_contain_text("14")
    # A second tap right after is taken for a double tap and reopens nothing.
    a_moment_later(rises)
    written.tap()
    rises.get_by_label("Ama, left", exact=True).tap()
    pad(rises, "5", "Save")
    expect(rises.locator(f"#cell-{cast.ama.pk}-L").get_by_role("link")).to_contain_text("5")
    all_sent(rises)
    assert Result.objects.in_force().get().value == 5


def test_a_value_put_right_by_keyboard_is_replaced_where_no_other_box_is_left(rises: Page, cast: Cast):
    drawn(rises)
    for _box in range(4):
        rises.keyboard.press("1")
        rises.keyboard.press("Enter")
    all_sent(rises)
    last = rises.locator(".written:visible").last
    expect(rises.locator(".written:visible")).to_have_count(4)
    a_moment_later(rises)
    last.focus()
    rises.keyboard.press("Enter")
    rises.keyboard.press("5")
    rises.keyboard.press("Enter")
    expect(last).to_contain_text("5")
    all_sent(rises)
    assert sorted(Result.objects.in_force().values_list("value", flat=True)) == [1, 1, 1, 5]


def test_it_hurts_has_a_key(rises: Page, cast: Cast):
    drawn(rises).keyboard.press("Alt+h")
    expect(rises.get_by_role("link", name="Ama", exact=True)).to_be_visible()
    rises.keyboard.press("Tab")
    rises.keyboard.press("Enter")
    rises.wait_for_url(f"**/hurts/{cast.ama.pk}/**")


# 1280 to 800 at twice the size, and a phone that lies down.
LOW = [{"width": 640, "height": 400}, {"width": 844, "height": 390}]


@pytest.mark.parametrize("held", LOW, ids=["zoomed", "lying"], indirect=True)
def test_in_a_low_window_rows_stay_visible(rises: Page, cast: Cast):
    heads = drawn(rises).locator(".sheet-row.heads").bounding_box()
    ways = rises.locator(".sheet-nav").bounding_box()
    assert ways["y"] + ways["height"] <= heads["y"]
    for child in (cast.ama, cast.bettina):
        cell = rises.locator(f"#cell-{child.pk}-L")
        assert cell.evaluate("""cell => {
          const {x, y, width, height} = cell.getBoundingClientRect();
          return cell.contains(document.elementFromPoint(x + width / 2, y + height / 2));
        }"""), child


def test_the_clock_writes_into_the_box_it_was_started_for(page: Page, cast: Cast, enter, server: str):
    enter(cast.teacher, server)
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/passe-balance/")
    page.get_by_label("Ama, left", exact=True).tap()
    page.get_by_role("button", name="Start").tap()
    page.get_by_label("Bettina, right", exact=True).tap()
    page.get_by_role("button", name="Stop").tap()
    all_sent(page)
    result = Result.objects.get()
    assert (result.student, result.side) == (cast.ama, "L")


def test_typing_holds_stays_chosen_from_child_to_child(page: Page, cast: Cast, enter, server: str):
    enter(cast.teacher, server)
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/passe-balance/")
    page.get_by_label("Ama, left", exact=True).tap()
    page.get_by_role("button", name="Type it").tap()
    pad(page, "7", "Save")
    all_sent(page)
    expect(page.get_by_role("button", name="Use the clock")).to_be_visible()
    assert Result.objects.get().value == 7


def test_one_undo_takes_a_not_today_back_from_both_feet(rises: Page, cast: Cast):
    rises.get_by_text("Not today").first.tap()
    rises.get_by_role("button", name="Ama", exact=True).tap()
    rises.get_by_role("button", name="Undo").tap()
    all_sent(rises)
    expect(rises.get_by_label("Ama, left", exact=True)).to_be_visible()
    expect(rises.get_by_label("Ama, right", exact=True)).to_be_visible()
