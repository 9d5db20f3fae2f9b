"""The server on the studio's network as tablets meet it: trusted, moved, renewed, and not held up by the silent."""
import hashlib
import itertools
import re
import socket
import ssl

import pytest
from cryptography.hazmat.primitives.serialization import Encoding

from studio.network.addresses import BEYOND_THE_ROUTER, source_address
from tests.network.running import Running, day_of, migrated, running

pytestmark = pytest.mark.thorough
FIRST, SECOND = "10.77.0.1", "10.77.0.2"
# More than two workers of four threads.
MANY = 12


@pytest.fixture(scope="module")
def studio(tmp_path_factory) -> Running:
    """Started 380 days ago at its first address."""
    folder = tmp_path_factory.mktemp("var")
    (folder / "address").write_text(FIRST)
    (folder / "days").write_text("-380")
    with running(folder, migrated(tmp_path_factory.mktemp("database"))) as server:
        yield server


def status(answer: str) -> str:
    return answer.split(" ", 2)[1]


@pytest.fixture(autouse=True)
def at_its_first_address(studio):
    studio.moves_to(FIRST)


def test_a_certificate_near_its_end_is_renewed_while_the_server_runs(studio):
    """The first test: it alone meets the server in the days of its start."""
    first = studio.shown(FIRST)
    assert day_of(first.not_valid_after_utc) == 397 - 381
    studio.is_days_from_today(0)
    renewed = {studio.shown(FIRST).serial_number: day_of(studio.shown(FIRST).not_valid_after_utc) for _n in range(8)}
    assert first.serial_number not in renewed
    assert set(renewed.values()) == {396}


def test_when_the_address_changes_the_next_connection_is_shown_the_new_one(studio):
    assert status(studio.ask("/login/", FIRST)) == "200"
    studio.moves_to(SECOND)
    for _n in range(8):
        assert status(studio.ask("/login/", SECOND)) == "200"
    with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
        studio.shown(FIRST)
    assert f"This computer's address has changed: Risebook is at https://{SECOND}:{studio.port}/" in studio.said()


def test_after_a_move_the_old_address_is_no_host_any_more(studio):
    studio.moves_to(SECOND)
    with studio.connection(SECOND) as tls:
        tls.sendall(f"GET /login/ HTTP/1.1\r\nHost: {FIRST}\r\nConnection: close\r\n\r\n".encode())
        assert b" 400 " in tls.recv(4096).split(b"\r\n")[0]


def test_a_tablet_without_trust_gets_no_further_than_the_warning(studio):
    with socket.create_connection(("127.0.0.1", studio.port)) as plain, \
            pytest.raises(ssl.SSLCertVerificationError, match="unable to get local issuer"):
        ssl.create_default_context().wrap_socket(plain, server_hostname=FIRST)


def test_the_start_says_where_it_is_and_what_to_compare(studio):
    said = studio.said()
    assert f"Risebook is ready at https://{FIRST}:{studio.port}/ (Ctrl-C stops it)" in said
    assert f"A tablet learns to trust it at http://{FIRST}:{studio.port + 1}/" in said
    [shown] = re.findall(r"SHA-256\): ([0-9A-F:]{95})\n", said)
    assert shown.replace(":", "").lower() == hashlib.sha256(studio.authority.public_bytes(Encoding.DER)).hexdigest()


def test_the_second_port_speaks_plain_http_and_teaches_trust_only(studio):
    assert status(studio.ask("/trust/", FIRST, tls=False)) == "200"
    # The server's own computer is the peer whose word a server behind another one would take.
    own = ["127.0.0.1", *(["::1"] if source_address(socket.AF_INET6, "::1") else [])]
    for path, to in itertools.product(("/login/", "//evil.example/login/", "/static/js/page.js"), own):
        answer = studio.ask(path, FIRST, tls=False, headers="X-Forwarded-Proto: https\r\n", to=to)
        assert status(answer) == "302"
        assert f"\r\nLocation: https://{FIRST}:{studio.port}{path}\r\n" in answer


def test_plain_http_on_the_port_for_https_is_no_conversation(studio):
    with socket.create_connection(("127.0.0.1", studio.port), timeout=30) as talk:
        talk.sendall(b"GET /login/ HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        assert b"200" not in talk.recv(4096)


def test_cookies_are_for_https_only(studio):
    [cookie] = re.findall(r"\r\nSet-Cookie: (__Host-csrftoken=.*)\r\n", studio.ask("/login/", FIRST))
    assert "; Secure" in cookie


def is_open(connection: ssl.SSLSocket) -> bool:
    connection.setblocking(False)
    try:
        return connection.recv(1) != b""
    except ssl.SSLWantReadError:
        return True


def test_connections_that_browsers_open_ahead_hold_nobody_up(studio):
    """gunicorn's own threads would each wait for the first word of such a connection, and then let it go."""
    silent = [studio.connection(FIRST) for _n in range(MANY)]
    answers = {status(studio.ask("/login/", FIRST)) for _n in range(4)}
    still_open = [is_open(each) for each in silent]
    for each in silent:
        each.close()
    assert answers == {"200"}
    assert all(still_open)


def test_tablets_that_fall_silent_in_mid_word_are_let_go(studio):
    """Each holds a thread until its patience ends; without that, these would hold them all for ever."""
    silent = [studio.connection(FIRST) for _n in range(MANY)]
    for each in silent:
        each.sendall(b"GET /login/ HTTP/1.1\r\nHost: ")
    half = [socket.create_connection(("127.0.0.1", studio.port)) for _n in range(MANY)]
    for each in half:
        each.sendall(b"\x16\x03\x01\x02")
    answers = {status(studio.ask("/login/", FIRST)) for _n in range(4)}
    for each in silent + half:
        each.close()
    assert answers == {"200"}


def test_whoever_comes_by_another_address_of_the_computer_is_turned_away(studio):
    """Another network this computer is in; to the server the address is as strange as a public one."""
    own = [source_address(*each) for each in BEYOND_THE_ROUTER]
    found = [str(address) for address in own if address and not address.is_loopback]
    if not found:
        pytest.skip("this computer has no address but its own loopback")
    for address in found:
        with pytest.raises(OSError):
            studio.connection(FIRST, to=address).close()
        with socket.create_connection((address, studio.port + 1), timeout=30) as talk:
            talk.sendall(b"GET /trust/ HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
            try:
                assert talk.recv(10) == b""
            except ConnectionResetError:
                continue


def test_it_did_all_this_without_a_complaint_but_the_strange_host(studio):
    """The last test: whatever went wrong above would have left its name."""
    complaints = re.findall(r"^(?:\w+\.)*(\w*(?:Error|Exception|Warning|Host))\b", studio.said(), re.MULTILINE)
    assert set(complaints) <= {"DisallowedHost"}
