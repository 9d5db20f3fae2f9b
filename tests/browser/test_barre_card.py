"""The barre card in print: one page of A4 and one of Letter, with everything on it."""
import io

import pikepdf
import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import drawn
from tests.browser.studio_on_show import ROOMS, Show


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_card_is_one_page(page: Page, show: Show, enter, paper: str):
    enter(show.owner, show.address)
    page.goto(show.address + ROOMS["barre card"](show))
    expect(page.locator(".barre-card li")).to_have_count(6)
    printed = drawn(page).pdf(format=paper, prefer_css_page_size=False)
    assert len(pikepdf.open(io.BytesIO(printed)).pages) == 1


def test_nothing_but_the_card_is_printed(page: Page, show: Show, enter):
    enter(show.owner, show.address)
    page.goto(show.address + ROOMS["barre card"](show))
    page.emulate_media(media="print")
    expect(page.locator(".head")).to_be_hidden()
    expect(page.get_by_role("button", name="Print")).to_be_hidden()
    expect(page.get_by_text("stop this foot").first).to_be_visible()
