"""Takes the pictures of the README again, from the demo studio of 24 March: `python -m tests.browser.pictures`.

With `--every FOLDER` it takes every page instead, at four sizes, light and dark, to be looked at beside the drawings.
"""
import argparse
import io
import os
import shutil
import sys
import tempfile
from pathlib import Path

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.settings")
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
os.environ["RISEBOOK_STATIC_MANIFEST"] = "no"
# A folder of its own, so that tests running beside it keep theirs.
SCRATCH = tempfile.TemporaryDirectory()
os.environ["RISEBOOK_TEST_DB_DIR"] = SCRATCH.name

import django

django.setup()

import time_machine
from django.test import Client
from django.test.utils import setup_test_environment
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, sync_playwright

from tests.browser.studio_on_show import NOW, ROOMS, Show, served_show

FOLDER = Path(__file__).parent / "pictures"
README = {"home": ("today", 1024, 768), "class-sheet": ("class sheet", 1440, 900), "student": ("student", 1440, 1100)}
SIZES = ((1024, 768), (768, 1024), (390, 844), (1440, 900))
# A README is read on slow lines too; the pictures are few colours on paper and fit.
MOST_BYTES = 60_000
FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]


def owners_context(browser: Browser, show: Show, **options) -> BrowserContext:
    """A fresh window in which the owner is logged in."""
    client = Client()
    client.force_login(show.owner, backend="django.contrib.auth.backends.ModelBackend")
    context = browser.new_context(locale="en-GB", **options)
    context.add_cookies([{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": show.address}])
    return context


def small_png(shot: bytes) -> bytes:
    """The picture with as many colours of a palette as fit MOST_BYTES."""
    picture = Image.open(io.BytesIO(shot)).convert("RGB")
    for colours in (64, 32, 16, 8):
        file = io.BytesIO()
        picture.quantize(colours, dither=Image.Dither.NONE).save(file, "PNG", optimize=True)
        if file.tell() < MOST_BYTES:
            return file.getvalue()
    raise ValueError(f"{file.tell()} bytes with 8 colours: the picture shows too much.")


def take_readme_pictures(browser: Browser, show: Show) -> None:
    FOLDER.mkdir(exist_ok=True)
    for name, (room, width, height) in README.items():
        context = owners_context(browser, show, viewport={"width": width, "height": height})
        page = context.new_page()
        page.goto(show.address + ROOMS[room](show), wait_until="networkidle")
        path = FOLDER / f"{name}.png"
        path.write_bytes(small_png(page.screenshot()))
        print(f"{path.relative_to(Path.cwd())}: {path.stat().st_size} bytes")
        context.close()


def take_every_page(browser: Browser, show: Show, folder: Path, only: str) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for scheme in ("light", "dark"):
        for width, height in SIZES:
            touch = width < 1200
            context = owners_context(
                browser, show, viewport={"width": width, "height": height}, color_scheme=scheme, has_touch=touch
            )
            page = context.new_page()
            for name, way in ROOMS.items():
                if only in name:
                    page.goto(show.address + way(show), wait_until="networkidle")
                    page.screenshot(path=folder / f"{name.replace(' ', '-')}-{width}-{scheme}.png", full_page=True)
            context.close()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=Path, metavar="FOLDER", help="every page at four sizes, light and dark")
    parser.add_argument("--only", default="", metavar="WORDS", help="with --every: pages with these words in their name")
    options = parser.parse_args()
    chromium = os.environ.get("CHROMIUM") or shutil.which("chromium")
    if chromium is None:
        sys.exit("No Chromium found: install it, or name it in CHROMIUM.")
    setup_test_environment()
    with served_show() as show, sync_playwright() as playwright, time_machine.travel(NOW, tick=False):
        browser = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
        if options.every:
            take_every_page(browser, show, options.every, options.only)
        else:
            take_readme_pictures(browser, show)
        browser.close()


if __name__ == "__main__":
    main()
