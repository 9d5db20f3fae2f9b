"""The wire between a browser and the server, which a test can cut and join while the address stays the same."""
import contextlib
import selectors
import socket
import threading


class Wire:
    """Passes bytes on from a port of its own to the server's until it is cut; joined again, it listens on that port."""

    def __init__(self, server_port: int):
        self.server_port, self.port = server_port, 0
        self.open: set[socket.socket] = set()
        self.door: socket.socket | None = None
        self.join()

    def join(self) -> None:
        self.door = socket.create_server(("127.0.0.1", self.port), backlog=64)
        self.port = self.door.getsockname()[1]
        threading.Thread(target=self._let_in, args=[self.door], daemon=True).start()

    def cut(self) -> None:
        """Nobody is let in any more, and who is in the middle of something hears nothing further."""
        door, self.door = self.door, None
        if door is not None:
            # A thread that waits in accept holds the door open; this sends it home.
            with contextlib.suppress(OSError):
                door.shutdown(socket.SHUT_RDWR)
            door.close()
        for each in list(self.open):
            with contextlib.suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)

    def _let_in(self, door: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while True:
                came, _where = door.accept()
                threading.Thread(target=self._pass_on, args=[came], daemon=True).start()

    def _pass_on(self, came: socket.socket) -> None:
        with contextlib.suppress(OSError), came, socket.create_connection(("localhost", self.server_port)) as there:
            both = {came: there, there: came}
            self.open.update(both)
            with selectors.DefaultSelector() as ready:
                for each in both:
                    ready.register(each, selectors.EVENT_READ)
                try:
                    while True:
                        for key, _events in ready.select():
                            said = key.fileobj.recv(65536)
                            if not said:
                                return
                            both[key.fileobj].sendall(said)
                finally:
                    self.open.difference_update(both)
