"""How soon a parent sees the family's page on a slow phone: `python -m tests.bench.family_paint [--loads N]`; prints,
asserts nothing.

The demo studio behind the real web server, its files put in place as `./risebook run` does; Chromium as a phone of
390x844, its network and processor slowed through the DevTools protocol, nothing kept from the load before. First
contentful paint as the browser's own Performance API tells it (W3C Paint Timing). The two networks and the processor
at a quarter are those of Lighthouse's mobile run, "slow 4G" (its docs/throttling.md, from memory): 150 ms there and
back with 1.6 Mbit/s down and 750 kbit/s up, and, as a DevTools preset applies the same, 562.5 ms for each request with
1,474.56 and 675 kbit/s, which stands for the setting up of the connection too. The load of the computer is printed: on
a busy one the figures are too slow.
"""
import argparse
import os
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

CHECKOUT = Path(__file__).resolve().parents[2]
SLOWER = 4
KILOBIT = 1000 / 8
# Name -> ms for each request, bytes a second down and up.
NETWORKS = {
    "slow 4G, 150 ms": (150, 1600 * KILOBIT, 750 * KILOBIT),
    "slow 4G as DevTools applies it, 562.5 ms a request": (562.5, 1474.56 * KILOBIT, 675 * KILOBIT),
}
# The phone of a family whose page has a chart and a table. Prints where it comes in.
BUILD = """
import django
django.setup()
from django.utils import timezone
from studio.family.actions import make_key
from studio.models import Student, User
from studio.queries import term_on
student = Student.objects.get(name="Dunya Rahmani")
key = make_key(guardian=student.guardians.first(), term=term_on(timezone.localdate()), by=User.objects.first())
print(key, student.birth_on.isoformat(), student.pk)
"""
PAINTED = "performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? 0"
BYTES = """performance.getEntriesByType('resource').concat(performance.getEntriesByType('navigation'))
  .reduce((sum, entry) => sum + entry.transferSize, 0)"""


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--loads", type=int, default=9)
    loads = asked.parse_args().loads
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "RISEBOOK_VAR_DIR": folder, "DJANGO_SETTINGS_MODULE": "studio.settings"}
        for words in (("migrate", "--noinput"), ("first_start",), ("collectstatic", "--noinput")):
            _python(environment, "manage.py", *words)
        token, birth_on, student = _python(environment, "-c", BUILD).split()[-3:]
        address, server = _served(environment)
        try:
            with sync_playwright() as play:
                found = shutil.which("chromium") or shutil.which("google-chrome")
                browser = play.chromium.launch(
                    executable_path=found, args=["--no-sandbox", "--disable-gpu", "--disable-quic"])
                state = _come_in(browser, address, token, birth_on)
                for name, network in NETWORKS.items():
                    for page in (f"/family/{student}/", f"/family/card/{token}/"):
                        _say(name, page.replace(token, "..."), _loads(browser, state if student in page else None,
                                                                      address + page, network, loads))
                browser.close()
        finally:
            server.terminate()
            server.wait()


def _python(environment: dict, *words: str) -> str:
    return subprocess.run(
        [sys.executable, *words], cwd=CHECKOUT, env=environment, capture_output=True, text=True, check=True).stdout


def _served(environment: dict) -> tuple[str, subprocess.Popen]:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = subprocess.Popen(
        [sys.executable, "-m", "gunicorn", "--bind", f"127.0.0.1:{port}", "studio.wsgi"], cwd=CHECKOUT,
        env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    address, until = f"http://127.0.0.1:{port}", time.monotonic() + 120
    while True:
        try:
            urllib.request.urlopen(f"{address}/login/", timeout=5).close()  # noqa: S310
            return address, server
        except (urllib.error.URLError, OSError):
            if time.monotonic() > until:
                raise
            time.sleep(0.2)


def _come_in(browser: Browser, address: str, token: str, birth_on: str) -> dict:
    context = browser.new_context()
    page = context.new_page()
    page.goto(f"{address}/family/card/{token}/")
    page.fill("[name=birth_on]", birth_on)
    page.press("[name=birth_on]", "Enter")
    page.wait_for_url("**/family/*/")
    state = context.storage_state()
    context.close()
    return state


def _loads(browser: Browser, state: dict | None, address: str, network: tuple, loads: int) -> list[tuple]:
    """(first paint in ms, bytes) of each load, in a browser that keeps nothing; the first one warms the server."""
    found = []
    for _n in range(loads + 1):
        context = browser.new_context(storage_state=state, viewport={"width": 390, "height": 844}, is_mobile=True,
                                      has_touch=True, device_scale_factor=3)
        page = context.new_page()
        session = context.new_cdp_session(page)
        latency, down, up = network
        session.send("Network.enable")
        session.send("Network.emulateNetworkConditions", {
            "offline": False, "latency": latency, "downloadThroughput": down, "uploadThroughput": up})
        session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
        page.goto(address, wait_until="load")
        # Asked again and again: the policy forbids a script of the bench's own.
        while not page.evaluate(PAINTED):
            page.wait_for_timeout(50)
        found.append((page.evaluate(PAINTED), page.evaluate(BYTES)))
        context.close()
    return found[1:]


def _say(network: str, page: str, found: list[tuple]) -> None:
    times, weights = zip(*found, strict=True)
    print(f"{network}: {page} first paint, median of {len(times)}: {statistics.median(times):.0f} ms "
          f"({min(times):.0f} to {max(times):.0f}), {statistics.median(weights) / 1000:.1f} kB "
          f"(load of the computer {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores)")


if __name__ == "__main__":
    main()
