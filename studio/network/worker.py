"""gunicorn's threads for a studio's network: TLS beside a plain door, and tablets that fall silent."""
import contextlib
import copy
import errno
import socket
import ssl

from gunicorn.config import CertFile
from gunicorn.workers.gthread import TConn, ThreadWorker

from studio.network.addresses import Network

# Longer than a bad network takes to come back; meanwhile a thread waits. A handshake is two trips and no thinking.
SILENCE_SECONDS, HANDSHAKE_SECONDS = 20, 8


def let_go(sock: socket.socket) -> None:
    """Ends a conversation for good: gunicorn's own farewell would hold the whole worker up to hear an answer."""
    with contextlib.suppress(OSError):
        sock.shutdown(socket.SHUT_RDWR)


class ImpatientSocket(ssl.SSLSocket):
    """Where gunicorn would wait for ever, this one gives up: a tablet may walk out of the network at any moment."""

    def setblocking(self, flag: bool) -> None:
        self.settimeout(SILENCE_SECONDS if flag else 0)

    def do_handshake(self, block: bool = False) -> None:
        self.settimeout(HANDSHAKE_SECONDS)
        super().do_handshake(block)
        self.setblocking(True)

    def recv(self, *how) -> bytes:
        try:
            return super().recv(*how)
        except TimeoutError:
            let_go(self)
            raise ConnectionResetError(errno.ECONNRESET, "fell silent") from None


class NetworkWorker(ThreadWorker):
    """What gthread does, with three differences; the server's network is put on the class by gunicorn.conf.py."""

    network: Network

    def init_process(self) -> None:
        self.plain = copy.copy(self.cfg)
        self.plain.settings = {**self.cfg.settings, "certfile": CertFile()}
        super().init_process()

    def enqueue_req(self, conn: TConn) -> None:
        """The door's port speaks plain http; gunicorn knows only servers that speak TLS on every port or on none."""
        if conn.server[1] == self.network.door_port:
            conn.cfg = self.plain
        super().enqueue_req(conn)

    def handle(self, conn: TConn):
        """Turns away what came from elsewhere, and holds no thread for a connection that was opened ahead of need."""
        if conn.initialized:
            return super().handle(conn)
        try:
            if self.network.is_reached_at(conn.sock.getsockname()[0]):
                if not conn.cfg.is_ssl:
                    return super().handle(conn)
                if conn.wait_for_data(HANDSHAKE_SECONDS):
                    conn.init()
                    # To the poller, as after a request, until the first one comes.
                    return True
        except OSError:
            # No TLS, or a tablet that does not trust the authority yet.
            pass
        let_go(conn.sock)
        return False
