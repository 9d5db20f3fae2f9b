"""How soon a tap is seen on a slow tablet: `python -m tests.bench.outbox_budget`; prints, asserts nothing.

Chromium at a quarter of its speed (the DevTools protocol's CPU throttling), a class of sixteen, every grade tapped
once. From the event of the tap to the first moment after the frame in which the word was drawn. The load of the
computer is printed beside it: on a busy one the figure says little.
"""
import os
import shutil
import statistics
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.bench.real_studio import RealStudio

SLOWER = 4
WATCH = """() => {
  window.seen = [];
  document.addEventListener('click', event => {
    if (!event.target.closest('#sheet .entry')) return;
    const from = event.timeStamp;
    requestAnimationFrame(() => setTimeout(() => seen.push(performance.now() - from)));
  }, true);
}"""


def main() -> None:
    found = shutil.which("chromium") or shutil.which("google-chrome")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        studio = RealStudio(Path(folder), days=1, children=16)
        studio.start()
        browser = play.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu", "--disable-quic"])
        context = browser.new_context(has_touch=True, viewport={"width": 1024, "height": 768})
        studio.let_in(context)
        page = context.new_page()
        page.goto(f"{studio.address}/barre/screenings/{studio.screenings[0]}/landing-control/")
        page.evaluate("document.fonts.ready")
        page.wait_for_timeout(8000)
        page.evaluate(WATCH)
        context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
        for _tap in range(32):
            page.locator("#sheet .entry:not([hidden]) button[name=value]").first.tap()
            page.wait_for_timeout(300)
        times = page.evaluate("seen")
        browser.close()
        studio.kill()
    times = sorted(times)
    print(f"{len(times)} taps at a quarter of the speed: fastest {times[0]:.0f} ms, median "
          f"{statistics.median(times):.0f} ms, 95 % {times[int(len(times) * 0.95) - 1]:.0f} ms, longest "
          f"{times[-1]:.0f} ms (load of the computer {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores)")


if __name__ == "__main__":
    main()
