"""Without script every entry is a plain form: nothing at the studio waits for JavaScript."""
import datetime as dt
import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from progress.models import FollowUp
from screening.models import Result
from studio.entrance.actions import enrol_tablet, set_pin
from studio.models import Enrolment
from tests.conftest import PASSWORD, Cast

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def browser_context_args(browser_context_args: dict) -> dict:
    return {**browser_context_args, "java_script_enabled": False}


@pytest.fixture
def page(page: Page, cast: Cast, enter, server: str) -> Page:
    enter(cast.owner, server)
    return page


@pytest.fixture
def rises(page: Page, cast: Cast, server: str) -> Page:
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/rises/")
    return page


def test_a_roster_comes_in(page: Page, cast: Cast, server: str, tmp_path: Path):
    file = tmp_path / "class.csv"
    file.write_bytes("Name;Born\nZoë Lindqvåg;23/04/2014\n".encode("cp1252"))
    page.goto(f"{server}/office/roster-import/?class={cast.class_group.pk}")
    page.get_by_label("File").set_input_files(file)
    page.get_by_role("button", name="Check the file").tap()
    page.get_by_role("button", name="Bring in the ticked rows").first.tap()
    expect(page.locator("main")).to_contain_text("Zoë Lindqvåg")
    assert Enrolment.objects.filter(class_group=cast.class_group, student__name="Zoë Lindqvåg").exists()


def test_a_value_is_kept(rises: Page, cast: Cast):
    rises.get_by_label("Ama, left", exact=True).fill("14")
    rises.locator(f"#cell-{cast.ama.pk}-L").get_by_role("button", name="Save").tap()
    expect(rises.locator(f"#cell-{cast.ama.pk}-L").get_by_role("link")).to_contain_text("14")
    assert Result.objects.get(student=cast.ama).value == 14


def test_an_unusual_value_is_asked_back_and_an_impossible_one_refused(rises: Page, cast: Cast):
    cell = rises.locator(f"#cell-{cast.ama.pk}-L")
    rises.get_by_label("Ama, left", exact=True).fill("990")
    cell.get_by_role("button", name="Save").tap()
    expect(cell.get_by_role("alert")).to_contain_text("not possible")
    expect(rises.get_by_label("Ama, left", exact=True)).to_have_value("990")
    rises.get_by_label("Ama, left", exact=True).fill("99")
    cell.get_by_role("button", name="Save").tap()
    cell.get_by_role("button", name="Yes").tap()
    expect(cell.get_by_role("link")).to_contain_text("99")


def test_a_grade_is_one_tap(page: Page, cast: Cast, server: str):
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/landing-control/")
    page.get_by_role("button", name="Bettina, right: clean").tap()
    expect(page.locator(f"#cell-{cast.bettina.pk}-R").get_by_role("link")).to_contain_text("clean")
    assert Result.objects.get(student=cast.bettina).value == 2


def test_a_pain_is_reported_and_its_follow_up_closed(rises: Page, cast: Cast, server: str, time_machine):
    page = rises
    page.get_by_text("It hurts", exact=True).tap()
    page.get_by_role("link", name="Bettina").tap()
    page.locator(".foot-tap-behind-L-heel").tap()
    page.locator("label.answer", has_text="sharp, pin-point").tap()
    page.get_by_role("button", name="Next step").tap()
    expect(page.get_by_role("heading", name="Stop for today.")).to_be_visible()
    page.goto(f"{server}/follow-ups/")
    page.get_by_role("link", name=re.compile("Close ?: Bettina Krall")).tap()
    closing = page.locator(".closing")
    # A teacher settles it when it was asked about again, not in the minute in which it was told.
    expect(closing).to_contain_text("From 25 March on you can close this yourself")
    expect(closing.get_by_label("settled by the teacher")).to_have_count(0)
    time_machine.move_to(dt.datetime(2026, 3, 25, 17, 0, tzinfo=dt.UTC), tick=False)
    page.reload()
    page.get_by_label("Name").fill("ottoline")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").tap()
    closing.get_by_label("settled by the teacher").check()
    closing.get_by_label("Comes back on which step?").select_option("6")
    closing.get_by_label("What was done?").fill("Shoe rubbed; other shoes, no pain.")
    closing.get_by_role("button", name="Close with this note").tap()
    expect(page.get_by_text("Closed: Bettina Krall.")).to_be_visible()
    assert not FollowUp.objects.filter(closed_at__isnull=True).exists()


def test_a_pin_opens_an_enrolled_tablet(page: Page, cast: Cast, server: str):
    set_pin(person=cast.teacher, pin="7302")
    token = enrol_tablet(name="Tablet", by=cast.owner)[1]
    page.context.clear_cookies()
    page.context.add_cookies([{"name": "tablet", "value": token, "url": server}])
    page.goto(f"{server}/follow-ups/")
    page.get_by_label("Davit Meskhi").check()
    page.get_by_label("PIN").fill("7301")
    page.get_by_role("button", name="Come in").tap()
    expect(page.get_by_role("alert").first).to_contain_text("This is not Davit’s PIN.")
    page.get_by_label("PIN").fill("7302")
    page.get_by_role("button", name="Come in").tap()
    expect(page.get_by_role("heading", level=1)).to_have_text("Follow-ups")
