"""Which certificate each connection is shown: the present one, without a restart; knows no Django."""
import datetime as dt
import logging
import socket
import ssl
from dataclasses import dataclass, field

from cryptography.hazmat.primitives.hashes import SHA256

from studio.network import certificates
from studio.network.addresses import Network, NetworkProblem
from studio.network.certificates import KeyAndCertificate

log = logging.getLogger(__name__)


def authority_of(network: Network) -> KeyAndCertificate:
    """The studio's authority, made on the first call and called after this computer and the day."""
    at = certificates.now()
    called = f"Risebook on {socket.gethostname()[:30]}, {at:%Y-%m-%d}"
    return certificates.the_authority(network.folder, called, at)


@dataclass
class PresentCertificate:
    """A server's TLS, renewed when the certificate nears its end or this computer is called otherwise."""

    network: Network
    names: list[str] = field(default_factory=list)
    renewed_at: dt.datetime = dt.datetime.min.replace(tzinfo=dt.UTC)
    context: ssl.SSLContext | None = None

    def file(self) -> str:
        """Where the certificate lies that is right for now."""
        names = self.network.names()
        path, renewed_at = certificates.certificate_file(
            self.network.folder, authority_of(self.network), names, certificates.now()
        )
        if self.names and names != self.names:
            log.warning("This computer's address has changed: Risebook is at %s", self.network.studio_address())
        self.names, self.renewed_at = names, renewed_at
        return str(path)

    def fingerprint(self) -> str:
        """The authority's, for a person to compare."""
        return certificates.fingerprint(authority_of(self.network).certificate, SHA256())

    def present(self) -> ssl.SSLContext:
        """TLS for the next connection; where a renewal fails, what served the last one."""
        is_due = self.network.names() != self.names or certificates.now() >= self.renewed_at
        if self.context is None or is_due:
            try:
                self.context = certificates.server_context(self.file())
            except (NetworkProblem, OSError) as why:
                if self.context is None:
                    raise
                log.warning("The certificate could not be renewed. %s", why)
        return self.context
