"""Random runs of taps, cuts and kills against the outbox: `python -m tests.bench.outbox_runs [--runs N] [--seed N]`.

Each run measures a class on a day of its own: grades, corrections and undoings, while the network goes and comes, the
page is reloaded, the tab is closed and opened again, and the server is killed with kill -9, also in mid-request. At the
end everything is switched on again; the rows in the database must be as many as the taps, and say what the screen says.
"""
import argparse
import random
import shutil
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import BrowserContext, Page, sync_playwright

from tests.bench.real_studio import RealStudio
from tests.browser.modules import PENDING

STEPS = 14
WEIGHTS = {"tap": 10, "undo": 3, "correct": 2, "cut": 2, "join": 2, "reload": 1, "close": 1, "kill": 2}
# The second tap of a double tap is not a wish to put right; the page waits this long.
DOUBLE_TAP_MS = 620
# What the tablet had kept is laid over: from now on a box is put away only by a tap.
DRAWN = "#sheet.is-drawn"
ON_SCREEN = """() => Object.fromEntries([...document.querySelectorAll('#sheet .cell')]
  .filter(cell => cell.querySelector('.entry').hidden)
  .map(cell => [cell.dataset.student + '|' + cell.dataset.side, cell.querySelector('.kept').textContent]))"""
# What is not about the tap itself, Undo among it, may be drawn once the tap has been seen.
FOLLOWED = """new Promise(resolve => requestAnimationFrame(() => requestAnimationFrame(
  () => setTimeout(() => setTimeout(() => resolve(true))))))"""
GRADES = ("lost", "corrected", "clean")


@dataclass
class Run:
    """What came of one run. `lost`: taps without a row; `doubled`: rows without a tap."""

    seed: int
    taps: int = 0
    rows: int = 0
    kills: int = 0
    is_as_on_screen: bool = False

    @property
    def lost(self) -> int:
        return max(self.taps - self.rows, 0)

    @property
    def doubled(self) -> int:
        return max(self.rows - self.taps, 0)

    @property
    def is_whole(self) -> bool:
        return self.taps == self.rows and self.is_as_on_screen


def wait_until_kept(page: Page) -> None:
    """Until this page opens without the network. Asked again and again: the policy forbids a script of the test's."""
    until = time.monotonic() + 60
    while not page.evaluate("caches.match(location.pathname, {ignoreVary: true}).then(found => !!found)"):
        assert time.monotonic() < until, "the page is not kept"
        page.wait_for_timeout(50)


class Tablet:
    """One tablet in one run: a page that taps, and everything that can go wrong around it."""

    def __init__(self, studio: RealStudio, context: BrowserContext, screening: int, seed: int):
        self.studio, self.context, self.screening = studio, context, screening
        self.chance, self.run = random.Random(seed), Run(seed)
        self.sheet = f"{studio.address}/barre/screenings/{screening}/landing-control/"
        studio.let_in(context)
        self.page = context.new_page()
        self.open()
        wait_until_kept(self.page)

    def open(self) -> None:
        self.page.goto(self.sheet)
        self.page.wait_for_selector(DRAWN)

    def go(self) -> Run:
        for _step in range(STEPS):
            getattr(self, self.chance.choices(list(WEIGHTS), list(WEIGHTS.values()))[0])()
        return self.end()

    def tap(self) -> None:
        boxes = self.page.locator("#sheet .entry:not([hidden]) button[name=value]")
        count = boxes.count()
        if count:
            boxes.nth(self.chance.randrange(count)).tap()
            self.run.taps += 1

    def undo(self) -> None:
        button = self.page.locator("[data-undo] button")
        self.page.evaluate(FOLLOWED)
        if button.is_enabled():
            button.tap()
            self.run.taps += 1

    def correct(self) -> None:
        written = self.page.locator("#sheet .written:not([hidden])")
        count = written.count()
        if not count:
            return
        self.page.wait_for_timeout(DOUBLE_TAP_MS)
        cell = written.nth(self.chance.randrange(count)).locator("xpath=..")
        here = self.page.locator(f"#{cell.get_attribute('id')}")
        here.locator(".written").tap()
        here.locator(f"button[name=value][value='{self.chance.randrange(3)}']").tap()
        self.run.taps += 1

    def cut(self) -> None:
        self.context.set_offline(True)

    def join(self) -> None:
        self.context.set_offline(False)

    def reload(self) -> None:
        self.page.reload()
        self.page.wait_for_selector(DRAWN)

    def close(self) -> None:
        self.page.close()
        self.page = self.context.new_page()
        self.open()

    def kill(self) -> None:
        """Right after a tap, at a moment that may be before, in or after its request; then taps go on."""
        self.tap()
        self.page.wait_for_timeout(self.chance.randrange(0, 120))
        self.studio.kill()
        self.run.kills += 1
        self.tap()
        self.studio.spawn()

    def end(self) -> Run:
        self.context.set_offline(False)
        until = time.monotonic() + 180
        while self.page.evaluate(PENDING):
            assert time.monotonic() < until, (self.run, self.page.evaluate(PENDING))
            self.page.wait_for_timeout(100)
        self.run.rows = len(self.studio.results(self.screening))
        shown = {tuple(at.split("|")): GRADES.index(words) for at, words in self.page.evaluate(ON_SCREEN).items()}
        self.run.is_as_on_screen = shown == self.studio.standing(self.screening)
        return self.run


def one_run(studio: RealStudio, browser, screening: int, seed: int) -> Run:
    if not studio._answers():
        studio.kill()
        studio.start()
    context = browser.new_context(has_touch=True, viewport={"width": 1024, "height": 768}, locale="en-GB")
    try:
        return Tablet(studio, context, screening, seed).go()
    finally:
        context.close()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=200)
    parser.add_argument("--seed", type=int, default=20310106)
    asked = parser.parse_args()
    found = shutil.which("chromium") or shutil.which("google-chrome")
    runs, started = [], time.monotonic()
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        studio = RealStudio(Path(folder), days=asked.runs)
        browser = play.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu", "--disable-quic"])
        for at, screening in enumerate(studio.screenings):
            runs.append(one_run(studio, browser, screening, asked.seed + at))
            if not runs[-1].is_whole:
                print(f"NOT WHOLE: {runs[-1]}", flush=True)
            if len(runs) % 20 == 0:
                print_summary(runs, time.monotonic() - started)
        browser.close()
        studio.kill()
    print_summary(runs, time.monotonic() - started)


def print_summary(runs: list[Run], seconds: float) -> None:
    total = {name: sum(getattr(run, name) for run in runs) for name in ("taps", "rows", "lost", "doubled", "kills")}
    print(f"{len(runs)} runs from seed {runs[0].seed}, {seconds / 60:.0f} minutes")
    print("  ".join(f"{name} {count}" for name, count in total.items()))
    print(f"runs in which database, screen and taps agree: {sum(run.is_whole for run in runs)}", flush=True)


if __name__ == "__main__":
    main()
