"""What a family gets on paper: its page on one sheet, and a sheet for each student to sign."""
import re
import subprocess
from collections.abc import Callable

import pytest
from playwright.sync_api import Browser

from tests.browser.conftest import drawn, let_family_in, let_in
from tests.browser.studio_on_show import ROOMS, Show


@pytest.fixture
def paper(browser: Browser, show: Show) -> Callable[[str, str], bytes]:
    """A room as a PDF of a sheet."""
    def printed(room: str, sheet: str) -> bytes:
        with browser.new_context(locale="en-GB") as context:
            let_in(context, show.owner, show.address)
            let_family_in(context, show)
            page = context.new_page()
            page.goto(show.address + ROOMS[room](show))
            return drawn(page).pdf(format=sheet, prefer_css_page_size=room != "family page", print_background=True)

    return printed


def pages_of(pdf: bytes) -> int:
    told = subprocess.run(["pdfinfo", "-"], input=pdf, check=True, capture_output=True).stdout.decode()
    return int(re.search(r"Pages:\s+(\d+)", told)[1])


@pytest.mark.parametrize("sheet", ["A4", "Letter"])
def test_the_familys_page_prints_on_one_sheet(paper, sheet: str):
    assert pages_of(paper("family page", sheet)) == 1


def test_each_student_of_the_class_has_one_sheet_to_sign(paper, show: Show):
    assert pages_of(paper("forms to sign", "A4")) == show.a_class.enrolments.filter(term=show.term).count()
