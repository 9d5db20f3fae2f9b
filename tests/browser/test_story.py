"""The main story: a roster comes in, a class is measured by taps alone, pain is reported and answered."""
import datetime as dt
import re
import time
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from progress.models import FollowUp, PainAnswer, Standing
from screening.models import Protocol, Result
from studio.models import Enrolment, Student
from tests import factories
from tests.browser.conftest import a_moment_later, all_sent, drawn
from tests.conftest import PASSWORD, TODAY, Cast

pytestmark = pytest.mark.django_db(transaction=True)

# Three of four dates could be read both ways, and the fourth is the same either way.
ROSTER = (
    "Full name;Date of birth;Level;Parent\nZoë Lindqvåg;03/04/2014;Pre-pointe;Maj Lindqvåg\n"
    "Odalys Brenner;05/06/2013;Pre-pointe;\nTheodora Quimby;07/07/2014;Pre-pointe;Rafe Quimby\n"
)


@pytest.fixture
def past(cast: Cast) -> None:
    """Eight weeks in which Ama's left foot grew stronger."""
    protocol = Protocol.objects.get(measure=cast.rises)
    for back, value in zip(range(8, 0, -1), (4, 5, 7, 8, 10, 11, 13, 14), strict=True):
        day = TODAY - dt.timedelta(weeks=back)
        screening = factories.ScreeningFactory(
            class_group=cast.class_group, term=cast.term, battery=cast.battery, held_on=day,
            opened_by=cast.teacher,
        )
        factories.ResultFactory(
            screening=screening, student=cast.ama, measure=cast.rises, protocol=protocol, side="L",
            value=value, taken_on=day, by=cast.teacher,
        )


def log_in(page: Page, server: str) -> None:
    page.goto(server)
    page.get_by_label("Name").fill("ottoline")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").tap()
    expect(page.get_by_role("heading", name="Today’s classes")).to_be_visible()
    # A tap must not fall between the words and their font.
    drawn(page)


def bring_the_roster_in(page: Page, folder: Path) -> None:
    file = folder / "class list.csv"
    file.write_bytes(ROSTER.encode("cp1252"))
    page.get_by_role("link", name="Office").tap()
    page.get_by_role("link", name="A class list from a file").tap()
    page.get_by_label("File").set_input_files(file)
    page.get_by_label("Class", exact=True).select_option("Pre-pointe A")
    page.get_by_role("button", name="Check the file").tap()
    expect(page.get_by_role("button", name="Bring in the ticked rows")).to_have_count(0)
    page.get_by_label("the day, 3/4 is 3 April").check()
    page.get_by_role("button", name="Read the file this way").tap()
    expect(page.get_by_text("3 new, 0 changed, 0 left alone, 0 refused.")).to_be_visible()
    page.get_by_role("button", name="Bring in the ticked rows").first.tap()
    expect(page.get_by_role("rowheader", name="Zoë Lindqvåg")).to_be_visible()


def open_a_screening(page: Page) -> None:
    page.get_by_role("link", name="Classes").tap()
    page.get_by_role("link", name="Pre-pointe A").tap()
    page.get_by_role("link", name="Go on with the screening").tap()


def cell(page: Page, student: Student, side: str) -> Locator:
    return page.locator(f"#cell-{student.pk}-{side}")


def come_to(page: Page, link: str, address: str) -> None:
    """Follows a link to a page of the barre, until a finger may come."""
    page.get_by_role("link", name=link).tap()
    page.wait_for_url(address)
    drawn(page)


def key_in(page: Page, box: str, digits: str) -> None:
    """By taps alone, as at the barre: the box, the digits, Save."""
    page.get_by_label(box, exact=True).tap()
    pad = page.locator("[data-pad]")
    for digit in digits:
        pad.get_by_role("button", name=digit, exact=True).tap()
    pad.get_by_role("button", name="Save").tap()


def enter_rises(page: Page, cast: Cast) -> None:
    come_to(page, "Rises, one foot heel", "**/rises/")
    key_in(page, "Ama, left", "16")
    expect(cell(page, cast.ama, "L")).to_contain_text("16")
    key_in(page, "Ama, right", "99")
    expect(cell(page, cast.ama, "R").get_by_role("alert")).to_contain_text("99 rises: sure?")
    cell(page, cast.ama, "R").get_by_role("button", name="Yes").tap()
    expect(cell(page, cast.ama, "R").get_by_role("link")).to_contain_text("99")
    key_in(page, "Bettina, left", "999")
    expect(cell(page, cast.bettina, "L").get_by_role("alert")).to_contain_text("not possible")
    expect(page.get_by_label("Bettina, left", exact=True)).to_have_value("999")
    for _digit in "999":
        page.get_by_role("button", name="Delete").tap()
    key_in(page, "Bettina, left", "11")
    expect(cell(page, cast.bettina, "L").get_by_role("link")).to_contain_text("11")


def put_one_right_and_undo_one(page: Page, cast: Cast) -> None:
    # A second tap right after is taken for a double tap and reopens nothing.
    a_moment_later(page)
    cell(page, cast.ama, "R").get_by_role("link").tap()
    expect(page.get_by_label("Ama, right", exact=True)).to_have_value("99")
    for _digit in "99":
        page.get_by_role("button", name="Delete").tap()
    key_in(page, "Ama, right", "9")
    expect(cell(page, cast.ama, "R").get_by_role("link")).to_contain_text("9")
    key_in(page, "Bettina, right", "12")
    expect(page.get_by_role("button", name="Undo")).to_contain_text("Bettina right, 12")
    page.get_by_role("button", name="Undo").tap()
    expect(cell(page, cast.bettina, "R").get_by_role("textbox")).to_have_value("")
    page.get_by_text("Not today", exact=True).tap()
    page.get_by_label("declined").check()
    page.get_by_role("button", name="Odalys").tap()
    odalys = Student.objects.get(name="Odalys Brenner")
    expect(cell(page, odalys, "L")).to_contain_text("declined")


def hold_a_balance(page: Page, cast: Cast) -> None:
    come_to(page, "balance", "**/passe-balance/")
    page.get_by_label("Ama, left", exact=True).tap()
    before = time.monotonic()
    page.get_by_role("button", name="Start").tap()
    expect(page.locator(".clock-face")).to_contain_text(re.compile("[1-9]"))
    page.get_by_role("button", name="Stop").tap()
    elapsed_seconds = time.monotonic() - before
    expect(cell(page, cast.ama, "L").locator(".attempts").filter(visible=True)).to_have_text(re.compile(r"^\d\.\d$"))
    all_sent(page)
    held = Result.objects.get(student=cast.ama, measure=cast.balance)
    assert 0 < held.value <= elapsed_seconds + 0.05


def grade_the_landings(page: Page, cast: Cast) -> None:
    come_to(page, "landing", "**/landing-control/")
    page.get_by_role("button", name="Ama, left: clean").tap()
    expect(cell(page, cast.ama, "L").get_by_role("link")).to_contain_text("clean")
    page.get_by_role("button", name="Ama, right: corrected").tap()
    expect(cell(page, cast.ama, "R").get_by_role("link")).to_contain_text("corrected")
    expect(page.locator(".left-count")).to_contain_text("4 to go")


def report_a_sharp_pain(page: Page, cast: Cast) -> None:
    page.get_by_text("It hurts", exact=True).tap()
    come_to(page, "Bettina", "**/hurts/**")
    page.locator(".foot-tap-behind-L-achilles").tap()
    page.locator("label.answer", has_text="sharp, pin-point").tap()
    page.get_by_role("button", name="Next step").tap()
    page.wait_for_url("**/barre/pain/*/")
    expect(page.get_by_role("heading", name="Stop for today.")).to_be_visible()
    expect(page.get_by_text("It does not diagnose")).to_be_visible()
    page.get_by_role("link", name="Back to the sheet").tap()
    expect(cell(page, cast.bettina, "L")).to_contain_text("no rises for now")
    expect(page.get_by_role("button", name="Bettina, left: clean")).to_have_count(0)


def close_it_and_see_who_is_missing(page: Page) -> None:
    page.get_by_role("link", name="Leave the barre").tap()
    page.get_by_role("button", name="Close the screening").tap()
    expect(page.get_by_role("heading", name="Missing")).to_be_visible()
    expect(page.get_by_role("row", name="Theodora Quimby")).to_contain_text("rises")
    expect(page.get_by_role("row", name="Zoë Lindqvåg")).to_contain_text("balance")


def read_the_verdict(page: Page, cast: Cast) -> None:
    page.get_by_role("link", name="To the class sheet").tap()
    row = page.get_by_role("row", name="Ama Owiredu")
    standing = Standing.objects.get(student=cast.ama, measure=cast.rises, side="L")
    assert standing.verdict == "gaining"
    # Beside the strip stands the last count; the word of its mark is read out.
    expect(row.locator(".two-counts").first.locator(".unseen").filter(has_text="gaining")).to_have_count(1)
    row.get_by_role("link", name="Ama Owiredu", exact=True).tap()
    expect(page.locator("#strand-rises .reasons")).to_contain_text("gaining")
    expect(page.locator("#strand-rises svg.chart").first).to_be_attached()


def answer_the_pain(page: Page, cast: Cast) -> None:
    page.get_by_role("link", name="Follow-ups").first.tap()
    stop = page.locator(".fu-item", has_text="Bettina Krall").filter(has_text="Achilles")
    stop.get_by_role("link", name="Close").tap()
    page.get_by_label("seen and cleared by a clinician").check()
    page.get_by_role("button", name="Close with this note").tap()
    closing = page.locator(".closing")
    expect(closing.get_by_role("alert")).to_contain_text("Say in a few words what was done.")
    expect(closing.get_by_label("seen and cleared by a clinician")).to_be_checked()
    closing.get_by_label("Clinician’s name").fill("Dr Vane")
    closing.get_by_label("Seen on").fill("2026-03-24")
    closing.get_by_label("What is allowed now").fill("full class")
    closing.get_by_label("That is, at most").select_option("all")
    closing.get_by_label("Comes back on which step?").select_option("8")
    closing.get_by_label("What was done?").fill("Seen today, free for rises from tomorrow.")
    closing.get_by_role("button", name="Close with this note").tap()
    expect(page.get_by_text("Closed: Bettina Krall.")).to_be_visible()
    answer = PainAnswer.objects.get(report__student=cast.bettina)
    assert (answer.kind, answer.said_by, answer.allowed) == (PainAnswer.CLINICIAN, "Dr Vane", "full class")
    signs = FollowUp.objects.filter(student=cast.bettina, kind=FollowUp.STOP_SIGN)
    assert [sign.closed_at is None for sign in signs] == [False]


def test_from_the_class_list_to_the_answered_pain(page: Page, cast: Cast, past, server: str, tmp_path: Path):
    log_in(page, server)
    bring_the_roster_in(page, tmp_path)
    open_a_screening(page)
    enter_rises(page, cast)
    put_one_right_and_undo_one(page, cast)
    hold_a_balance(page, cast)
    grade_the_landings(page, cast)
    report_a_sharp_pain(page, cast)
    close_it_and_see_who_is_missing(page)
    read_the_verdict(page, cast)
    answer_the_pain(page, cast)
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/")
    page.get_by_role("button", name="Open it again").tap()
    come_to(page, "Landing control", "**/landing-control/")
    page.get_by_role("button", name="Bettina, left: clean").tap()
    expect(cell(page, cast.bettina, "L").get_by_role("link")).to_contain_text("clean")
    all_sent(page)
    assert Enrolment.objects.filter(class_group=cast.class_group).count() == 5
    assert Result.objects.filter(measure=cast.landing).count() == 3
