"""How soon a tap is seen on a slow tablet: `python -m tests.bench.outbox_budget`; prints, asserts nothing.

Chromium at a quarter of its speed (the DevTools protocol's CPU throttling), a class of sixteen. From the instant of the
tap, as the browser stamps it, to the first moment after the frame in which the tapped thing itself said so: the page is
asked in every frame, so what is written late is late here. The first tap of a page counts as any other. The load of the
computer is printed beside it: on a busy one the figures say little.
"""
import os
import shutil
import statistics
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests.bench.real_studio import RealStudio

SLOWER = 4
BETWEEN_MS = 300
# `what` is tapped (or typed into); `place` around it must answer, before the tap, to `asks`, and after it to `says`.
WATCH = """([type, what, place, says]) => {
  window.seen = [];
  document.addEventListener(type, event => {
    if (type === 'keydown' && event.key !== 'Enter') return;
    const tapped = event.target.closest(what);
    if (!tapped) return;
    const from = event.timeStamp, around = tapped.closest(place), before = around.textContent;
    const isSaid = () => around.matches(says) && around.textContent !== before;
    const look = () => requestAnimationFrame(() => isSaid()
      ? setTimeout(() => seen.push([performance.now() - from, before.trim().split(/\\s+/)[0]])) : look());
    look();
  }, true);
}"""
WRITTEN = ":has(.written:not([hidden]))"


def grades(page: Page, here: str) -> Iterator[None]:
    """A word tapped, until it stands written."""
    page.goto(f"{here}/landing-control/")
    yield watch(page, "click", "#sheet .entry button[name=value]", ".cell", WRITTEN)
    for _tap in range(32):
        yield page.locator("#sheet .entry:not([hidden]) button[name=value]").first.tap()


def counts(page: Page, here: str) -> Iterator[None]:
    """Two digits tapped on the pad, then Enter, until they stand written."""
    page.goto(f"{here}/rises/")
    yield watch(page, "keydown", "#sheet input.box", ".cell", WRITTEN)
    for _box in range(32):
        for digit in "14":
            page.locator(".pad").get_by_role("button", name=digit, exact=True).tap()
        yield page.keyboard.press("Enter")


def run(page: Page, here: str) -> Iterator[None]:
    """A name tapped while the count runs, until her tile stands on the floor with her count."""
    page.goto(f"{here}/rises/run/")
    page.wait_for_selector(".run.is-drawn")
    yield watch(page, "click", ".tile", ".tile", ".is-down")
    for _foot in range(6):
        while page.locator("[data-deed]").inner_text().startswith("Group"):
            page.locator("[data-deed]").tap()
        page.locator("[data-deed]").tap()
        page.wait_for_selector(".tile.is-up:visible", timeout=15000)
        while page.locator(".tile.is-up:visible").count():
            yield page.locator(".tile.is-up:visible").first.tap()


def absent(page: Page, here: str) -> Iterator[None]:
    """A name tapped in the class log, until her tile says that she is absent."""
    page.goto(f"{here}/log/")
    yield watch(page, "click", "[data-view=''] .tile", ".tile", "[data-state=absent]")
    for at in range(16):
        yield page.locator("[data-view=''] .tile").nth(at).tap()


SCENES: dict[str, Callable[[Page, str], Iterator[None]]] = {
    "a grade": grades, "a typed count": counts, "a name in a group run": run, "a name in the class log": absent,
}


def watch(page: Page, *how: str) -> None:
    page.evaluate("document.fonts.ready")
    # What a page does by itself when it opens (keeping its pages, among others) is over.
    page.wait_for_timeout(8000)
    page.evaluate(WATCH, list(how))
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})


def measured(studio: RealStudio, browser, scene: Callable[[Page, str], Iterator[None]]) -> list[tuple[float, str]]:
    """Milliseconds of every tap of a scene, with what was tapped, in the order tapped."""
    where = f"classes/{studio.class_group}" if scene is absent else f"screenings/{studio.screenings.pop()}"
    with browser.new_context(has_touch=True, viewport={"width": 1024, "height": 768}) as context:
        studio.let_in(context)
        page = context.new_page()
        for _tap in scene(page, f"{studio.address}/barre/{where}"):
            page.wait_for_timeout(BETWEEN_MS)
        return page.evaluate("seen")


def say(name: str, taps: list[tuple[float, str]]) -> None:
    times = sorted(ms for ms, _what in taps)
    slowest, (_ms, what) = max(enumerate(taps, start=1), key=lambda each: each[1][0])
    print(
        f"{name}: {len(times)} taps, fastest {times[0]:.0f} ms, median {statistics.median(times):.0f} ms, "
        f"95 % {times[int(len(times) * 0.95) - 1]:.0f} ms, longest {times[-1]:.0f} ms (tap {slowest}, {what}), "
        f"first {taps[0][0]:.0f} ms", flush=True,
    )


def main() -> None:
    found = shutil.which("chromium") or shutil.which("google-chrome")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        studio = RealStudio(Path(folder), days=3, children=16)
        studio.start()
        browser = play.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu", "--disable-quic"])
        print(f"a quarter of the speed, {os.cpu_count()} cores, load of the computer {os.getloadavg()[0]:.1f}")
        for name, scene in SCENES.items():
            say(name, measured(studio, browser, scene))
        browser.close()
        studio.kill()


if __name__ == "__main__":
    main()
