"""From an empty studio to the first family page, led by the first page: every click and every field is counted."""
import csv
import re
from pathlib import Path

import pytest
from django.core.management import call_command
from playwright.sync_api import Locator, Page, expect

from studio.models import Student, Studio, User
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db(transaction=True)
MOST = 35


class Hand:
    """Clicks and fills, and counts both alike."""

    def __init__(self, page: Page) -> None:
        self.page, self.count = page, 0

    def click(self, what: Locator) -> None:
        self.count += 1
        what.click()

    def button(self, name: str) -> None:
        self.click(self.page.locator("main").get_by_role("button", name=name).first)

    def link(self, name: str) -> None:
        self.click(self.page.locator("main").get_by_role("link", name=name).first)

    def fill(self, label: str, text: str) -> None:
        self.count += 1
        self.page.locator(f"[name={label}]").first.fill(text)

    def bring(self, path: Path) -> None:
        self.count += 1
        self.page.locator("input[type=file]").set_input_files(path)


@pytest.fixture
def empty(server: str) -> str:
    """A studio as its first start leaves it: measures and exercises, one owner, nobody else."""
    call_command("first_start", "--empty", verbosity=0)
    owner = User.objects.get(role=User.OWNER)
    owner.username = "ottoline"
    owner.set_password(PASSWORD)
    owner.save()
    Studio.objects.update(name="Larkmere")
    return server


def a_file(folder: Path, name: str, *rows: tuple[str, ...]) -> Path:
    with (folder / name).open("w", newline="") as page:
        csv.writer(page).writerows(rows)
    return folder / name


def test_the_first_page_leads_from_an_empty_studio_to_a_family_page_in_few_clicks(page: Page, empty: str, tmp_path):
    hand, main = Hand(page), page.locator("main")
    page.goto(empty)
    hand.fill("username", "ottoline")
    hand.fill("password", PASSWORD)
    hand.button("Log in")
    expect(main).to_contain_text("Three steps to begin")

    hand.link("The term")
    hand.fill("name", "Spring term")
    hand.fill("starts_on", "2026-01-12")
    hand.fill("ends_on", "2026-04-03")
    hand.button("Save")
    hand.link("A class")
    hand.fill("name", "Grade 2")
    hand.button("Save")
    hand.link("The students")
    hand.bring(a_file(
        tmp_path, "list.csv", ("Name", "Born", "Guardian"), ("Nele Vance", "2014-06-01", "Jo Vance"),
        ("Oren Pike", "2013-11-20", "Al Pike"),
    ))
    hand.button("Check the file")
    hand.button("Bring in the ticked rows")
    page.goto(empty)

    hand.link("The forms")
    hand.link("all")
    for scope in page.locator("input[name=scopes]").all():
        hand.click(scope)
    hand.button("Record for those ticked")
    page.goto(empty)

    expect(main).to_contain_text("The first results")
    hand.link("The first results")
    hand.button("Open")
    page.goto(f"{empty}/office/results-import/")
    hand.count += 2
    hand.bring(a_file(
        tmp_path, "results.csv", ("Student", "Date", "Rises left", "Rises right"),
        ("Nele Vance", "2026-03-10", "12", "14"), ("Oren Pike", "2026-03-10", "9", "11"),
    ))
    hand.button("Check the file")
    hand.button("Bring these in")
    page.goto(empty)

    hand.link("The cards")
    hand.fill("family_address", "https://studio.example")
    hand.button("Make cards, A4")
    [token, *_others] = re.findall(r"/family/card/([\w-]{22})/", page.content())
    page.goto(f"{empty}/family/card/{token}/")
    hand.count += 1
    hand.fill("birth_on", Student.objects.get(name="Nele Vance").birth_on.isoformat())
    hand.click(page.get_by_role("button").first)
    expect(page.locator("body")).to_contain_text("Nele")
    assert hand.count <= MOST
