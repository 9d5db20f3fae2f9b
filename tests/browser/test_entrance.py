"""The entrance: a person logs in, and after logging out the Back button shows nothing about a child."""
import re

import pytest
from playwright.sync_api import Page, expect

from tests.conftest import PASSWORD, Cast

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_name_and_password_open_the_page_of_the_day(page: Page, cast: Cast, server: str):
    page.goto(server)
    page.get_by_label("Name").fill("ottoline")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").tap()
    expect(page.get_by_role("heading", level=1)).to_contain_text("24 March")


def test_a_wrong_password_is_refused_and_the_name_stays_typed(page: Page, cast: Cast, server: str):
    page.goto(server)
    page.get_by_label("Name").fill("ottoline")
    page.get_by_label("Password").fill("not this one")
    page.get_by_role("button", name="Log in").tap()
    expect(page.get_by_role("alert").first).to_be_visible()
    expect(page.get_by_label("Name")).to_have_value("ottoline")


@pytest.mark.parametrize("room", ["/students/{}/", "/classes/{}/", "/students/{}/results/"])
def test_back_after_logging_out_shows_no_child(page: Page, cast: Cast, server: str, enter, room: str):
    enter(cast.owner, server)
    room = room.format(cast.class_group.pk if "classes" in room else cast.ama.pk)
    page.goto(server + room)
    expect(page.locator("main")).to_contain_text("Ama Owiredu")
    page.goto(f"{server}/account/")
    page.get_by_role("button", name="Log out").tap()
    expect(page.get_by_role("button", name="Log in")).to_be_visible()
    for behind in ("/account/", room):
        page.evaluate("history.back()")
        # It is asked for anew, and the way leads to the entrance.
        page.wait_for_url(re.compile(f"next={behind}$"))
        expect(page.get_by_role("button", name="Log in")).to_be_visible()
        assert "Ama" not in page.content()
