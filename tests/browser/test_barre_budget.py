"""What the barre's pages may weigh, and that nothing on them jumps while one taps."""
import gzip
import uuid

import pytest
from playwright.sync_api import Page, expect

from progress.actions.pain import report_pain
from tests.browser.conftest import a_moment_later, all_sent, moved, watch_moves
from tests.conftest import Cast
from tests.test_architecture import CHECKOUT

pytestmark = pytest.mark.django_db(transaction=True)

# The promise for the script of one page at the barre, compressed.
LARGEST_BYTES = 40_000


HERE = "/barre/screenings/{screening}/"
ROOMS = (
    "/barre/", HERE, *(HERE + sheet for sheet in ("rises/", "rises/run/", "passe-balance/", "landing-control/")),
    HERE + "hurts/{child}/", "/barre/pain/{report}/", "/barre/classes/{group}/log/",
)


@pytest.mark.parametrize("room", ROOMS)
def test_the_script_of_a_page_at_the_barre_is_under_forty_kilobytes_without_a_framework(
    page: Page, cast: Cast, enter, server: str, room: str
):
    report = report_pain(
        key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=cast.screening, measure=None,
        places=["L-heel"], feels=["dull"], intensity=2, stopped="", note="", reported_on=cast.screening.held_on,
        by=cast.teacher,
    )
    enter(cast.teacher, server)
    keys = {"screening": cast.screening, "child": cast.ama, "report": report, "group": cast.class_group}
    page.goto(server + room.format(**{name: row.pk for name, row in keys.items()}))
    sources = page.evaluate("[...document.scripts].filter(each => each.src).map(each => new URL(each.src).pathname)")
    assert sources and not [source for source in sources if "/vendor/" in source]
    assert sum(len(gzip.compress((CHECKOUT / source.lstrip("/")).read_bytes())) for source in sources) < LARGEST_BYTES


@pytest.mark.parametrize("size", [(1024, 768), (768, 1024)])
def test_nothing_jumps_while_one_taps_corrects_and_loses_the_network(
    page: Page, cast: Cast, enter, server: str, size
):
    landing = page
    landing.set_viewport_size(dict(zip(("width", "height"), size, strict=True)))
    enter(cast.teacher, server)
    landing.goto(f"{server}/barre/screenings/{cast.screening.pk}/landing-control/")
    # The words of the outbox line are as long as they are, in a place that is kept for them; nothing else may move.
    watch_moves(landing, apart=".outbox-line")
    landing.get_by_role("button", name="Ama, left: clean").tap()
    landing.context.set_offline(True)
    landing.get_by_role("button", name="Ama, right: lost").tap()
    expect(landing.get_by_text("waiting to be sent.")).to_be_visible()
    # A second tap right after is taken for a double tap and reopens nothing.
    a_moment_later(landing)
    landing.locator(f"#cell-{cast.ama.pk}-L").get_by_role("link").tap()
    landing.get_by_role("heading", level=1).tap()
    landing.get_by_role("button", name="Undo").tap()
    landing.context.set_offline(False)
    all_sent(landing)
    expect(landing.get_by_text("All sent.")).to_be_visible()
    assert moved(landing) == []
