"""gunicorn's threads for a studio's network: TLS beside a plain door, and no device that holds the others up."""
import contextlib
import copy
import errno
import socket
import ssl
import time
from collections import Counter, defaultdict, deque
from concurrent.futures import Future

from gunicorn.config import CertFile
from gunicorn.workers.gthread import TConn, ThreadWorker

from studio.network.addresses import Network
from studio.network.body import LARGEST_BODY

# Longer than a bad network takes to come back; meanwhile a thread waits. A handshake is two trips and no thinking.
SILENCE_SECONDS, HANDSHAKE_SECONDS = 20, 8
# From its first word to its last: the head of a request, and a body, which may be a list of five megabytes from a
# tablet at the far end of the room. Studio's own rule, as are the numbers below.
HEAD_SECONDS, BODY_SECONDS, BODY_BYTES_A_SECOND = 10, 15, 100_000
# Of one address so many are heard at once in each worker, of its threads; a browser opens six, and they are over soon.
AT_ONCE, WAITING = 4, 60


def let_go(sock: socket.socket) -> None:
    """Ends a conversation for good: gunicorn's own farewell would hold the whole worker up to hear an answer."""
    with contextlib.suppress(OSError):
        sock.shutdown(socket.SHUT_RDWR)


class Impatient:
    """Where gunicorn would wait for ever, this socket gives up: a tablet may walk out of the network at any moment,
    and whoever sends a letter now and then would hold a thread for as long as it likes."""

    ends_at = float("inf")

    def setblocking(self, flag: bool) -> None:
        self.settimeout(SILENCE_SECONDS if flag else 0)

    def has_seconds(self, seconds: float) -> None:
        """What is read from now on has to be here by then, in whatever pieces."""
        self.ends_at = time.monotonic() + seconds

    def recv(self, *how) -> bytes:
        left = self.ends_at - time.monotonic()
        if left <= 0:
            self.give_up("too slow")
        if self.gettimeout():
            self.settimeout(min(SILENCE_SECONDS, left))
        try:
            return super().recv(*how)
        except TimeoutError:
            self.give_up("fell silent")

    def give_up(self, why: str) -> None:
        let_go(self)
        raise ConnectionResetError(errno.ECONNRESET, why) from None


class ImpatientSocket(Impatient, ssl.SSLSocket):
    """The same over TLS."""

    def do_handshake(self, block: bool = False) -> None:
        self.settimeout(HANDSHAKE_SECONDS)
        super().do_handshake(block)
        self.setblocking(True)


class ImpatientPlainSocket(Impatient, socket.socket):
    """The same for the plain door."""

    @classmethod
    def instead_of(cls, sock: socket.socket) -> "ImpatientPlainSocket":
        return cls(sock.family, sock.type, sock.proto, fileno=sock.detach())


class NetworkWorker(ThreadWorker):
    """What gthread does, with a few differences; the server's network is put on the class by gunicorn.conf.py."""

    network: Network

    def init_process(self) -> None:
        self.plain = copy.copy(self.cfg)
        self.plain.settings = {**self.cfg.settings, "certfile": CertFile()}
        # Both are touched by the worker's first thread only.
        self.heard: Counter[str] = Counter()
        self.waiting: dict[str, deque[TConn]] = defaultdict(deque)
        super().init_process()

    def enqueue_req(self, conn: TConn) -> None:
        """The door's port speaks plain http; gunicorn knows only servers that speak TLS on every port or on none.

        Of one address only so many are heard at once: the rest wait for their own, and never for each other's thread.
        """
        if conn.server[1] == self.network.door_port:
            conn.cfg = self.plain
        address = conn.client[0]
        if self.heard[address] < AT_ONCE:
            self.heard[address] += 1
            super().enqueue_req(conn)
        elif len(self.waiting[address]) < WAITING:
            self.waiting[address].append(conn)
        else:
            self.nr_conns -= 1
            conn.close()

    def finish_request(self, conn: TConn, fs: Future) -> None:
        address = conn.client[0]
        self.heard[address] -= 1
        super().finish_request(conn, fs)
        if waiting := self.waiting.get(address):
            self.enqueue_req(waiting.popleft())
        else:
            self.waiting.pop(address, None)
        if self.heard[address] <= 0:
            del self.heard[address]

    def handle(self, conn: TConn):
        """Turns away what came from elsewhere, and holds no thread for a connection that was opened ahead of need."""
        if conn.initialized:
            return self.hear(conn)
        try:
            if self.network.is_reached_at(conn.sock.getsockname()[0]):
                if not conn.cfg.is_ssl:
                    if not isinstance(conn.sock, ImpatientPlainSocket):
                        conn.sock = ImpatientPlainSocket.instead_of(conn.sock)
                    return self.hear(conn)
                if conn.wait_for_data(HANDSHAKE_SECONDS):
                    conn.init()
                    # To the poller, as after a request, until the first one comes.
                    return True
        except OSError:
            # No TLS, or a tablet that does not trust the authority yet.
            pass
        let_go(conn.sock)
        return False

    def hear(self, conn: TConn):
        conn.sock.has_seconds(HEAD_SECONDS)
        return super().handle(conn)

    def handle_request(self, req, conn: TConn):
        length = next((value for name, value in req.headers if name == "CONTENT-LENGTH"), "0")
        size = min(int(length), LARGEST_BODY) if length.isdecimal() else LARGEST_BODY
        conn.sock.has_seconds(BODY_SECONDS + size / BODY_BYTES_A_SECOND)
        return super().handle_request(req, conn)
