"""The plain door and the page behind it: what a tablet that trusts nobody yet is shown, and nothing else."""
import hashlib
import re

import numpy as np
import pytest
import zxingcpp
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from django.test import Client
from django.urls import reverse

from studio.network.addresses import Network
from tests.doors import DOORS, address, furnish

BACKEND = "django.contrib.auth.backends.ModelBackend"
OPEN_HERE = {"/trust/", "/trust/risebook.crt"}


@pytest.fixture
def network(settings, tmp_path):
    """The studio serves its own network, at one address of it."""
    settings.NETWORK = Network(8443, tmp_path, "192.168.1.20")
    settings.SESSION_COOKIE_SECURE = settings.CSRF_COOKIE_SECURE = True
    settings.ALLOWED_HOSTS = ["192.168.1.20", "[fd00::2]"]
    return settings.NETWORK


@pytest.fixture
def at_the_door(network):
    return Client(headers={"host": "192.168.1.20:8444"})


@pytest.fixture
def shown(at_the_door, db):
    return at_the_door.get("/trust/").content.decode()


# --- the door ------------------------------------------------------------------------------------


def test_plain_http_opens_no_door_of_the_house_to_anybody(cast, network):
    """Every route and method, for the owner with a session that a careless browser sent along."""
    keys, client = furnish(cast), Client(headers={"host": "192.168.1.20:8444"})
    client.force_login(cast.owner, backend=BACKEND)
    client.cookies["sessionid"]["secure"] = ""
    opened, asked = [], {(method, address(route, keys)) for method, route, _person in DOORS}
    for method, path in sorted(asked):
        answer = client.generic(method, path)
        sent_on = "/trust/" if path == "/" else f"https://192.168.1.20:8443{path}"
        if (answer.status_code, answer.headers.get("Location"), answer.content) != (302, sent_on, b""):
            opened.append((method, path, answer.status_code))
    wanted = {(method, path, 200 if method in ("GET", "HEAD") else 405) for path in OPEN_HERE for method in
              ("GET", "HEAD", "POST", "DELETE")}
    assert set(opened) == wanted


@pytest.mark.parametrize("asked, sent_on", [
    ("/login/?next=/classes/", "https://192.168.1.20:8443/login/?next=/classes/"),
    ("/nothing/", "https://192.168.1.20:8443/nothing/"), ("/trust/../login/", "https://192.168.1.20:8443/trust/../login/"),
    ("/trust", "https://192.168.1.20:8443/trust"),
    ("/static/js/page.js", "https://192.168.1.20:8443/static/js/page.js"), ("/", "/trust/"),
])
def test_whatever_else_is_asked_is_sent_on_to_https(at_the_door, asked, sent_on):
    answer = at_the_door.get(asked)
    assert (answer.status_code, answer.headers["Location"]) == (302, sent_on)


def test_it_is_sent_on_by_the_name_it_was_asked_by(network):
    answer = Client(headers={"host": "[fd00::2]:8444"}).get("/login/")
    assert answer.headers["Location"] == "https://[fd00::2]:8443/login/"


def test_a_strange_host_is_sent_nowhere(network):
    answer = Client(headers={"host": "evil.example"}).get("/login/")
    assert (answer.status_code, answer.headers.get("Location")) == (400, None)


def test_a_header_cannot_pass_plain_http_for_https(at_the_door, db):
    for name in ("X-Forwarded-Proto", "X-Forwarded-Ssl", "X-Forwarded-Protocol"):
        assert at_the_door.get("/login/", headers={name: "https"}).status_code == 302


def test_over_https_the_house_is_open_as_ever(at_the_door, cast):
    assert at_the_door.get("/login/", secure=True).status_code == 200
    assert at_the_door.get("/trust/", secure=True).status_code == 200
    at_the_door.force_login(cast.owner, backend=BACKEND)
    answer = at_the_door.get("/office/", secure=True)
    assert answer.status_code == 200
    assert "Strict-Transport-Security" not in answer.headers


def test_without_a_network_of_its_own_there_is_no_door(client, db):
    assert [client.get(path).status_code for path in sorted(OPEN_HERE)] == [404, 404]
    assert client.get("/login/").status_code == 200


# --- the page ------------------------------------------------------------------------------------


def test_the_page_leaves_nothing_behind_and_runs_nothing(at_the_door, db):
    answer = at_the_door.get("/trust/")
    assert answer.status_code == 200
    assert answer.cookies == {}
    assert not re.search(r"<script|<form|\son\w+=|\sstyle=", answer.content.decode())
    assert answer.headers["Content-Security-Policy"].startswith("default-src 'self'")


def test_everything_the_page_is_drawn_with_comes_through_the_plain_door(at_the_door, shown):
    drawn_with = re.findall(r'<link[^>]*href="([^"]+)"', shown)
    assert len(drawn_with) >= 4
    for path in drawn_with:
        answer = at_the_door.get(path)
        answer.close()
        assert (path, answer.status_code) == (path, 200)


def test_the_page_shows_the_fingerprint_of_the_file_that_it_hands_out(at_the_door, shown):
    """A certificate's fingerprint is the digest of its DER (hashlib here)."""
    file = at_the_door.get("/trust/risebook.crt").content
    prints = "".join(re.findall(r"<span>([0-9A-F:]+)</span>", shown)).replace(":", "").lower()
    assert prints == hashlib.sha256(file).hexdigest() + hashlib.sha1(file, usedforsecurity=False).hexdigest()


def test_the_file_is_the_authority_alone_in_the_type_that_tablets_install(at_the_door, network, db):
    answer = at_the_door.get("/trust/risebook.crt")
    assert answer.headers["Content-Type"] == "application/x-x509-ca-cert"
    assert answer.headers["Content-Disposition"] == 'attachment; filename="risebook.crt"'
    certificate = x509.load_der_x509_certificate(answer.content)
    assert certificate.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    assert certificate.public_bytes(Encoding.PEM) in (network.folder / "authority.pem").read_bytes()
    assert b"PRIVATE" not in answer.content


def test_the_pages_lead_to_https(shown):
    assert 'href="https://192.168.1.20:8443/"' in shown


def picture(page: str) -> np.ndarray:
    """The code of the page as a camera would see it, eight pixels to a module."""
    size = int(re.search(r'viewBox="0 0 (\d+) \1"[^>]*role="img"', page)[1])
    path = re.search(r'<path d="([^"]+)" fill="#000"', page)[1]
    shades = np.full((size, size), 255, dtype=np.uint8)
    squares = re.findall(r"M(\d+) (\d+)h1v1h-1z", path)
    assert "".join(f"M{x} {y}h1v1h-1z" for x, y in squares) == path
    for x, y in squares:
        shades[int(y), int(x)] = 0
    return shades.repeat(8, axis=0).repeat(8, axis=1)


def test_a_camera_reads_the_address_of_the_door(shown):
    """Read by zxing-cpp, which shares nothing with the library that drew it."""
    [seen] = zxingcpp.read_barcodes(picture(shown))
    assert (seen.text, seen.format) == ("http://192.168.1.20:8444/", zxingcpp.BarcodeFormat.QRCode)


# --- the owner's page ----------------------------------------------------------------------------


def office_page(client) -> str:
    return client.get(reverse("studio:network"), secure=True).content.decode()


def test_the_owner_finds_the_same_steps_in_her_office(cast, network, shown):
    client = Client(headers={"host": "192.168.1.20:8443"})
    client.force_login(cast.owner, backend=BACKEND)
    [steps] = re.findall(r'<div class="trust">.*</figure>\n</div>', shown, re.DOTALL)
    assert steps in office_page(client)
    assert reverse("studio:network") in client.get("/office/", secure=True).content.decode()


def test_on_this_computer_alone_she_is_told_how_to_start_it(as_owner):
    assert "./risebook run --network" in office_page(as_owner)


def test_behind_a_web_server_she_is_told_that_tablets_need_nothing(as_owner, settings):
    settings.BEHIND_TLS = True
    assert "speaks HTTPS for it" in office_page(as_owner)
    assert "--network" not in office_page(as_owner)
