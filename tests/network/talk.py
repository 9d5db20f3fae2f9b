"""A TLS server and a client in one memory, and a client that trusts one authority: Python's own ssl on either side."""
import ssl
from pathlib import Path

from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat


def trusting(certificate) -> ssl.SSLContext:
    """A client that trusts this certificate and no other."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    # What newer Pythons ask by themselves: every extension as RFC 5280 wants it.
    context.verify_flags |= ssl.VERIFY_X509_STRICT
    context.load_verify_locations(cadata=certificate.public_bytes(Encoding.DER))
    return context


def written(pair, path: Path) -> Path:
    """A key and its certificate in one file, as any program would write them."""
    key = pair.key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    path.write_bytes(key + pair.certificate.public_bytes(Encoding.PEM))
    return path


def shake_hands(server: ssl.SSLContext, client: ssl.SSLContext, name: str) -> ssl.SSLObject:
    """The client's end of a finished handshake; whatever either side refuses is raised."""
    to_server, to_client = ssl.MemoryBIO(), ssl.MemoryBIO()
    ends = [
        client.wrap_bio(to_client, to_server, server_hostname=name),
        server.wrap_bio(to_server, to_client, server_side=True),
    ]
    for _turn in range(4):
        for end in ends:
            try:
                end.do_handshake()
            except ssl.SSLWantReadError:
                continue
    assert ends[0].cipher(), "no handshake"
    return ends[0]
