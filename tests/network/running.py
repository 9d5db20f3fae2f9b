"""A studio's server on a network of its own, started as ./risebook starts it, that can be told it has moved."""
import datetime as dt
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from cryptography import x509

from tests.network.talk import trusting

CHECKOUT = Path(__file__).resolve().parents[2]
# gunicorn as its command starts it; only where the computer says its address and its day, a file answers instead,
# and a silent tablet is let go sooner, to keep the tests short.
START = """
import datetime, ipaddress, pathlib, socket, sys
from studio.network import addresses, certificates, worker
folder = pathlib.Path(sys.argv[1])
def source_address(family, towards):
    return ipaddress.ip_address((folder / "address").read_text()) if family == socket.AF_INET else None
addresses.source_address = source_address
certificates.now = lambda: datetime.datetime.now(datetime.UTC) + datetime.timedelta(int((folder / "days").read_text()))
worker.SILENCE_SECONDS = worker.HANDSHAKE_SECONDS = 1
sys.argv = ["gunicorn", "studio.wsgi"]
from gunicorn.app.wsgiapp import run
run()
"""


def free_ports() -> int:
    """A port that is free, and so is the one after it."""
    for _attempt in range(50):
        with socket.socket() as first, socket.socket() as second:
            first.bind(("127.0.0.1", 0))
            port = first.getsockname()[1]
            try:
                second.bind(("127.0.0.1", port + 1))
            except OSError:
                continue
            return port
    raise AssertionError("no two ports in a row are free")


@dataclass
class Running:
    """The server, and where the test says its address and its day."""

    folder: Path
    port: int
    server: subprocess.Popen

    def moves_to(self, address: str) -> None:
        (self.folder / "address").write_text(address)

    def is_days_from_today(self, days: int) -> None:
        (self.folder / "days").write_text(str(days))

    @property
    def authority(self) -> x509.Certificate:
        return x509.load_pem_x509_certificate((self.folder / "network/authority.pem").read_bytes())

    def connection(self, name: str, to: str = "127.0.0.1") -> socket.socket:
        """TLS to the server as a tablet that trusts the authority speaks it and believes to be at this name."""
        plain = socket.create_connection((to, self.port), timeout=30)
        try:
            return trusting(self.authority).wrap_socket(plain, server_hostname=name)
        except OSError:
            plain.close()
            raise

    def shown(self, name: str) -> x509.Certificate:
        """The certificate that the next connection is shown."""
        with self.connection(name) as tls:
            return x509.load_der_x509_certificate(tls.getpeercert(binary_form=True))

    def ask(self, path: str, name: str, *, tls: bool = True, headers: str = "", to: str = "127.0.0.1") -> str:
        """The answer's text, head and body."""
        port = self.port if tls else self.port + 1
        with self.connection(name) if tls else socket.create_connection((to, port), timeout=30) as talk:
            talk.sendall(f"GET {path} HTTP/1.1\r\nHost: {name}:{port}\r\n{headers}Connection: close\r\n\r\n".encode())
            return b"".join(iter(lambda: talk.recv(65536), b"")).decode(errors="replace")

    def said(self) -> str:
        return (self.folder / "said").read_text()


@contextmanager
def running(folder: Path, database: Path) -> Iterator[Running]:
    """The server, once it answers; ended with its workers at the end."""
    shutil.copy(database, folder / "risebook.sqlite3")
    port = free_ports()
    clean = {name: value for name, value in os.environ.items() if not name.startswith(("RISEBOOK_", "DATABASE_"))}
    environment = clean | {
        "RISEBOOK_VAR_DIR": str(folder), "RISEBOOK_NETWORK": str(port), "RISEBOOK_STATIC_MANIFEST": "no",
    }
    with (folder / "said").open("w") as said:
        server = subprocess.Popen(
            [sys.executable, "-c", START, folder], cwd=CHECKOUT, env=environment, stdout=said, stderr=said
        )
        try:
            wait_until(lambda: "Fingerprint" in (folder / "said").read_text(), server)
            yield Running(folder, port, server)
        finally:
            server.terminate()
            server.wait(60)


def wait_until(is_so, server: subprocess.Popen, seconds: float = 120) -> None:
    end = time.monotonic() + seconds
    while not is_so():
        assert server.poll() is None, "the server has ended"
        assert time.monotonic() < end, "it took too long"
        time.sleep(0.05)


def migrated(folder: Path) -> Path:
    """An empty studio's database."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith("DATABASE_")}
    subprocess.run(
        [sys.executable, "manage.py", "migrate", "--verbosity", "0"], cwd=CHECKOUT, check=True, timeout=120,
        env=environment | {"RISEBOOK_VAR_DIR": str(folder)},
    )
    return folder / "risebook.sqlite3"


def day_of(moment: dt.datetime) -> int:
    """In days from today."""
    return round((moment - dt.datetime.now(dt.UTC)) / dt.timedelta(days=1))
