"""How soon two hundred results that waited on one tablet are in once the network is back, on a studio of its own.

    python -m tests.bench.outbox_together [--rows 200] [--times 3]
"""
import argparse
import os
import shutil
import tempfile
import time
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.bench.real_studio import RealStudio
from tests.browser.modules import OUTBOX, PENDING

CHILDREN = 16
# Results of every child in turn, as they were tapped without a network.
WAIT = f"""async ([path, rows]) => {{
  const outbox = {OUTBOX}, cells = [...document.querySelectorAll("#sheet .cell")];
  for (let at = 0; at < rows; at += 1) {{
    const {{ student, side }} = cells[at % cells.length].dataset;
    await outbox.keep({{path, words: String(at), fields: {{key: outbox.key(), student, side, value: "2"}}}});
  }}
}}"""


def one(studio: RealStudio, browser, screening: int, rows: int) -> tuple[float, float, int]:
    """Seconds from the network's coming back until nothing waits, processor time of the studio's server in them, and
    how many rows it has then."""
    context = browser.new_context()
    studio.let_in(context)
    page = context.new_page()
    page.goto(f"{studio.address}/barre/screenings/{screening}/landing-control/")
    page.wait_for_selector("#sheet.is-drawn")
    context.set_offline(True)
    page.evaluate(WAIT, [f"/barre/screenings/{screening}/landing-control/record/", rows])
    context.set_offline(False)
    began, worked = time.monotonic(), studio.processor_time()
    while page.evaluate(PENDING):
        page.wait_for_timeout(20)
    took, worked = time.monotonic() - began, studio.processor_time() - worked
    context.close()
    return took, worked, len(studio.results(screening))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=200)
    parser.add_argument("--times", type=int, default=3)
    asked = parser.parse_args()
    found = shutil.which("chromium") or shutil.which("google-chrome")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        studio = RealStudio(Path(folder), days=asked.times, children=CHILDREN)
        studio.start()
        browser = play.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu", "--disable-quic"])
        for screening in studio.screenings:
            took, worked, rows = one(studio, browser, screening, asked.rows)
            load = os.getloadavg()[0]
            print(f"{asked.rows} waiting, {rows} in after {took:.1f} s, {worked:.1f} s of them the studio's server "
                  f"worked; load {load:.1f}", flush=True)
        browser.close()
        studio.kill()


if __name__ == "__main__":
    main()
