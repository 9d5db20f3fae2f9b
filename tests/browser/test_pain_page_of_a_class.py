"""It hurts, without a network: one page for the class is kept before any other, and stands for each child's own."""
import time
from urllib.parse import urlsplit

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from progress.models import PainReport
from screening.models import Result
from studio.family.actions import record_consent
from studio.models import Consent
from tests.browser.conftest import all_sent, drawn
from tests.browser.test_hurts_offline import tap_sharp_achilles
from tests.conftest import Cast

KEPT = """caches.keys().then(names => Promise.all(names.filter(each => each.startsWith('barre-pages'))
  .map(each => caches.open(each).then(one => one.keys())))
  .then(all => all.flat().map(one => new URL(one.url).pathname)))"""
pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def ready(page: Page, cast: Cast, server: str, enter) -> Page:
    """A tablet on which the barre was opened once before."""
    enter(cast.teacher, server)
    page.goto(f"{server}/barre/")
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("navigator.serviceWorker.controller !== null")
    expect(page.locator("[data-offline]")).to_have_attribute("data-state", "Kept", timeout=60_000)
    page.evaluate("caches.keys().then(names => Promise.all(names.filter(each => each.startsWith('barre-pages'))"
                  ".map(each => caches.delete(each)))).then(() => true)")
    return page


def first_kept(page: Page, path: str) -> None:
    """Waits until the page of pain is kept; before it only the page that is looked at is."""
    until, known = time.monotonic() + 20, []
    while path not in known:
        assert time.monotonic() < until and set(known) <= {urlsplit(page.url).path}, known
        known = page.evaluate(KEPT)
        page.wait_for_timeout(50)


def test_it_hurts_opens_without_a_network_a_second_after_a_run_was_opened(ready: Page, cast: Cast, server: str):
    page, at = ready, f"/barre/screenings/{cast.screening.pk}/"
    page.goto(f"{server}{at}rises/run/")
    first_kept(page, f"{at}hurts/")
    page.context.set_offline(True)
    page.get_by_role("button", name="It hurts").last.tap()
    page.locator(f'[data-child="{cast.ama.pk}"]').tap()
    page.wait_for_url(f"**{at}hurts/{cast.ama.pk}/**")
    expect(page.get_by_role("heading", name="Ama: where does it hurt?")).to_be_visible()
    tap_sharp_achilles(page)
    page.get_by_role("button", name="Next step").tap()
    expect(page.locator("[data-hurts-answer]")).to_be_visible()
    page.goto(f"{server}{at}rises/run/")
    expect(drawn(page).locator(f'[data-child="{cast.ama.pk}"]')).to_have_class("tile is-off")
    page.context.set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    all_sent(page)
    assert PainReport.objects.get().student == cast.ama and not Result.objects.filter(value__isnull=False).exists()


def test_whose_family_agreed_to_no_notes_is_asked_nothing_there_either(ready: Page, cast: Cast, server: str):
    record_consent(
        student=cast.ama, scopes=[Consent.PAIN], is_given=False, said_by="Her mother", way=Consent.FORM,
        at=timezone.now(), by=cast.owner,
    )
    page, at = ready, f"/barre/screenings/{cast.screening.pk}/"
    page.goto(f"{server}{at}rises/")
    first_kept(drawn(page), f"{at}hurts/")
    page.context.set_offline(True)
    page.goto(f"{server}{at}hurts/{cast.ama.pk}/")
    expect(page.get_by_text("so nothing is saved")).to_be_visible()
    expect(page.locator(".hurts-form")).to_be_hidden()


def test_from_the_log_of_a_class_too(ready: Page, cast: Cast, server: str):
    page, at = ready, f"/barre/classes/{cast.class_group.pk}/log/"
    page.goto(server + at)
    first_kept(drawn(page), f"{at}hurts/")
    page.context.set_offline(True)
    page.goto(f"{server}{at}hurts/")
    page.get_by_role("link", name="Bettina").tap()
    page.wait_for_url(f"**{at}hurts/{cast.bettina.pk}/")
    expect(page.get_by_role("heading", name="Bettina: where does it hurt?")).to_be_visible()
