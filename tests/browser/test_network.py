"""A real browser on the studio's network: with the authority trusted, a secure context; without, a way to trust."""
import base64
import hashlib
from collections.abc import Callable, Iterator
from urllib.parse import urlsplit

import pytest
import zxingcpp
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from django.urls import reverse
from PIL import Image
from playwright.sync_api import BrowserType, Error, Page, expect

from tests.browser.conftest import let_in
from tests.network.running import Running, migrated, running

ADDRESS = "10.77.0.1"
# The name leads to this computer, and the browser takes it for any other computer's.
LEADS_HERE = f"--host-resolver-rules=MAP {ADDRESS} 127.0.0.1, MAP studio.example 127.0.0.1"


@pytest.fixture(scope="module")
def studio(tmp_path_factory) -> Iterator[Running]:
    folder = tmp_path_factory.mktemp("var")
    (folder / "address").write_text(ADDRESS)
    (folder / "days").write_text("0")
    with running(folder, migrated(tmp_path_factory.mktemp("database"))) as server:
        yield server


@pytest.fixture
def opened(browser_type: BrowserType, browser_type_launch_args: dict) -> Iterator[Callable[..., Page]]:
    """A page of a browser of its own, started with these words more."""
    browsers = []

    def start(*words: str, **context) -> Page:
        arguments = [*browser_type_launch_args["args"], LEADS_HERE, *words]
        browsers.append(browser_type.launch(**{**browser_type_launch_args, "args": arguments}))
        return browsers[-1].new_page(**context)

    yield start
    for each in browsers:
        each.close()


@pytest.fixture
def trusting(opened, studio) -> Page:
    """Chromium trusts the one key that the studio's certificate has; its store of authorities belongs to the person."""
    key = studio.shown(ADDRESS).public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)
    pin = base64.b64encode(hashlib.sha256(key).digest()).decode()
    return opened(f"--ignore-certificate-errors-spki-list={pin}")


def test_a_tablet_that_trusts_the_studio_has_a_secure_context_and_the_policy_is_whole(trusting, studio):
    complaints = []
    trusting.on("console", lambda message: complaints.append(message.text))
    answer = trusting.goto(f"https://{ADDRESS}:{studio.port}/login/")
    assert answer.headers["content-security-policy"].startswith("default-src 'self'; ")
    assert trusting.evaluate("[isSecureContext, 'serviceWorker' in navigator, 'locks' in navigator]") == [True] * 3
    assert complaints == []


def test_a_tablet_that_trusts_the_studio_may_keep_its_pages(trusting, studio):
    """The barre's own worker, which a browser takes only over a connection without a fault."""
    trusting.goto(f"https://{ADDRESS}:{studio.port}/login/")
    scope = trusting.evaluate("""async () => {
        await navigator.serviceWorker.register("/barre/worker.js", { scope: "/" });
        return (await navigator.serviceWorker.getRegistration("/barre/")).scope;
    }""")
    assert scope == f"https://{ADDRESS}:{studio.port}/"


def test_a_tablet_without_trust_is_stopped_by_its_browser(opened, studio):
    with pytest.raises(Error, match="ERR_CERT_AUTHORITY_INVALID"):
        opened().goto(f"https://{ADDRESS}:{studio.port}/login/")


def test_a_camera_reads_the_way_to_trust_from_the_screen_in_the_light_and_the_dark(opened, studio, tmp_path):
    for scheme in ("light", "dark"):
        page = opened(color_scheme=scheme, viewport={"width": 768, "height": 1024})
        page.goto(f"http://{ADDRESS}:{studio.port + 1}/")
        assert urlsplit(page.url).path == "/trust/"
        page.locator(".trust-code").screenshot(path=tmp_path / f"{scheme}.png")
        [seen] = zxingcpp.read_barcodes(Image.open(tmp_path / f"{scheme}.png"))
        assert seen.text == f"http://{ADDRESS}:{studio.port + 1}/"


def test_from_the_plain_page_one_tap_fetches_the_certificate(opened, studio):
    page = opened()
    page.goto(f"http://{ADDRESS}:{studio.port + 1}/trust/")
    with page.expect_download() as fetched:
        page.get_by_role("link", name="Download the certificate").click()
    assert fetched.value.suggested_filename == "risebook.crt"
    assert fetched.value.path().read_bytes() == studio.authority.public_bytes(Encoding.DER)


@pytest.mark.parametrize("host, is_said", [("studio.example", True), ("localhost", False)])
def test_over_plain_http_the_barre_says_what_it_cannot_do(opened, show, settings, host, is_said):
    settings.ALLOWED_HOSTS = ["studio.example", "localhost"]
    page = opened()
    address = f"http://{host}:{urlsplit(show.address).port}"
    let_in(page.context, show.owner, address)
    page.goto(address + reverse("progress:screening", args=[show.screening.pk]))
    assert page.evaluate("isSecureContext") is not is_said
    line = page.get_by_text("Over this connection a page cannot be opened again")
    expect(line).to_be_visible(visible=is_said)
