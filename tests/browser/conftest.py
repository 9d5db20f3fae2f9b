"""A browser before the running studio: how it is started, what the database holds, who is logged in."""
import os
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from urllib.parse import urlsplit

# The browser's own loop runs in the thread of the test, where Django would refuse to read the database.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "true")

import pytest
import time_machine as machine
from django.core.handlers.base import BaseHandler
from django.core.signals import request_finished, request_started
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.test import Client
from playwright.sync_api import BrowserContext, Error, Page, expect

from studio.models import User
from studio.network.addresses import Network
from tests.browser.modules import KEPT, PENDING
from tests.browser.studio_on_show import NOW, PLAIN_FILES, ROOMS, Show, served_show

SIZES = {"landscape": {"width": 1024, "height": 768}, "portrait": {"width": 768, "height": 1024}}
# Marks what is told on a tablet held either way; every other test holds it in landscape.
either_way = pytest.mark.parametrize("held", SIZES.values(), ids=SIZES, indirect=True)
# Long enough for a slow computer on which much else is going on; what is there sooner is not waited for.
PATIENCE_MS = 20_000
expect.set_options(timeout=PATIENCE_MS)
FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict:
    found = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("google-chrome")
    assert found, "No Chromium found: install it, or name it in CHROMIUM."
    # Pages are kept for the Back button as at a real tablet; the test tool would switch that off.
    kept = ["--disable-back-forward-cache"]
    return {"executable_path": found, "args": list(FLAGS), "ignore_default_args": kept}


@pytest.fixture
def held(request) -> dict:
    """The width and height of a tablet as it is held."""
    return getattr(request, "param", SIZES["landscape"])


@pytest.fixture
def browser_context_args(browser_context_args: dict, held: dict) -> dict:
    return {**browser_context_args, "viewport": held, "has_touch": True, "locale": "en-GB"}


@pytest.fixture(autouse=True)
def plain_files(settings) -> None:
    settings.STORAGES = PLAIN_FILES


@pytest.fixture(autouse=True)
def everything_answered() -> Iterator[None]:
    """Waits, between the end of the pages and the emptying of the database, for what the server has not answered yet.

    A page's last post or question for news would else write into the next test's database, or stand in the way of its
    emptying.
    """
    begun: set[threading.Thread] = set()

    def begin(**_about) -> None:
        begun.add(threading.current_thread())

    def end(**_about) -> None:
        begun.discard(threading.current_thread())

    request_started.connect(begin)
    request_finished.connect(end)
    yield
    until = time.monotonic() + PATIENCE_MS / 1000
    while begun - {threading.main_thread()}:
        assert time.monotonic() < until, "the server still works on a request"
        time.sleep(0.01)
    request_started.disconnect(begin)
    request_finished.disconnect(end)


@pytest.fixture
def in_pieces(monkeypatch) -> Callable[..., None]:
    """Lets the server send its pages, or those whose address holds `of`, as `pieces` cuts their bytes."""
    whole = BaseHandler.get_response

    def cut(pieces: Callable[[bytes], Iterator[bytes]], of: str = "") -> None:
        def answer(handler: BaseHandler, request: HttpRequest) -> HttpResponse:
            response = whole(handler, request)
            is_page = not response.streaming and response.headers.get("Content-Type", "").startswith("text/html")
            if not is_page or of not in request.path:
                return response
            headers = {name: words for name, words in response.headers.items() if name != "Content-Length"}
            sent = StreamingHttpResponse(pieces(response.content), status=response.status_code, headers=headers)
            sent.cookies = response.cookies
            return sent

        monkeypatch.setattr(BaseHandler, "get_response", answer)

    return cut


@pytest.fixture
def server(live_server, on_the_day) -> str:
    """The address of the server on a database of this test's own."""
    return live_server.url


def let_in(context: BrowserContext, user: User, address: str) -> None:
    """Opens the door for a person, as her login would; the entrance has a test of its own."""
    with machine.travel(NOW, tick=False):
        client = Client()
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    context.add_cookies([{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": address}])


def kept(page: Page) -> int:
    """How many entries of its person the page's tablet holds; -1 while the page's own script is not there yet."""
    try:
        return page.evaluate(KEPT)
    except Error as problem:
        # The page made way for the next one while it was asked.
        if "context was destroyed" not in str(problem):
            raise
        return -1


def all_sent(page: Page, within_seconds: float = 60) -> None:
    """Waits until nothing that was tapped on this page is left on its tablet."""
    until = time.monotonic() + within_seconds
    while kept(page):
        assert time.monotonic() < until, page.evaluate(PENDING)
        page.wait_for_timeout(50)


def a_moment_later(page: Page) -> None:
    """As if every word had stood in its cell for longer than the second tap of a double tap takes."""
    page.evaluate("document.querySelectorAll('[data-written-at]').forEach(cell => { cell.dataset.writtenAt -= 1000; })")


def drawn(page: Page) -> Page:
    """Waits until a finger may come: scripts have run, what the tablet keeps is laid over, the letters are there."""
    page.wait_for_load_state("load")
    # The barre's pages say so themselves; elsewhere a part that a page fetches after its first paint takes its place.
    expect(page.locator(":is(#run, #sheet, #class-log):not(.is-drawn), [hx-trigger=load]")).to_have_count(0)
    page.evaluate("document.fonts.ready.then(() => true)")
    return page


def painted(page: Page) -> None:
    """Waits until what was changed so far has been on the screen; an animation goes on where a test holds the clock."""
    frame = "document.body.animate({}, 1).finished"
    page.evaluate(f"{frame}.then(() => {frame}).then(() => true)")


# What moved by itself on a page that is told to `watch_moves`: all of it that was painted. `apart` may grow and shrink.
MOVES = """apart => {
  const moved = [], elementOf = node => node && (node.nodeType === 1 ? node : node.parentElement);
  const note = entries => entries.forEach(entry => entry.sources.map(source => elementOf(source.node))
    .filter(each => each && !each.closest(apart)).forEach(each => moved.push(each.outerHTML.slice(0, 80))));
  const watch = new PerformanceObserver(list => note(list.getEntries()));
  watch.observe({ type: 'layout-shift' });
  window.movedSoFar = () => { note(watch.takeRecords()); return moved; };
}"""


def watch_moves(page: Page, apart: str) -> None:
    """From here on, with the page drawn and painted, the page notes what jumps."""
    assert "layout-shift" in page.evaluate("PerformanceObserver.supportedEntryTypes")
    painted(drawn(page))
    page.evaluate(MOVES, apart)


def moved(page: Page) -> list[str]:
    painted(page)
    return page.evaluate("movedSoFar()")


def let_family_in(context: BrowserContext, show: Show) -> None:
    """The device of a family that has opened its link; opening it has a test of its own."""
    context.add_cookies([{"name": "family", "value": show.family_cookie, "url": f"{show.address}/family/"}])


@pytest.fixture
def enter(context: BrowserContext) -> Callable[[User, str], None]:
    return lambda user, address: let_in(context, user, address)


@pytest.fixture(scope="session")
def _show(django_test_environment, django_db_modify_db_settings, django_db_blocker) -> Iterator[Show]:
    """The demo studio, built once for every test that only looks; these run after all that write."""
    with django_db_blocker.unblock(), served_show() as on_show:
        yield on_show


@pytest.fixture
def show(_show: Show, on_the_day, settings, tmp_path) -> Show:
    """The demo studio to look at, never to change, at five in the afternoon of its day, on a network of its own."""
    settings.NETWORK = Network(8443, tmp_path, "192.168.1.20")
    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, urlsplit(_show.address).hostname]
    return _show


@pytest.fixture
def visit(page: Page, show: Show, enter) -> Callable[[str], Page]:
    """Opens a room of the studio on show as its owner, drawn and ready for a hand."""
    enter(show.owner, show.address)

    def go(room: str) -> Page:
        page.goto(show.address + ROOMS[room](show))
        return drawn(page)

    return go
