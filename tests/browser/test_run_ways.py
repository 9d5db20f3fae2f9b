"""Other ways of a group run: holds, one at a time, sixteen children in forty taps, how fast and how still it is."""

import pytest
from playwright.sync_api import Page, expect

from screening.models import Result
from studio.models import ClassGroup
from tests.browser.conftest import SIZES, drawn, let_in, moved, painted, watch_moves
from tests.browser.run_hands import enrol_more, open_run, run_address, stored
from tests.conftest import Cast

pytestmark = pytest.mark.django_db(transaction=True)
# Carys to Pia: with Ama and Bettina they are sixteen.
FOURTEEN = [
    "Carys", "Dunya", "Elif", "Freya", "Greta", "Hana", "Ines", "Jaya", "Kaja", "Leilani", "Mona", "Noor",
    "Oluchi", "Pia",
]


def test_holds_are_taken_to_a_tenth_in_three_tries_of_both_feet(page: Page, cast: Cast, enter, server: str):
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast, "passe-balance"))
    for words, held in (("Start", 7340), ("Right foot, try 1 of 3", 5120), ("Left foot, try 2 of 3", 30_200)):
        run.press(words)
        run.wait(held)
        for name in ("Ama", "Bettina"):
            if held < 30_000:
                run.tap_name(name)
    run.says("Ama", "30", "reached the limit")
    run.all_sent()
    amas = [row for row in stored(cast) if row[0] == "Ama"]
    assert [(side, least, first) for _n, side, _v, least, _f, first in amas] == [
        ("L", False, True), ("R", False, False), ("L", True, True)]
    assert [value for _n, _s, value, *_rest in amas] == pytest.approx([7.3, 5.1, 30], abs=0.11)
    # The left foot reached the cap: only the right one is still asked for.
    expect(run.button("Right foot, try 2 of 3")).to_be_visible()


LANDS = """() => {
  const [bar, floor, word] = ['.beat-bar', '.beat-floor', '.beat-two'].map(name => document.querySelector(name));
  const top = floor.offsetTop - bar.offsetHeight, low = bar.getAnimations()[0].effect.getKeyframes()[0].transform;
  return [low === `translateY(${top - bar.offsetTop}px)`, word.offsetTop + word.offsetHeight <= top];
}"""


def test_the_bar_lands_on_the_floor_and_on_no_word_however_the_tablet_is_turned(
    page: Page, cast: Cast, enter, server: str
):
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast))
    run.start()
    for held in ("landscape", "portrait", "landscape"):
        page.set_viewport_size(SIZES[held])
        painted(page)
        assert page.evaluate(LANDS) == [True, True], held


def test_one_at_a_time_moves_on_by_itself_and_counts_by_hand(page: Page, cast: Cast, enter, server: str):
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast, more="one/"))
    for _rise in range(3):
        run.tap(page.get_by_role("button", name="one more"))
    run.press("Save 3")
    run.says("Ama", "3")
    run.wait(3500)
    expect(page.locator("[data-side-words]")).to_have_text("Right foot")
    run.tap(page.get_by_role("button", name="one more"))
    run.tap_name("Ama")
    run.wait(3500)
    expect(run.tile("Bettina")).to_be_visible()
    run.all_sent()
    assert [row[:3] for row in stored(cast)] == [("Ama", "L", 3), ("Ama", "R", 1)]


@pytest.mark.parametrize("size, most", [(6, 40), (8, 37)])
def test_sixteen_children_with_two_feet_take_at_most_forty_taps(page: Page, cast: Cast, enter, server: str, size, most):
    names = ["Ama", "Bettina", *FOURTEEN]
    enrol_more(cast, *FOURTEEN)
    ClassGroup.objects.update(group_size=size)
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast))
    groups = -(-16 // size)
    for number in range(1, groups + 1):
        if number > 1:
            run.press(f"Group {number}")
        for words in ("Start", "Right foot"):
            run.start(words)
            for tile in page.locator(".tile:visible").all():
                run.rise(1)
                run.tap(tile)
    run.all_sent()
    assert run.taps <= most
    taken = Result.objects.filter(value__gt=0).values_list("student__name", "side")
    assert sorted(taken) == sorted((f"{name} {rest}", side) for name, rest in _full(names) for side in "LR")


def _full(names: list[str]) -> list[tuple[str, str]]:
    surnames = {"Ama": "Owiredu", "Bettina": "Krall"}
    return [(name, surnames.get(name, "Example")) for name in names]


def test_nothing_moves_under_the_finger(page: Page, cast: Cast, enter, server: str):
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast))
    # The outbox line's words stand at the right edge and grow to the left as they change; nothing else may move.
    watch_moves(page, apart=".run-line")
    where = run.tile("Bettina").bounding_box()
    run.start()
    run.rise(3)
    run.tap_name("Ama")
    run.wait(1000)
    run.tap_name("Ama")
    run.press("wobble")
    run.press("Stop all")
    run.all_sent()
    assert moved(page) == []
    assert run.tile("Bettina").bounding_box() == where


ANSWERS = """names => names.map(name => {
  const tile = [...document.querySelectorAll('.tile')].find(each => each.textContent.includes(name));
  tile.click();
  return tile.textContent;
})"""


def test_a_tap_answers_before_anything_else_is_done(page: Page, cast: Cast, enter, server: str):
    """Nothing is waited for, neither the disk nor the network; how many milliseconds that takes is for the bench."""
    enrol_more(cast, *FOURTEEN[:6])
    ClassGroup.objects.update(group_size=8)
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast, "passe-balance"))
    run.press("Start")
    run.wait(500)
    answers = page.evaluate(ANSWERS, ["Ama", "Bettina", *FOURTEEN[:5]])
    assert all(any(sign.isdigit() for sign in text) for text in answers), answers


def test_without_script_the_run_is_the_typed_sheet(browser, cast: Cast, server: str):
    with browser.new_context(java_script_enabled=False) as context:
        let_in(context, cast.teacher, server)
        page = context.new_page()
        page.goto(run_address(server, cast))
        page.wait_for_url("**/rises/")
        expect(page.get_by_label("Ama, left", exact=True)).to_be_visible()


# Beat, its time in ms and the count shown, at 40, 60 and 80 beats a minute: two beats a rise, worked out by hand.
BEATS = [
    (40, 0, 0, 1), (40, 1, 1500, 1), (40, 2, 3000, 2), (60, 15, 15_000, 8), (80, 4, 3000, 3), (80, 159, 119_250, 80),
]
AT_BEAT = """async ([pace, beat]) => { const { schedule } = await import("/static/js/run/beat.js");
  const plan = schedule(1000, pace), at = plan.timeOf(beat);
  return [at - 1000, plan.beatAt(at), plan.beatAt(at - 0.5), plan.countAt(at), plan.countAt(999)]; }"""
ALL_BEATS = """async pace => { const plan = (await import("/static/js/run/beat.js")).schedule(123.4, pace);
  return [...Array(200).keys()].every(beat => plan.beatAt(plan.timeOf(beat)) === beat); }"""
# Every tone that is asked for, on an audio clock that stands seven seconds before the page's, and whose readings jump.
LISTEN = """window.sounds = []; window.hushed = []; let reading = 0;
  Object.defineProperty(AudioContext.prototype, 'state', { get: () => 'running' });
  AudioContext.prototype.getOutputTimestamp = () => ({ performanceTime: performance.now(),
    contextTime: (performance.now() + 7000 + (reading++ % 2 ? 4 : -4)) / 1000 });
  OscillatorNode.prototype.start = function (at) { this.due = at * 1000 - 7000; sounds.push(this.due); };
  OscillatorNode.prototype.stop = function (at) {
    if (at === undefined) hushed.push(this.due);
    else setTimeout(() => this.onended && this.onended(), at * 1000 - 7000 - performance.now()); };
"""


def test_every_beat_falls_where_arithmetic_puts_it(page: Page, cast: Cast, enter, server: str):
    enter(cast.teacher, server)
    page.goto(run_address(server, cast))
    for pace, beat, ms, count in BEATS:
        got = page.evaluate(AT_BEAT, [pace, beat])
        assert got == [pytest.approx(ms), beat, beat - 1, count, 0]
    for pace in range(40, 81):
        assert page.evaluate(ALL_BEATS, pace)


def test_each_beat_sounds_once_at_its_time_and_stop_hushes_the_rest(page: Page, cast: Cast, enter, server: str):
    page.add_init_script(LISTEN)
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast))
    began = page.evaluate("performance.now()")
    run.press("Start")
    run.wait(3500)
    run.press("Stop all")
    times = page.evaluate("sounds")
    assert times == pytest.approx([began + 1000 * beat for beat in range(1, len(times) + 1)], abs=6)
    assert len(times) >= 4
    now = page.evaluate("performance.now()")
    assert page.evaluate("hushed") == [time for time in times if time > now] != []
    run.wait(1500)
    assert page.evaluate("sounds") == times


def test_sound_off_is_remembered_on_the_tablet_and_silences_the_beat(page: Page, cast: Cast, enter, server: str):
    page.add_init_script(LISTEN)
    enter(cast.teacher, server)
    page.goto(run_address(server, cast))
    page.locator(".run-menu summary").tap()
    page.get_by_role("button", name="Sound on").tap()
    run = open_run(page, run_address(server, cast))
    page.locator(".run-menu summary").tap()
    expect(page.get_by_role("button", name="Sound off")).to_be_visible()
    page.keyboard.press("Escape")
    run.start()
    assert page.evaluate("sounds") == []


def test_with_less_motion_the_words_swap_their_weight_and_the_bar_stays(page: Page, cast: Cast, enter, server: str):
    page.emulate_media(reduced_motion="reduce")
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast))
    run.start()
    assert page.evaluate("document.querySelector('.beat-bar').getAnimations().length") == 0
    weight = "each => getComputedStyle(each).fontWeight"
    up, down = page.locator(".beat-one"), page.locator(".beat-two")
    assert (up.evaluate(weight), down.evaluate(weight)) == ("600", "400")
    run.wait(1000)
    assert (up.evaluate(weight), down.evaluate(weight)) == ("400", "600")


def test_the_screen_stays_awake_while_a_run_goes_on(page: Page, cast: Cast, enter, server: str):
    page.add_init_script("""window.awake = 0; navigator.wakeLock.request = async kind => { window.awake += 1;
      return { release: async () => { window.awake -= 1; } }; };""")
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast, "passe-balance"))
    run.press("Start")
    assert page.evaluate("window.awake") == 1
    run.wait(1000)
    run.press("Stop all")
    assert page.evaluate("window.awake") == 0


def test_the_line_is_dragged_and_stays_so(page: Page, cast: Cast, enter, server: str):
    enter(cast.teacher, server)
    page.goto(f"{server}/classes/{cast.class_group.pk}/line/")
    drawn(page)
    tiles = page.locator(".line-tile")
    here, there = tiles.nth(0).bounding_box(), tiles.nth(1).bounding_box()
    page.mouse.move(here["x"] + 20, here["y"] + 30)
    page.mouse.down()
    page.mouse.move(there["x"] + 20, there["y"] + 30, steps=6)
    with page.expect_navigation():
        page.mouse.up()
    expect(page.locator(".line-name")).to_have_text(["Bettina", "Ama"])
    page.goto(run_address(server, cast))
    expect(page.locator(".tile-name")).to_have_text(["Bettina", "Ama"])


@pytest.mark.parametrize("hand", ["finger", "keyboard"])
def test_a_name_and_then_its_place_change_the_line_and_the_groups_stay_where_they_are(
    page: Page, cast: Cast, enter, server: str, hand: str
):
    cast.class_group.group_size = 1
    cast.class_group.save()
    enter(cast.teacher, server)
    page.goto(f"{server}/classes/{cast.class_group.pk}/line/")
    drawn(page)
    tiles = page.locator(".line-tile")
    press = (lambda tile: tile.tap()) if hand == "finger" else (lambda tile: tile.press("Enter"))
    press(tiles.nth(1))
    expect(tiles.nth(1)).to_have_attribute("aria-pressed", "true")
    with page.expect_navigation():
        press(tiles.nth(0))
    expect(page.locator(".line-name")).to_have_text(["Bettina", "Ama"])
    groups = page.locator(".line li").evaluate_all("tiles => tiles.map(tile => tile.dataset.group)")
    assert groups == ["group 1", "group 2"]


def test_the_keyboard_alone_runs_a_group(page: Page, cast: Cast, enter, server: str):
    enter(cast.teacher, server)
    run = open_run(page, run_address(server, cast))
    run.button("Start").focus()
    page.keyboard.press("Enter")
    run.wait(4500)
    run.tile("Ama").focus()
    page.keyboard.press("Space")
    run.says("Ama", "1")
    run.wait(1000)
    page.keyboard.press("Space")
    run.button("wobble").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Escape")
    run.says("Ama", "1", "wobble")
