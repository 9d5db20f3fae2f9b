"""The studio's own small authority and the certificate it gives this computer; knows no Django.

The authority may vouch for private addresses and local names only, so that a tablet which trusts it risks nothing
on the internet. What tablets ask of certificates: RFC 5280; of a server's, at most 398 days and a name in the
subject's alternative names (CA/Browser Forum, Baseline Requirements 6.3.2 and 7.1.4.2, which Apple's systems apply).
"""
import contextlib
import datetime as dt
import ipaddress
import os
import ssl
import tempfile
from pathlib import Path
from typing import NamedTuple

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from studio.network.addresses import DOMAINS, RANGES, NetworkProblem

AUTHORITY_FILE, SERVER_FILE = "authority.pem", "server.pem"
# Twenty years: every tablet has to be taught anew when it ends.
AUTHORITY_LASTS = dt.timedelta(days=7305)
CERTIFICATE_LASTS = dt.timedelta(days=397)
RENEWED_BEFORE_END = dt.timedelta(days=30)
# A tablet's clock may be behind.
CLOCKS_DIFFER = dt.timedelta(days=1)


class KeyAndCertificate(NamedTuple):
    key: ec.EllipticCurvePrivateKey
    certificate: x509.Certificate


def now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


# --- the authority -------------------------------------------------------------------------------


def make_authority(called: str, at: dt.datetime) -> KeyAndCertificate:
    """An authority that vouches for private addresses and local names, and for no authority below it."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, called[:64])])
    permitted = [*map(x509.DNSName, DOMAINS), *map(x509.IPAddress, RANGES)]
    builder = _builder(key, name, name, at - CLOCKS_DIFFER, at + AUTHORITY_LASTS)
    builder = builder.add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
    builder = builder.add_extension(_usage(key_cert_sign=True), critical=True)
    builder = builder.add_extension(x509.NameConstraints(permitted, None), critical=True)
    builder = builder.add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
    return KeyAndCertificate(key, builder.sign(key, hashes.SHA256()))


def the_authority(folder: Path, called: str, at: dt.datetime) -> KeyAndCertificate:
    """The studio's authority, made on the first call; NetworkProblem where its file is broken or it has run out."""
    path = folder / AUTHORITY_FILE
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not path.exists():
            _write(path, make_authority(called, at), is_replaced=False)
        if path.stat().st_mode & 0o077:
            path.chmod(0o600)
        authority = _read(path)
    except OSError as why:
        raise NetworkProblem(f"{path} cannot be read or written: {why.strerror}.") from None
    except (ValueError, TypeError):
        authority = None
    remedy = "Move it away and start again; then every tablet has to learn to trust the new one."
    if authority is None or not _is_authority(authority):
        raise NetworkProblem(f"{path} does not hold a key and its authority's certificate. {remedy}")
    if not authority.certificate.not_valid_before_utc <= at < authority.certificate.not_valid_after_utc:
        first, last = authority.certificate.not_valid_before_utc, authority.certificate.not_valid_after_utc
        raise NetworkProblem(
            f"The authority in {path} is valid from {first:%-d %B %Y} to {last:%-d %B %Y}, and this computer's clock "
            f"says {at:%-d %B %Y}. If the clock is right: {remedy[0].lower()}{remedy[1:]}"
        )
    return authority


def _is_authority(pair: KeyAndCertificate) -> bool:
    try:
        constraints = pair.certificate.extensions.get_extension_for_class(x509.BasicConstraints).value
    except x509.ExtensionNotFound:
        return False
    return constraints.ca and pair.key.public_key() == pair.certificate.public_key()


def common_name(certificate: x509.Certificate) -> str:
    """What tablets call it."""
    [name] = certificate.subject.get_attributes_for_oid(NameOID.COMMON_NAME)
    return name.value


def fingerprint(certificate: x509.Certificate, kind: hashes.HashAlgorithm) -> str:
    """As tablets write it, in pairs."""
    return certificate.fingerprint(kind).hex(":").upper()


# --- this computer's certificate -----------------------------------------------------------------


def make_certificate(authority: KeyAndCertificate, names: list[str], at: dt.datetime) -> KeyAndCertificate:
    """A certificate for this computer under all its names."""
    key = ec.generate_private_key(ec.SECP256R1())
    begins = max(at - CLOCKS_DIFFER, authority.certificate.not_valid_before_utc)
    ends = min(begins + CERTIFICATE_LASTS, authority.certificate.not_valid_after_utc)
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, names[0][:64])])
    builder = _builder(key, subject, authority.certificate.subject, begins, ends)
    issuer = authority.certificate.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    for extension, critical in (
        (x509.BasicConstraints(ca=False, path_length=None), True),
        (_usage(digital_signature=True), True),
        (x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), False),
        (x509.SubjectAlternativeName(list(map(_general_name, names))), False),
        (x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(issuer), False),
    ):
        builder = builder.add_extension(extension, critical=critical)
    return KeyAndCertificate(key, builder.sign(authority.key, hashes.SHA256()))


def certificate_file(
    folder: Path, authority: KeyAndCertificate, names: list[str], at: dt.datetime
) -> tuple[Path, dt.datetime]:
    """The file with this computer's certificate for these names, made anew if it has to be; and when that is next."""
    path = folder / SERVER_FILE
    try:
        pair = _read(path)
        is_good = _is_good(pair, authority, names, at)
    except (OSError, ValueError, TypeError):
        is_good = False
    if not is_good:
        pair = make_certificate(authority, names, at)
        _write(path, pair, is_replaced=True)
    return path, pair.certificate.not_valid_after_utc - RENEWED_BEFORE_END


def _is_good(pair: KeyAndCertificate, authority: KeyAndCertificate, names: list[str], at: dt.datetime) -> bool:
    certificate = pair.certificate
    try:
        certificate.verify_directly_issued_by(authority.certificate)
        shown = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    except Exception:  # noqa: BLE001  (whatever is wrong with it, a new one is made)
        return False
    is_own = pair.key.public_key() == certificate.public_key() and list(shown) == list(map(_general_name, names))
    return is_own and certificate.not_valid_before_utc <= at < certificate.not_valid_after_utc - RENEWED_BEFORE_END


def server_context(path: Path) -> ssl.SSLContext:
    """How the server speaks TLS with the certificate in this file."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.load_cert_chain(path)
    return context


# --- parts ---------------------------------------------------------------------------------------


def _builder(key, subject, issuer, begins, ends) -> x509.CertificateBuilder:
    builder = x509.CertificateBuilder(subject_name=subject, issuer_name=issuer, public_key=key.public_key())
    builder = builder.serial_number(x509.random_serial_number()).not_valid_before(begins).not_valid_after(ends)
    return builder.add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)


def _usage(**allowed: bool) -> x509.KeyUsage:
    every = ("digital_signature", "content_commitment", "key_encipherment", "data_encipherment", "key_agreement",
             "key_cert_sign", "crl_sign", "encipher_only", "decipher_only")
    return x509.KeyUsage(**(dict.fromkeys(every, False) | allowed))


def _general_name(name: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(name))
    except ValueError:
        return x509.DNSName(name)


def _read(path: Path) -> KeyAndCertificate:
    text = path.read_bytes()
    return KeyAndCertificate(
        serialization.load_pem_private_key(text, password=None), x509.load_pem_x509_certificate(text)
    )


def _write(path: Path, pair: KeyAndCertificate, *, is_replaced: bool) -> None:
    """Whole or not at all, for its owner only; without `is_replaced` a file that has come in between stays."""
    handle, name = tempfile.mkstemp(dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(pair.key.private_bytes(
                serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
            ))
            file.write(pair.certificate.public_bytes(serialization.Encoding.PEM))
            file.flush()
            os.fsync(file.fileno())
        if is_replaced:
            os.replace(name, path)
        else:
            with contextlib.suppress(FileExistsError):
                os.link(name, path)
    finally:
        Path(name).unlink(missing_ok=True)
