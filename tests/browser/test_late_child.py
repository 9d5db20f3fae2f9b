"""Who is absent and comes after all: back in every measure, and never counted for what she did not do."""
import uuid

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from progress.actions import measuring
from progress.actions.pain import report_pain
from screening.actions import Entry
from screening.models import Result, Screening
from tests.browser.conftest import drawn
from tests.browser.run_hands import Run, open_run, run_address, stored
from tests.conftest import Cast
from tests.progress.test_absent import leave_out

pytestmark = pytest.mark.django_db(transaction=True)
BACK = "Ama: absent. Here after all? Tap Not today, then the name."


@pytest.fixture
def run(page: Page, cast: Cast, enter, server: str) -> Run:
    enter(cast.teacher, server)
    return open_run(page, run_address(server, cast))


def is_absent(cast: Cast) -> None:
    """Another teacher says so, at another measure."""
    leave_out(cast, measure=cast.balance, by=cast.other_teacher)


def opened_again(run: Run) -> None:
    run.page.reload()
    drawn(run.page)


def bring_back(run: Run) -> None:
    run.press("Not today")
    run.tap_name("Ama")


def test_who_was_absent_and_comes_late_is_up_again_in_every_measure(run: Run, cast: Cast):
    is_absent(cast)
    opened_again(run)
    run.tap_name("Ama")
    run.hint(BACK)
    bring_back(run)
    run.hint("Ama is back.")
    run.all_sent()
    assert stored(cast) == []
    opened_again(run)
    run.start()
    run.says("Ama", "up")


def test_who_comes_while_the_others_are_counted_is_counted_from_the_next_start_on(run: Run, cast: Cast):
    is_absent(cast)
    opened_again(run)
    run.start()
    run.rise(10)
    bring_back(run)
    run.hint("Ama is back, from the next start on.")
    run.says("Ama", "ready")
    run.tap_name("Ama")
    run.hint("Ama was not up at the start. Their count begins with the next start.")
    run.press("Stop all")
    run.all_sent()
    assert stored(cast) == [("Bettina", "L", 11, True, "", True)]
    run.start()
    run.says("Ama", "up")


def test_not_today_where_another_teacher_said_absent_leaves_nothing_behind(run: Run, cast: Cast):
    is_absent(cast)
    bring_back(run)
    run.hears("Ama", "absent")
    run.all_sent()
    bring_back(run)
    run.all_sent()
    run.wait(9000)
    run.tap_name("Ama")
    run.hint("Not started yet. Tap Start first.")
    assert stored(cast) == []


def test_absent_that_waits_to_be_sent_holds_in_the_run_of_another_measure(page: Page, cast: Cast, enter, server: str):
    enter(cast.teacher, server)
    page.route("**/missing/", lambda route: route.abort("internetdisconnected"))
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/rises/")
    drawn(page).get_by_text("Not today", exact=True).tap()
    page.get_by_label("absent all day").check()
    page.get_by_role("button", name="Ama", exact=True).tap()
    expect(page.get_by_text("1 waiting to be sent.")).to_be_visible()
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/landing-control/")
    expect(drawn(page).locator(f"#cell-{cast.ama.pk}-L")).to_contain_text("absent")
    run = open_run(page, run_address(server, cast, "passe-balance"))
    run.says("Ama", "absent")
    run.tap_name("Ama")
    run.hint("Ama is not tested: absent")


def test_rest_and_a_closed_day_are_not_tapped_away(run: Run, cast: Cast):
    is_absent(cast)
    Screening.objects.update(closed_at=timezone.now(), closed_by=cast.teacher)
    opened_again(run)
    bring_back(run)
    Screening.objects.update(closed_at=None, closed_by=None)
    report_pain(
        key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=cast.screening, measure=cast.rises,
        places=["L-achilles"], feels=["sharp"], intensity=None, stopped="", note="",
        reported_on=cast.screening.held_on, by=cast.other_teacher,
    )
    opened_again(run)
    run.tap_name("Ama")
    run.hint("Ama is not tested: no rises for now")
    bring_back(run)
    run.all_sent()
    assert {row[4] for row in stored(cast)} == {Result.ABSENT}


def test_a_result_in_the_place_of_absent_is_her_result_in_the_run(run: Run, cast: Cast):
    is_absent(cast)
    told = Result.objects.get(measure=cast.rises, side="L")
    measuring.correct_result(key=uuid.uuid4(), result=told, entry=Entry(value=12), by=cast.other_teacher)
    opened_again(run)
    run.says("Ama", "12")
    run.start("Right foot" if "Right foot" in run.page.locator("[data-deed]").inner_text() else "Start")
    run.press("Stop all")
    run.all_sent()
    assert [row[:3] for row in stored(cast) if row[0] == "Ama"] == [("Ama", "L", 12)]
