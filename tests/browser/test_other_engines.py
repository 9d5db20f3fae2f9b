"""The barre on WebKit and on Firefox: a class is measured, logged and hurts without network, and all of it arrives."""
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
import time_machine as machine
from django.test import Client

from progress.actions.classwork.programme import plan_exercise
from progress.models import Exercise, FollowUp, LogEntry, PainReport
from progress.rules.dose import Dose
from screening.models import Result
from studio.models import ClassMeeting
from tests.browser.other_engines import Browser, Firefox, WebKit, until
from tests.browser.studio_on_show import NOW
from tests.browser.wire import Wire
from tests.conftest import Cast

pytestmark = pytest.mark.django_db(transaction=True)

DRAWN = "return !!document.querySelector(':is(#run, #sheet, #class-log).is-drawn')"
WORDS = "return document.body ? document.body.innerText : ''"

COUNT = "return document.querySelector('#run .count').textContent.replace(',', '.') || 0"


@pytest.fixture
def wire(server: str) -> Iterator[Wire]:
    wire = Wire(urlsplit(server).port)
    yield wire
    wire.cut()


@pytest.fixture(params=[Firefox, WebKit], ids=lambda make: make.name)
def tablet(request, cast: Cast, wire: Wire) -> Iterator[Browser]:
    """A tablet with the teacher in and her class's pages on it."""
    plan_exercise(
        class_group=cast.class_group, term=cast.term, exercise=Exercise.objects.get(key="rises-one-foot"),
        dose=Dose(2, 8), added_on=cast.screening.held_on, by=cast.teacher,
    )
    ClassMeeting.objects.create(class_group=cast.class_group, weekday=1, starts_at="16:30")
    with machine.travel(NOW, tick=False):
        client = Client()
        client.force_login(cast.teacher, backend="django.contrib.auth.backends.ModelBackend")
    tablet = request.param()
    try:
        tablet.open(f"http://localhost:{wire.port}/login/")
        tablet.tell("AddCookie", cookie={
            "name": "sessionid", "value": client.cookies["sessionid"].value, "path": "/", "httpOnly": True,
        })
        yield tablet
    finally:
        tablet.close()


def go(tablet: Browser, wire: Wire, path: str) -> None:
    tablet.open(f"http://localhost:{wire.port}{path}")


def drawn(tablet: Browser) -> None:
    until(lambda: tablet.script(DRAWN), "the page is not drawn")


def kept(tablet: Browser, number: int) -> None:
    until(lambda: f"{number} waiting to be sent." in tablet.script(WORDS), f"not {number} on the tablet")


def named(tag: str, words: str) -> str:
    return f'//{tag}[normalize-space()="{words}" or @aria-label="{words}"]'


def test_a_class_without_network_is_measured_logged_and_told_of_pain_and_all_of_it_arrives(
    tablet: Browser, wire: Wire, cast: Cast
):
    screening = f"/barre/screenings/{cast.screening.pk}"
    go(tablet, wire, "/barre/")
    tablet.find('//*[contains(., "These classes open without network on this tablet.")]')
    wire.cut()

    go(tablet, wire, f"{screening}/rises/")
    drawn(tablet)
    box = named("input", "Ama, left")
    tablet.type(box, "14\ue007")
    kept(tablet, 1)
    assert not Result.objects.exists()

    go(tablet, wire, f"{screening}/passe-balance/run/")
    drawn(tablet)
    tablet.click(named("button", "Start"))
    # A tap before the first rise is none.
    until(lambda: float(tablet.script(COUNT)) > 2, "the clock does not run")
    tablet.click(f'//*[@data-child="{cast.ama.pk}"]')
    kept(tablet, 2)

    go(tablet, wire, f"/barre/classes/{cast.class_group.pk}/log/")
    drawn(tablet)
    tablet.click('//*[@data-row="rises-one-foot"]//button')
    kept(tablet, 3)

    go(tablet, wire, f"{screening}/hurts/{cast.bettina.pk}/?measure=rises")
    tablet.click('//label[input[@id="foot-L-achilles"]]')
    tablet.click('//label[contains(., "sharp, pin-point")]')
    tablet.click(named("button", "Next step"))
    tablet.find('//h1[contains(., "Stop for today.")] | //h2[contains(., "Stop for today.")]')
    kept(tablet, 4)
    assert not (PainReport.objects.exists() or LogEntry.objects.exists())

    wire.join()
    tablet.script("window.dispatchEvent(new Event('online'))")
    # The report went last; what the studio says of it takes the place of what the tablet said.
    until(lambda: "/barre/pain/" in (tablet.script("return location.pathname") or ""), "the report was not sent")
    go(tablet, wire, f"{screening}/rises/")
    drawn(tablet)
    until(lambda: "14" in tablet.script(f"return document.querySelector('#cell-{cast.ama.pk}-L').innerText"),
          "what was sent is not on the sheet")
    assert {(r.student.first_name, r.measure.key) for r in Result.objects.filter(value__isnull=False)} == {
        ("Ama", "rises"), ("Ama", "passe-balance")}
    assert LogEntry.objects.filter(exercise__key="rises-one-foot").count() == 2
    report = PainReport.objects.get()
    assert (report.student, report.places, report.feels) == (cast.bettina, ["L-achilles"], ["sharp"])
    assert FollowUp.objects.get(kind=FollowUp.STOP_SIGN).student == cast.bettina
