"""A family on its phone: link, birth date, page, consent taken back, all without script; and its cards."""
import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from studio.models import Consent
from tests import factories
from tests.browser.conftest import drawn
from tests.browser.test_family_paper import pages_of
from tests.conftest import Cast
from tests.family.conftest import agree, family_of

PHONE = {"width": 390, "height": 844}


@pytest.fixture
def phone(browser: Browser, cast: Cast) -> Iterator[Page]:
    """A phone whose browser runs no script."""
    with browser.new_context(viewport=PHONE, java_script_enabled=False, locale="en-GB") as context:
        yield context.new_page()


def test_from_the_card_to_the_page_and_back_without_script(phone: Page, cast: Cast, server: str):
    family = family_of(cast, cast.ama, opened=False)
    phone.goto(server + family.link)
    expect(phone).to_have_url(f"{server}/family/entrance/")
    phone.get_by_label("Birth date of your child").fill("2014-05-02")
    phone.get_by_role("button", name="Open").click()
    expect(phone.get_by_text("This is not the birth date that we have.").first).to_be_visible()
    phone.get_by_label("Birth date of your child").fill("2014-05-01")
    phone.get_by_role("button", name="Open").click()
    expect(phone.get_by_role("heading", level=1)).to_have_text("Ama’s spring term")
    assert family.token not in phone.content()
    phone.get_by_role("link", name="What we keep about Ama").click()
    phone.get_by_role("button", name="Sign out on this device").click()
    phone.goto(f"{server}/family/{cast.ama.pk}/")
    expect(phone.get_by_role("heading", level=1)).to_have_text("This page does not open")


def test_a_family_takes_its_consent_to_pain_notes_back(phone: Page, cast: Cast, server: str):
    family = family_of(cast, cast.ama, opened=False)
    phone.goto(server + family.link)
    phone.get_by_label("Birth date of your child").fill("2014-05-01")
    phone.get_by_role("button", name="Open").click()
    phone.get_by_role("link", name="What we keep about Ama").click()
    phone.locator("summary").filter(has_text="pain notes").click()
    phone.get_by_role("button", name=re.compile("now ?: pain notes")).click()
    expect(phone.get_by_text("taken back by Guardian of Ama Owiredu")).to_be_visible()
    assert cast.ama.consents.get(is_given=False).scope == Consent.PAIN


@pytest.mark.parametrize("sheet", ["a4", "letter"])
def test_the_impact_assessment_has_its_seven_steps_on_one_sheet(page: Page, cast: Cast, enter, server: str, sheet):
    """UK GDPR, article 35; the usual order of such an assessment, from memory."""
    enter(cast.owner, server)
    page.goto(f"{server}/office/assessment/?paper={sheet}")
    for step in ("Why we write this", "What we do with the data", "Whom we asked", "Why we need it",
                 "What could go wrong", "What we do against it", "Decision and signature"):
        expect(page.get_by_role("heading", name=step)).to_be_visible()
    assert pages_of(drawn(page).pdf(prefer_css_page_size=True)) == 1


def test_eight_cards_stand_on_a_sheet(page: Page, cast: Cast, enter, server: str):
    for _number in range(9):
        child = factories.StudentFactory()
        factories.EnrolmentFactory(student=child, class_group=cast.class_group, term=cast.term)
        factories.GuardianFactory().students.add(child)
        agree(cast, child)
    enter(cast.owner, server)
    page.goto(f"{server}/classes/{cast.class_group.pk}/families/")
    page.get_by_role("button", name="Make cards, Letter").click()
    expect(page.locator(".key-card")).to_have_count(9)
    assert pages_of(drawn(page).pdf(format="Letter", prefer_css_page_size=True)) == 2
