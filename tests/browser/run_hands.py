"""Hands on the page of a group run: a clock that the test moves, and taps that are counted."""
import time
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from playwright.sync_api import Locator, Page, expect

from screening.models import Protocol, Result
from studio.models import Student
from tests import factories
from tests.browser.conftest import drawn, kept
from tests.conftest import Cast

COUNT_IN_MS, RISE_MS = 4000, 2000
# What a tap is about is drawn at once, the rest after the next frame.
FRAME_MS = 20


@dataclass
class Run:
    """The page of a run at sixty beats, with its clock held; every tap is counted."""

    page: Page
    taps: int = 0

    def tap(self, what: Locator) -> None:
        self.taps += 1
        what.tap()
        self.wait(FRAME_MS)

    def tile(self, name: str) -> Locator:
        return self.page.locator(".tile:visible").filter(has=self.page.get_by_text(name, exact=True))

    def tap_name(self, name: str) -> None:
        self.tap(self.tile(name))

    def button(self, words: str) -> Locator:
        return self.page.get_by_role("button", name=words, exact=True)

    def press(self, words: str) -> None:
        self.tap(self.button(words))

    def undo(self) -> None:
        self.tap(self.page.locator("[data-undo]"))

    def wait(self, ms: int) -> None:
        self.page.clock.run_for(ms)

    def rise(self, times: int) -> None:
        self.wait(RISE_MS * times)

    def start(self, words: str = "Start") -> None:
        """Starts and waits through the four, to the middle of the first rise."""
        self.press(words)
        self.wait(COUNT_IN_MS + RISE_MS // 4)

    def says(self, name: str, *words: str) -> None:
        for word in words:
            expect(self.tile(name)).to_contain_text(word)

    def hint(self, words: str) -> None:
        expect(self.page.locator("[data-hint]")).to_have_text(words)

    def all_sent(self) -> None:
        """Waits until the outbox is empty."""
        self._meanwhile(lambda: kept(self.page) == 0)

    def hears(self, name: str, word: str) -> None:
        """Waits until another tablet's news are on her tile."""
        self._meanwhile(lambda: word in self.tile(name).inner_text())

    def _meanwhile(self, is_so: Callable[[], bool], within_seconds: float = 60) -> None:
        """Moves the page's clock on, for it sends and asks by that one: slowly, so that it gives up no request."""
        until = time.monotonic() + within_seconds
        while not is_so():
            assert time.monotonic() < until, "The page's clock went on, and nothing came of it."
            self.wait(250)
            self.page.wait_for_timeout(50)


def open_run(page: Page, address: str) -> Run:
    page.clock.install(time=0)
    page.goto(address)
    page.clock.pause_at(60_000)
    return Run(drawn(page))


def run_address(server: str, cast: Cast, measure: str = "rises", more: str = "") -> str:
    return f"{server}/barre/screenings/{cast.screening.pk}/{measure}/run/{more}"


def enrol_more(cast: Cast, *names: str) -> list[Student]:
    """More children for the cast's class, so that its line goes by name."""
    children = [factories.StudentFactory(name=f"{name} Example", added_by=cast.owner) for name in names]
    for child in children:
        factories.EnrolmentFactory(student=child, class_group=cast.class_group, term=cast.term)
    return children


def set_cap(cast: Cast, measure, cap: int) -> None:
    Protocol.objects.filter(measure=measure).update(cap=Decimal(cap))


def stored(cast: Cast) -> list[tuple]:
    """What counts in the end: name, side, value, at least, fault, first side."""
    rows = Result.objects.in_force().exclude(reason_missing=Result.WITHDRAWN).order_by("pk")
    return [
        (row.student.first_name, row.side, None if row.value is None else float(row.value), row.reached_cap,
         row.fault or row.reason_missing, row.is_first_side)
        for row in rows.select_related("student")
    ]


