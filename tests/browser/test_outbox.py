"""The outbox: an entry is on the tablet before anything is sent, and at the server once."""
import pytest
from playwright.sync_api import Page, expect

from screening.models import Result
from tests.browser.conftest import all_sent, either_way
from tests.browser.modules import KEEP, OUTBOX, PENDING
from tests.conftest import Cast

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def rises(page: Page, cast: Cast, enter, server: str) -> Page:
    enter(cast.teacher, server)
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/rises/")
    return page


def keep(page: Page, cast: Cast, value: str) -> None:
    page.evaluate(KEEP, [f"/barre/screenings/{cast.screening.pk}/rises/record/", cast.ama.pk, value])


def test_what_is_kept_is_sent_in_order_and_then_gone_from_the_tablet(rises: Page, cast: Cast):
    for value in ("9", "11", "10"):
        keep(rises, cast, value)
    all_sent(rises)
    assert list(Result.objects.order_by("pk").values_list("value", flat=True)) == [9, 11, 10]
    assert rises.evaluate(PENDING) == []


def test_without_network_it_stays_and_says_so_and_goes_out_when_the_network_is_back(rises: Page, cast: Cast):
    rises.context.set_offline(True)
    keep(rises, cast, "9")
    keep(rises, cast, "11")
    expect(rises.get_by_text("Saved on this tablet. 2 waiting to be sent.")).to_be_visible()
    assert not Result.objects.exists()
    rises.context.set_offline(False)
    all_sent(rises)
    expect(rises.get_by_text("All sent.")).to_be_visible()
    assert Result.objects.count() == 2


@either_way
def test_a_refused_entry_says_why_and_is_thrown_away_only_when_asked_twice(rises: Page, cast: Cast):
    keep(rises, cast, "999")
    rises.get_by_text("1 not accepted.").tap()
    expect(rises.get_by_text("999 is not possible: from 0 to 200.")).to_be_visible()
    rises.get_by_role("button", name="Throw away").tap()
    question = rises.get_by_text("“left 999” is only on this tablet.")
    expect(question).to_be_visible()
    # What else goes on in the outbox meanwhile does not take the question away.
    rises.evaluate(f"async () => {{ const outbox = {OUTBOX}; await outbox.tell(); await outbox.others(); }}")
    assert question.is_visible()
    rises.get_by_role("button", name="Keep it").tap()
    expect(question).to_have_count(0)
    assert len(rises.evaluate(PENDING)) == 1
    rises.get_by_role("button", name="Throw away").tap()
    expect(question).to_be_visible()
    rises.get_by_role("button", name="Throw away").tap()
    expect(rises.locator(".outbox-words", has_text="All sent.")).to_be_visible()
    assert rises.evaluate(PENDING) == []
