"""The note for a clinician is one page, on A4 and on Letter, for whoever has much to tell."""
import io
import uuid

import pikepdf
import pytest
from playwright.sync_api import Page, expect

from progress.actions.follow_ups import add_note
from progress.actions.pain import report_pain
from progress.models import FollowUp
from screening.models import Measure
from tests.browser.conftest import drawn
from tests.conftest import TODAY, Cast
from tests.factories import ResultFactory, ScreeningFactory
from tests.family.conftest import agree

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def much_to_tell(cast: Cast) -> Cast:
    """Seven reports with long words, seven notes, and three measures with results."""
    agree(cast, cast.ama)
    for place in ("L-achilles", "R-heel", "L-toes", "R-calf", "L-top", "R-ball", "L-ankle-inner"):
        report_pain(
            key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=cast.screening,
            measure=cast.rises, places=[place, "back"], feels=["limps"], intensity=10, stopped="class", since="longer",
            note="since the day of the village fair, when she ran all afternoon in thin shoes", reported_on=TODAY,
            by=cast.teacher,
        )
    follow_up = FollowUp.objects.get()
    for number in range(7):
        text = f"{number}. Her mother was told at the door and will ring the surgery on Monday morning."
        add_note(follow_up=follow_up, text=text, by=cast.teacher)
    for week in range(6):
        day = ScreeningFactory(
            class_group=cast.class_group, term=cast.term, battery=cast.battery, opened_by=cast.teacher,
            held_on=TODAY.replace(month=2, day=1 + 4 * week),
        )
        for measure in Measure.objects.filter(key__in=["rises", "passe-balance", "landing-control"]):
            ResultFactory(
                screening=day, student=cast.ama, measure=measure, protocol=measure.protocols.get(), value=week % 3,
                by=cast.teacher,
            )
    return cast


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_note_is_one_page(page: Page, much_to_tell: Cast, server: str, enter, paper: str):
    enter(much_to_tell.owner, server)
    page.goto(f"{server}/students/{much_to_tell.ama.pk}/referral-note/")
    expect(page.get_by_text("From the clinician, please")).to_be_visible()
    printed = pikepdf.open(io.BytesIO(drawn(page).pdf(format=paper)))
    assert len(printed.pages) == 1


def test_where_it_hurts_is_painted_on_the_feet(page: Page, much_to_tell: Cast, server: str, enter):
    enter(much_to_tell.owner, server)
    page.goto(f"{server}/students/{much_to_tell.ama.pk}/referral-note/")
    painted = page.locator(".feet-shown .foot-region-L-achilles").evaluate("each => getComputedStyle(each).fillOpacity")
    plain = page.locator(".feet-shown .foot-region-R-achilles").evaluate("each => getComputedStyle(each).fillOpacity")
    assert (painted, plain) == ("1", "0")
