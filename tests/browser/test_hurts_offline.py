"""It hurts without a network: the tablet says the next step itself, keeps the report, and sends it later, once."""
import itertools

import pytest
from playwright.sync_api import Page, expect

from progress.models import FollowUp, PainReport
from progress.rules import pain
from tests.browser.conftest import all_sent, drawn, either_way, moved, painted, watch_moves
from tests.conftest import Cast

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def form(page: Page, cast: Cast, server: str, enter) -> Page:
    cast.studio.first_aid_policy = "Sit down. The box hangs by the door."
    cast.studio.save()
    enter(cast.teacher, server)
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/hurts/{cast.ama.pk}/?measure=rises")
    return page


def cut(page: Page) -> None:
    page.route("**/*", lambda route: route.abort("internetdisconnected"))


def tap_sharp_achilles(page: Page) -> None:
    page.locator("#foot-L-achilles").check(force=True)
    page.locator("label.answer", has_text="sharp, pin-point").tap()


def test_with_a_network_the_studios_own_next_step_follows(form: Page):
    tap_sharp_achilles(form)
    form.get_by_role("button", name="Next step").tap()
    form.wait_for_url("**/barre/pain/*/")
    expect(form.get_by_role("heading", name="Stop the rises for today.")).to_be_visible()
    assert PainReport.objects.count() == 1


def test_a_stop_sign_without_a_network_is_said_at_once_and_sent_when_it_is_back(form: Page, cast: Cast):
    cut(form)
    tap_sharp_achilles(form)
    form.get_by_role("button", name="Next step").tap()
    expect(form.get_by_role("heading", name="Stop the rises for today.")).to_be_visible()
    expect(form.get_by_text("The box hangs by the door.")).to_be_visible()
    expect(form.get_by_role("heading", name="Urgent, whatever was tapped")).to_be_visible()
    expect(form.get_by_text("Saved on this tablet. 1 waiting to be sent.")).to_be_visible()
    assert not PainReport.objects.exists()
    form.unroute("**/*")
    form.evaluate("window.dispatchEvent(new Event('online'))")
    form.wait_for_url("**/barre/pain/*/")
    row = PainReport.objects.get()
    assert (row.places, row.feels, row.measure, row.reported_by) == (["L-achilles"], "sharp", cast.rises, cast.teacher)
    assert FollowUp.objects.get().kind == FollowUp.STOP_SIGN


def test_a_mistaken_tap_without_a_network_is_undone_and_never_sent(form: Page):
    cut(form)
    tap_sharp_achilles(form)
    form.get_by_role("button", name="Next step").tap()
    form.get_by_role("button", name="Undo, tapped by mistake").tap()
    expect(form.get_by_role("button", name="Next step")).to_be_visible()
    form.unroute("**/*")
    form.evaluate("window.dispatchEvent(new Event('online'))")
    all_sent(form)
    assert not PainReport.objects.exists()


def test_without_a_place_or_a_feel_nothing_is_kept_and_a_sentence_says_so(form: Page):
    form.locator("label.answer", has_text="dull ache").tap()
    form.get_by_role("button", name="Next step").tap()
    expect(form.get_by_text("Tap where it hurts and what it feels like.")).to_be_visible()
    assert form.evaluate("outbox.pending().then(rows => rows.length)") == 0


@either_way
def test_what_is_lacking_is_said_without_moving_anything_and_goes_once_it_is_there(form: Page):
    drawn(form)
    watch_moves(form, apart=".outbox-line")
    form.locator("label.answer", has_text="dull ache").tap()
    form.get_by_role("button", name="Next step").scroll_into_view_if_needed()
    seen = form.evaluate("scrollY")
    form.get_by_role("button", name="Next step").tap()
    lacking = form.get_by_text("Tap where it hurts and what it feels like.")
    expect(lacking).to_be_in_viewport()
    painted(form)
    assert (moved(form), form.evaluate("scrollY")) == ([], seen)
    form.locator("#foot-L-achilles").check(force=True)
    expect(lacking).to_be_hidden()
    assert moved(form) == []


def test_the_tablet_asks_for_the_same_as_the_studio_whatever_is_tapped(form: Page):
    places = [
        [], ["L-heel"], ["L-heel", "R-heel"], ["L-heel", "R-calf"], ["L-ankle-inner"], ["back"],
        ["L-ankle-outer", "R-ankle-outer"], ["L-ankle-outer", "R-ankle-outer", "L-heel"], ["L-knee", "R-knee"],
    ]
    every = list(itertools.product(
        [key for key, _words in pain.FEELS], places, ["", *dict(pain.STOPPED)], ["", *dict(pain.SINCE)],
        ["", *map(str, range(11))],
    ))
    on_tablet = form.evaluate("every => every.map(each => hurts.asks(...each))", every)
    in_studio = [
        pain.asks(pain.Report(tuple(places), feel, int(number) if number else None, effect, since=time))
        for feel, places, effect, time, number in every
    ]
    assert on_tablet == in_studio
