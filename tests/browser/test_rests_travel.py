"""Who rests, who is absent and who is not asked is known on every tablet soon after it is told on one."""
import uuid

import pytest
from django.urls import reverse
from playwright.sync_api import Browser, Page, expect

from progress.actions.classwork.programme import plan_exercise
from progress.actions.day import ClassDay, state_attendance
from progress.actions.pain import report_pain, take_back_report
from progress.models import LadderStep, LogEntry, PainReport
from screening.models import Result
from tests.browser.conftest import all_sent, drawn, let_in
from tests.conftest import Cast
from tests.progress.test_programme import did

pytestmark = pytest.mark.django_db(transaction=True)
# Told on one tablet, known on every other one.
WITHIN_MS = 10_000


@pytest.fixture
def tablets(browser: Browser, browser_context_args: dict, cast: Cast, server: str):
    """Opens one tablet after another, each with its own keeping."""
    opened = []

    def another(person=None) -> Page:
        context = browser.new_context(**browser_context_args)
        opened.append(context)
        let_in(context, person or cast.teacher, server)
        return context.new_page()

    yield another
    for context in opened:
        context.close()


def hurts(cast: Cast, student=None, **more) -> PainReport:
    return report_pain(
        key=uuid.uuid4(), student=student or cast.ama, class_group=cast.class_group, screening=cast.screening,
        measure=cast.rises, places=["L-achilles"], feels=["sharp"], intensity=6, stopped="exercise", note="",
        reported_on=cast.screening.held_on, by=cast.teacher, **more,
    )


def barre(cast: Cast, measure: str = "rises", way: str = "") -> str:
    return f"/barre/screenings/{cast.screening.pk}/{measure}/{way}"


def test_a_stop_sign_reported_on_one_tablet_is_known_on_the_others_within_ten_seconds(
    tablets, cast: Cast, server: str
):
    step = LadderStep.objects.get(ladder__key="one-foot", position=6)
    plan_exercise(
        class_group=cast.class_group, term=cast.term, exercise=step.exercise, dose=step.dose, step=step,
        added_on=cast.screening.held_on, by=cast.teacher,
    )
    for days_ago in (7, 4):
        did(cast, days_ago)
    sheet, run, one, log, day = (tablets() for _n in range(5))
    office = tablets(cast.owner)
    sheet.goto(server + barre(cast))
    run.goto(server + barre(cast, way="run/"))
    one.goto(server + barre(cast, "passe-balance", "run/one/"))
    log.goto(server + reverse("progress:class-log", args=[cast.class_group.pk]) + "?exercise=rises-one-foot")
    day.goto(f"{server}/barre/screenings/{cast.screening.pk}/")
    for page in (sheet, run, one, log):
        drawn(page)
    cell = sheet.locator(f"#cell-{cast.ama.pk}-L")
    expect(cell.locator("input.box")).to_be_visible()
    report = hurts(cast)
    expect(cell.get_by_role("button", name="no rises for now")).to_be_visible(timeout=WITHIN_MS)
    for page in (run, one):
        tile = page.locator(f'[data-child="{cast.ama.pk}"]')
        expect(tile).to_have_class("tile is-off", timeout=WITHIN_MS)
        expect(tile.locator(".tile-word")).to_have_text("no rises for now")
    tile = log.locator(f'[data-view="rises-one-foot"] [data-student="{cast.ama.pk}"]')
    expect(tile.locator(".tile-state")).to_have_text("rests", timeout=WITHIN_MS)
    log.get_by_role("button", name="as planned").first.tap()
    all_sent(log)
    logged = LogEntry.objects.filter(log__held_on=cast.screening.held_on)
    assert [row.student for row in logged] == [cast.bettina]
    expect(day.get_by_text("No rises for now: Ama.")).to_be_visible(timeout=WITHIN_MS)
    office.goto(f"{server}/classes/{cast.class_group.pk}/programme/")
    expect(office.get_by_text("Ama: no more for now. May do: seated work and barre on flat feet only.")).to_be_visible()
    office.goto(f"{server}/classes/{cast.class_group.pk}/")
    expect(office.locator(".look").get_by_role("link", name="Ama")).to_be_visible()
    take_back_report(report=report, by=cast.teacher, on=report.reported_on)
    expect(cell.locator("input.box")).to_be_visible(timeout=WITHIN_MS)
    expect(run.locator(f'[data-child="{cast.ama.pk}"] .tile-word')).to_have_text("", timeout=WITHIN_MS)


def test_the_cell_of_whoever_rests_asks_and_records_nothing_by_itself(tablets, cast: Cast, server: str):
    hurts(cast)
    page = tablets()
    page.goto(server + barre(cast))
    cell = drawn(page).locator(f"#cell-{cast.ama.pk}-L")
    cell.locator("[data-rest]").tap()
    expect(page.get_by_text("Ama should rest: no rises for now")).to_be_visible()
    page.get_by_role("button", name="Leave it out").tap()
    expect(cell.locator("input.box")).to_be_hidden()
    cell.locator("[data-rest]").tap()
    page.get_by_role("button", name="it was before the pain was told").tap()
    cell.locator("input.box").fill("6")
    cell.locator("input.box").press("Enter")
    all_sent(page)
    expect(page.locator(".sheet-row.resting .rest-note")).to_have_text("no rises for now")
    assert [(row.value, row.despite_rest) for row in Result.objects.all()] == [(6, Result.BEFORE)]


def test_digits_that_were_typed_before_the_news_came_are_asked_about_and_not_lost(tablets, cast: Cast, server: str):
    page = tablets()
    page.goto(server + barre(cast))
    box = drawn(page).locator(f"#cell-{cast.ama.pk}-L input.box")
    box.fill("9")
    hurts(cast)
    expect(page.locator(".sheet-row.resting")).to_have_count(1, timeout=WITHIN_MS)
    box.press("Enter")
    page.get_by_role("button", name="a clinician allowed it").tap()
    all_sent(page)
    assert Result.objects.get().despite_rest == Result.CLEARED


def test_a_result_that_waited_while_somebody_else_told_of_pain_is_asked_about_in_the_list(
    tablets, cast: Cast, server: str
):
    page = tablets()
    page.goto(server + barre(cast))
    box = drawn(page).locator(f"#cell-{cast.ama.pk}-L input.box")
    page.route("**/*", lambda route: route.abort("internetdisconnected"))
    box.fill("9")
    box.press("Enter")
    hurts(cast)
    page.unroute("**/*")
    page.evaluate("window.dispatchEvent(new Event('online'))")
    expect(page.locator("[data-outbox-line]")).to_contain_text("1 not accepted.")
    assert not Result.objects.exists()
    page.locator("[data-outbox-line] > summary").tap()
    page.locator("[data-outbox-panel]").get_by_role("button", name="it was before the pain was told").tap()
    all_sent(page)
    assert Result.objects.get().despite_rest == Result.BEFORE


def test_a_tablets_own_report_is_laid_over_its_pages_before_it_is_sent(tablets, cast: Cast, server: str):
    page = tablets()
    page.goto(f"{server}/barre/")
    expect(page.locator("[data-offline]")).to_have_attribute("data-state", "Kept", timeout=60_000)
    page.goto(f"{server}{barre(cast)}")
    drawn(page).context.set_offline(True)
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/hurts/{cast.ama.pk}/?measure=rises")
    page.locator("#foot-L-achilles").check(force=True)
    page.locator("label.answer", has_text="sharp, pin-point").tap()
    page.get_by_role("button", name="Next step").tap()
    expect(page.locator("[data-hurts-answer]")).to_be_visible()
    for path in (barre(cast), barre(cast, "passe-balance")):
        page.goto(server + path)
        mark = drawn(page).locator(f"#cell-{cast.ama.pk}-L [data-rest]")
        assert mark.is_visible() and mark.text_content() == "no rises for now"
        expect(page.locator(".outbox-words")).to_contain_text("As of 1")
    page.goto(server + barre(cast, way="run/"))
    expect(drawn(page).locator(f'[data-child="{cast.ama.pk}"]')).to_have_class("tile is-off")
    page.context.set_offline(False)
    page.evaluate("window.dispatchEvent(new Event('online'))")
    all_sent(page)
    assert PainReport.objects.count() == 1
    # The network is gone again: the kept page is older than the report that was sent since, and knows of it.
    page.context.set_offline(True)
    page.goto(server + barre(cast, "passe-balance"))
    assert drawn(page).locator(f"#cell-{cast.ama.pk}-L [data-rest]").is_visible()


def test_a_kept_page_asks_for_the_news_before_the_first_finger(tablets, cast: Cast, server: str):
    page = tablets()
    page.goto(f"{server}/barre/")
    expect(page.locator("[data-offline]")).to_have_attribute("data-state", "Kept", timeout=60_000)
    hurts(cast)
    # The page does not come, its news do.
    page.context.route(f"**{barre(cast)}", lambda route: route.abort())
    page.goto(server + barre(cast))
    assert page.evaluate("document.documentElement.dataset.kept")
    mark = drawn(page).locator(f"#cell-{cast.ama.pk}-L [data-rest]")
    assert mark.is_visible() and mark.text_content() == "no rises for now"
    # It stays up to date like any other page.
    hurts(cast, student=cast.bettina)
    expect(page.locator(f"#cell-{cast.bettina.pk}-L [data-rest]")).to_be_visible(timeout=WITHIN_MS)


def test_whoever_is_absent_in_the_log_is_not_counted_in_a_run(tablets, cast: Cast, server: str):
    page = tablets()
    page.goto(server + barre(cast, way="run/"))
    tile = drawn(page).locator(f'[data-child="{cast.ama.pk}"]')
    day = ClassDay(cast.class_group, cast.term, cast.screening.held_on)
    state_attendance(key=uuid.uuid4(), day=day, present=[], absent=[cast.ama], by=cast.teacher)
    expect(tile.locator(".tile-word")).to_have_text("absent", timeout=WITHIN_MS)
    expect(tile).to_have_class("tile is-off")
