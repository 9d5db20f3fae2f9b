"""It hurts without a network: the tablet says the next step itself, keeps the report, and sends it later, once."""
import random

import pytest
from playwright.sync_api import Page, expect

from progress.models import FollowUp, PainReport
from progress.rules import pain, pain_returns, red_words
from screening.models import Result
from tests.browser.conftest import all_sent, drawn, either_way, moved, painted, watch_moves
from tests.browser.modules import PENDING
from tests.conftest import Cast
from tests.progress.test_pain_table import at_random

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def form(page: Page, cast: Cast, server: str, enter) -> Page:
    cast.studio.first_aid_policy = "Sit down. The box hangs by the door."
    cast.studio.save()
    enter(cast.teacher, server)
    page.goto(f"{server}/barre/screenings/{cast.screening.pk}/hurts/{cast.ama.pk}/?measure=rises")
    return page


def cut(page: Page) -> None:
    page.route("**/*", lambda route: route.abort("internetdisconnected"))


def tap_sharp_achilles(page: Page) -> None:
    page.locator("#foot-L-achilles").check(force=True)
    page.locator("label.answer", has_text="sharp, pin-point").tap()


def test_with_a_network_the_studios_own_next_step_follows(form: Page):
    tap_sharp_achilles(form)
    form.get_by_role("button", name="Next step").tap()
    form.wait_for_url("**/barre/pain/*/")
    expect(form.get_by_role("heading", name="Stop for today.")).to_be_visible()
    assert PainReport.objects.count() == 1


def test_a_stop_sign_without_a_network_is_said_at_once_and_sent_when_it_is_back(form: Page, cast: Cast):
    cut(form)
    tap_sharp_achilles(form)
    form.get_by_role("button", name="Next step").tap()
    expect(form.get_by_role("heading", name="Stop for today.")).to_be_visible()
    expect(form.get_by_text("The box hangs by the door.")).to_be_visible()
    expect(form.get_by_role("heading", name="Today to a doctor, whatever you tapped")).to_be_visible()
    expect(form.get_by_text("Saved on this tablet. 1 waiting to be sent.")).to_be_visible()
    assert not PainReport.objects.exists()
    form.unroute("**/*")
    form.evaluate("window.dispatchEvent(new Event('online'))")
    form.wait_for_url("**/barre/pain/*/")
    row = PainReport.objects.get()
    assert (row.places, row.feels) == (["L-achilles"], ["sharp"])
    assert (row.measure, row.reported_by) == (cast.rises, cast.teacher)
    assert FollowUp.objects.get().kind == FollowUp.STOP_SIGN


def test_a_mistaken_tap_without_a_network_is_undone_and_never_sent(form: Page):
    cut(form)
    tap_sharp_achilles(form)
    form.get_by_role("button", name="Next step").tap()
    form.get_by_role("button", name="Undo, tapped by mistake").tap()
    expect(form.get_by_role("button", name="Next step")).to_be_visible()
    form.unroute("**/*")
    form.evaluate("window.dispatchEvent(new Event('online'))")
    all_sent(form)
    assert not PainReport.objects.exists()


def test_without_a_place_or_a_feel_nothing_is_kept_and_a_sentence_says_so(form: Page):
    form.locator("label.answer", has_text="dull ache").tap()
    form.get_by_role("button", name="Next step").tap()
    expect(form.get_by_text("Tap where it hurts and what it feels like.")).to_be_visible()
    assert form.evaluate(PENDING) == []


@either_way
def test_what_is_lacking_is_said_without_moving_anything_and_goes_once_it_is_there(form: Page):
    drawn(form)
    watch_moves(form, apart=".outbox-line")
    form.locator("label.answer", has_text="dull ache").tap()
    form.get_by_role("button", name="Next step").scroll_into_view_if_needed()
    seen = form.evaluate("scrollY")
    form.get_by_role("button", name="Next step").tap()
    lacking = form.get_by_text("Tap where it hurts and what it feels like.")
    expect(lacking).to_be_in_viewport()
    painted(form)
    assert (moved(form), form.evaluate("scrollY")) == ([], seen)
    form.locator("#foot-L-achilles").check(force=True)
    expect(lacking).to_be_hidden()
    assert moved(form) == []


BY_THE_RULES = "async all => all.map((await import('/static/js/hurts.js')).rules.%s)"


def test_the_tablet_asks_for_the_same_as_the_studio_whatever_is_tapped_or_written(form: Page):
    """Of 6,000 reports: what is asked, why it is to be seen by itself, and what the words seem to name."""
    dice = random.Random(20310303)
    every = [at_random(dice) for _each in range(6000)]
    told = [{
        "feels": one.feels, "signs": one.signs, "places": one.places, "stopped": one.stopped, "since": one.since,
        "intensity": one.intensity, "note": one.note, "not_meant": one.not_meant,
    } for one in every]
    assert form.evaluate(BY_THE_RULES % "asks", told) == [pain.asks(one) for one in every]
    alone = [
        "" if pain.asks(one) in pain.SEEN_THE_SAME_DAY else pain_returns.referral([one]) for one in every
    ]
    assert form.evaluate(BY_THE_RULES % "referred", told) == alone
    notes = sorted({one.note for one in every} | {
        "CAN’T stand on it", "Schla\u0308fe", "kann nicht\u00a0mehr auftreten", "Über Nacht geschwollen!", "pop-up",
        "night-time", "weiß, kalt", "headache/fever", "_snap_", "n8ght", "la cheville", "дом", "",
    })
    keys = list(red_words.PATTERNS)
    named = form.evaluate(
        "async ([keys, notes]) => { const { rules } = await import('/static/js/hurts.js');"
        " return notes.map(note => keys.filter(key => rules.named(key, note).length)); }", [keys, notes]
    )
    assert named == [[key for key in keys if key in red_words.named_in(note)] for note in notes]


def test_words_that_name_a_red_flag_are_asked_back_without_a_network_and_only_no_takes_them_back(form: Page):
    cut(form)
    form.locator("#foot-L-heel").check(force=True)
    form.locator("label.answer", has_text="dull ache").tap()
    form.locator(".elsewhere > summary").tap()
    form.get_by_label("In words").fill("hit her head, wakes at night")
    head, night = (form.locator(f"[data-red-word={key}]") for key in ("head", "night"))
    expect(head).to_contain_text("“head”: a knock on the head?")
    night.get_by_role("button", name="Yes").tap()
    expect(form.get_by_label("wakes at night")).to_be_checked()
    head.get_by_role("button", name="No").tap()
    expect(head).to_be_hidden()
    form.get_by_label("In words").fill("hit her head, wakes at night, concussed?")
    expect(head).to_be_visible()
    head.get_by_role("button", name="No").tap()
    form.locator(".elsewhere > summary").tap()
    form.get_by_role("button", name="Next step").tap()
    expect(form.get_by_role("heading", name="Stop now. Ring home. To be seen by a doctor today.")).to_be_visible()
    form.unroute("**/*")
    form.evaluate("window.dispatchEvent(new Event('online'))")
    form.wait_for_url("**/barre/pain/*/")
    row = PainReport.objects.get()
    assert (row.signs, row.not_meant, row.asks) == (["night"], ["head"], pain.DOCTOR_TODAY)


def test_what_was_written_and_not_answered_raises_the_answer(form: Page):
    cut(form)
    form.locator("label.answer", has_text="something else").tap()
    form.locator(".elsewhere > summary").tap()
    form.get_by_label("In words").fill("mit dem Kopf an die Stange")
    form.locator(".elsewhere > summary").tap()
    form.get_by_role("button", name="Next step").tap()
    # Words that name a knock to the head ask for what the head asks for, without a tap on it.
    asked = "Stop now. Keep still. Ring home. To be seen by a doctor today."
    expect(form.get_by_role("heading", name=asked)).to_be_visible()


def test_several_feelings_and_a_sign_are_told_at_once(form: Page):
    tap_sharp_achilles(form)
    for words in ("swollen or hot", "a snap was heard", "not at all", "today"):
        form.locator("label.answer", has_text=words).tap()
    form.locator(".intensity label.answer", has_text="7").tap()
    form.get_by_role("button", name="Next step").tap()
    form.wait_for_url("**/barre/pain/*/")
    row = PainReport.objects.get()
    assert (row.feels, row.signs, row.stopped, row.since) == (["sharp", "swollen"], ["snap"], "class", "today")


def test_a_sign_alone_is_enough(form: Page):
    form.locator("label.answer", has_text="fever or unwell").tap()
    form.get_by_role("button", name="Next step").tap()
    form.wait_for_url("**/barre/pain/*/")
    expect(form.get_by_role("heading", name="Stop now. Ring home. To be seen by a doctor today.")).to_be_visible()


def test_both_heels_are_looked_at_without_a_network_too(form: Page):
    cut(form)
    for side in "LR":
        form.locator(f"#foot-{side}-heel").check(force=True)
    form.locator("label.answer", has_text="dull ache").tap()
    form.get_by_role("button", name="Next step").tap()
    expect(form.get_by_role("heading", name="No rises, no jumps. A health professional should see it."))\
        .to_be_visible()


def test_not_today_because_of_pain_asks_where_it_hurts_and_the_report_brings_the_reason(form: Page, cast: Cast):
    form.goto(form.url.split("/hurts/")[0] + "/rises/")
    drawn(form)
    form.get_by_text("Not today", exact=True).tap()
    form.locator("[data-missing]").get_by_label("pain").check()
    form.locator("[data-missing]").get_by_role("button", name="Ama").tap()
    expect(form.get_by_role("heading", name="Ama: where does it hurt?")).to_be_visible()
    drawn(form)
    assert not Result.objects.exists()
    tap_sharp_achilles(form)
    form.get_by_role("button", name="Next step").tap()
    form.wait_for_url("**/barre/pain/*/")
    assert PainReport.objects.get().student == cast.ama
    assert {row.reason_missing for row in Result.objects.filter(student=cast.ama)} == {Result.PAIN}


@pytest.mark.parametrize("is_offline", [False, True])
def test_taken_back_by_mistake_no_red_word_is_left(form: Page, is_offline: bool):
    if is_offline:
        cut(form)
    tap_sharp_achilles(form)
    form.get_by_role("button", name="Next step").tap()
    if not is_offline:
        form.wait_for_url("**/barre/pain/*/")
    form.get_by_role("button", name="Undo, tapped by mistake").tap()
    expect(form.get_by_text("Taken back")).to_be_visible()
    for words in ("Stop for today", "follow-ups", "First aid", "Ring home"):
        expect(form.get_by_text(words).locator("visible=true")).to_have_count(0)
    assert form.locator(".answer input:checked, .foot-plate input:checked").count() == 0


@pytest.mark.parametrize("size", [(1024, 768), (768, 1024)])
@pytest.mark.parametrize("more", ["", "&run&up&at=7"])
def test_the_whole_question_and_its_answer_fit_a_tablet_held_either_way(form: Page, size, more: str):
    form.set_viewport_size({"width": size[0], "height": size[1]})
    form.goto(form.url + more)
    assert all(is_within <= room for is_within, room in zip(extent(form), size, strict=True))
    assert is_seen_whole(form, "Next step")
    for words in ("Stop. Sit down.", "Could they go on?", "Since when?", "wakes at night", "over 7 days"):
        expect(form.get_by_text(words, exact=True).locator("visible=true")).to_be_in_viewport(ratio=1)
    cut(form)
    tap_sharp_achilles(form)
    form.get_by_role("button", name="Next step").tap()
    heading = form.get_by_role("heading", name="Stop for today.")
    expect(heading).to_be_in_viewport(ratio=1)
    assert is_seen_whole(form, "Undo, tapped by mistake")
    assert extent(form)[0] <= size[0]


def extent(page: Page) -> tuple[int, int]:
    """How wide and how high the page is."""
    return tuple(page.evaluate("[document.documentElement.scrollWidth, document.documentElement.scrollHeight]"))


def is_seen_whole(page: Page, button: str) -> bool:
    expect(page.get_by_role("button", name=button).locator("visible=true")).to_be_in_viewport(ratio=1)
    return True
