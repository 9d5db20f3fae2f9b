"""Takes the pictures of the README again from the demo studio: `python -m tests.browser.pictures`.

With `--every FOLDER` it takes every page instead, at four sizes, light and dark. Knows no test.
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

import django  # noqa: E402

django.setup()

import time_machine  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import setup_test_environment  # noqa: E402
from PIL import Image  # noqa: E402
from playwright.sync_api import Browser, BrowserContext, sync_playwright  # noqa: E402

from tests.browser.conftest import let_family_in  # noqa: E402
from tests.browser.studio_on_show import NOW, ROOMS, Show, served_show  # noqa: E402

FOLDER = Path(__file__).parent / "pictures"
README = {
    "home": ("today", 1024, 768),
    "class-sheet": ("class sheet", 1024, 768),
    "student": ("student", 1440, 1000),
}
SIZES = ((1024, 768), (768, 1024), (390, 844), (1440, 900))
# A README is read on slow lines too; these are few colours on paper and fit.
MOST_BYTES = 60_000
FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]


def owners_context(browser: Browser, show: Show, **options) -> BrowserContext:
    """A fresh window in which the owner is logged in."""
    client = Client()
    client.force_login(show.owner, backend="django.contrib.auth.backends.ModelBackend")
    context = browser.new_context(locale="en-GB", **options)
    session = client.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": session, "url": show.address}])
    return context


def small_png(shot: bytes) -> bytes:
    """The picture in the colours of the house and the steps of their soft edges: few, and true."""
    inks = [(34, 37, 43), (90, 96, 107), (31, 78, 95), (154, 59, 30)]
    papers = [(251, 249, 244), (255, 255, 255), (233, 228, 216)]
    still = [(185, 176, 155), (138, 132, 117), (218, 213, 201), (244, 240, 230), (246, 227, 219)]
    steps = [
        tuple(round(p + (i - p) * part / 3) for p, i in zip(paper, ink, strict=True))
        for paper in papers for ink in inks for part in range(4)
    ]
    palette = Image.new("P", (1, 1))
    palette.putpalette([part for colour in [*papers, *still, *steps] for part in colour])
    picture = Image.open(io.BytesIO(shot)).convert("RGB").quantize(palette=palette, dither=Image.Dither.NONE)
    file = io.BytesIO()
    picture.save(file, "PNG", optimize=True)
    if file.tell() >= MOST_BYTES:
        raise ValueError(f"{file.tell()} bytes: the picture shows too much.")
    return file.getvalue()


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
            context = owners_context(
                browser, show, viewport={"width": width, "height": height}, color_scheme=scheme,
                has_touch=width < 1200,
            )
            let_family_in(context, show)
            page = context.new_page()
            for name, way in ROOMS.items():
                if only in name:
                    page.goto(show.address + way(show), wait_until="networkidle")
                    path = folder / f"{name.replace(' ', '-')}-{width}-{scheme}.png"
                    page.screenshot(path=path, full_page=True)
            context.close()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=Path, metavar="FOLDER", help="every page, four sizes, light and dark")
    parser.add_argument("--only", default="", metavar="WORDS", help="only pages with WORDS in the name")
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
