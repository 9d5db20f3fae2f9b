"""One device on the studio's network, however busy, slow or large what it sends, leaves the others their answers."""
import contextlib
import socket
import ssl
import threading

import pytest

from studio.network.body import LARGEST_BODY, LARGEST_BODY_OF_NOBODY
from studio.network.worker import ImpatientPlainSocket
from tests.network.running import Running, migrated, running
from tests.network.talk import trusting

pytestmark = pytest.mark.thorough
HERE = "10.77.0.1"
# The flood comes from one address of this computer's loopback, whoever only wants a page from another.
FLOOD, OTHER = "127.0.0.1", "127.0.0.2"
# More than all threads of both workers.
MANY = 40


@pytest.fixture(scope="module")
def studio(tmp_path_factory) -> Running:
    folder = tmp_path_factory.mktemp("var")
    (folder / "address").write_text(HERE)
    (folder / "days").write_text("0")
    with running(folder, migrated(tmp_path_factory.mktemp("database"))) as server:
        yield server


def connected(studio: Running, source: str, *, port: int | None = None) -> socket.socket:
    return socket.create_connection(("127.0.0.1", port or studio.port), timeout=30, source_address=(source, 0))


def over_tls(studio: Running, source: str) -> ssl.SSLSocket:
    return trusting(studio.authority).wrap_socket(connected(studio, source), server_hostname=HERE)


def page_for(studio: Running, source: str) -> bytes:
    with over_tls(studio, source) as talk:
        talk.sendall(f"GET /login/ HTTP/1.1\r\nHost: {HERE}:{studio.port}\r\nConnection: close\r\n\r\n".encode())
        return b"".join(iter(lambda: talk.recv(65536), b""))


@contextlib.contextmanager
def all_the_while(act):
    """Does it again and again, in a thread of its own, until the block is over."""
    stop = threading.Event()

    def run():
        while not stop.wait(0.2):
            with contextlib.suppress(OSError):
                act()

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join(30)


def drip(talks, letter=b"x"):
    for talk in talks:
        with contextlib.suppress(OSError):
            talk.sendall(letter)


def opened(make, count=MANY):
    """As many as the server takes; it may close some of so many at once."""
    talks = []
    for _n in range(count):
        with contextlib.suppress(OSError):
            talks.append(make())
    return talks


def test_connections_that_say_a_letter_now_and_then_hold_nobody_else_up(studio):
    slow = opened(lambda: over_tls(studio, FLOOD), 12)
    drip(slow, b"GET /login/ HTTP/1.1\r\nX-Slow: ")
    with all_the_while(lambda: drip(slow)):
        answers = [page_for(studio, OTHER)[:15] for _n in range(6)]
    for talk in slow:
        talk.close()
    assert set(answers) == {b"HTTP/1.1 200 OK"}


def test_handshakes_that_never_end_hold_nobody_else_up(studio):
    half = opened(lambda: connected(studio, FLOOD))
    drip(half, b"\x16\x03\x01\x02")
    answers = [page_for(studio, OTHER)[:15] for _n in range(6)]
    for talk in half:
        talk.close()
    assert set(answers) == {b"HTTP/1.1 200 OK"}


def test_a_slow_body_holds_nobody_else_up_and_the_plain_door_neither(studio):
    slow = opened(lambda: over_tls(studio, FLOOD), 12)
    head = f"POST /login/ HTTP/1.1\r\nHost: {HERE}:{studio.port}\r\nContent-Length: 60000\r\n\r\n"
    drip(slow, head.encode())
    door = opened(lambda: connected(studio, FLOOD, port=studio.port + 1))
    drip(door, b"GET /trust/ HTTP/1.1\r\nX-Slow: ")
    with all_the_while(lambda: drip(slow + door)):
        answers = [page_for(studio, OTHER)[:15] for _n in range(6)]
    for talk in slow + door:
        talk.close()
    assert set(answers) == {b"HTTP/1.1 200 OK"}


@pytest.mark.parametrize("size", [LARGEST_BODY_OF_NOBODY + 1, LARGEST_BODY + 1, 200 * 1024 * 1024])
def test_what_is_too_large_is_refused_before_it_is_read(studio, size):
    with over_tls(studio, FLOOD) as talk:
        head = f"POST /login/ HTTP/1.1\r\nHost: {HERE}:{studio.port}\r\nContent-Length: {size}\r\n\r\n"
        talk.sendall(head.encode())
        assert talk.recv(4096).startswith(b"HTTP/1.1 413")


def test_a_letter_now_and_then_is_no_request_for_ever():
    """The whole head has its seconds, in whatever pieces it comes."""
    ours, theirs = socket.socketpair()
    heard = ImpatientPlainSocket.instead_of(ours)
    heard.setblocking(True)
    heard.has_seconds(0.3)
    with theirs, heard, pytest.raises(ConnectionResetError, match="too slow|fell silent"):
        while True:
            theirs.sendall(b"x")
            assert heard.recv(1) == b"x"
            threading.Event().wait(0.05)
