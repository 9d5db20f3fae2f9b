"""The studio's authority and what it vouches for, as Python's ssl and the openssl command judge it."""
import datetime as dt
import os
import pwd
import shutil
import ssl
import stat
import subprocess
import tempfile
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.serialization import Encoding

from studio.network import certificates
from studio.network.addresses import NetworkProblem
from studio.network.certificates import (
    AUTHORITY_FILE,
    SERVER_FILE,
    KeyAndCertificate,
    certificate_file,
    make_authority,
    make_certificate,
    server_context,
    the_authority,
)
from tests.network.talk import shake_hands, trusting, written

NOW = dt.datetime.now(dt.UTC).replace(microsecond=0)
NAMES = ["192.168.1.20", "fd00::2", "studio-pc.local", "localhost", "127.0.0.1", "::1"]
DAY = dt.timedelta(days=1)


@pytest.fixture
def authority(tmp_path):
    return the_authority(tmp_path, "Risebook on studio", NOW)


@pytest.fixture
def server(tmp_path, authority):
    """A server's TLS with a certificate for NAMES."""
    path, _renewal = certificate_file(tmp_path, authority, NAMES, NOW)
    return server_context(path)


# --- who trusts whom -----------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_who_trusts_the_authority_reaches_the_studio_by_each_of_its_names(authority, server, name):
    assert shake_hands(server, trusting(authority.certificate), name).version() == "TLSv1.3"


def test_who_does_not_trust_it_is_kept_from_the_studio(authority, server):
    stranger = make_authority("Somebody else", NOW)
    for client in (trusting(stranger.certificate), ssl.create_default_context()):
        with pytest.raises(ssl.SSLCertVerificationError):
            shake_hands(server, client, "192.168.1.20")


@pytest.mark.parametrize("name", ["192.168.1.21", "fd00::3", "other.local", "127.0.0.2"])
def test_another_computer_cannot_pass_for_the_studio(authority, server, name):
    with pytest.raises(ssl.SSLCertVerificationError, match="mismatch"):
        shake_hands(server, trusting(authority.certificate), name)


@pytest.mark.parametrize("name", ["example.org", "8.8.8.8", "2a00:1450::5", "local.example.org"])
def test_the_authority_is_not_believed_beyond_private_networks(authority, tmp_path, name):
    """Whoever stole its key could sign this, and no tablet would take it (RFC 5280, 4.2.1.10)."""
    path = written(make_certificate(authority, [name], NOW), tmp_path / "forged.pem")
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree violation"):
        shake_hands(server_context(path), trusting(authority.certificate), name)


def test_no_authority_can_stand_below_it(authority, tmp_path):
    key = make_authority("Below", NOW).key
    builder = x509.CertificateBuilder(
        authority.certificate.subject, x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "Below")]),
        key.public_key(), x509.random_serial_number(), NOW - DAY, NOW + DAY,
    )
    for extension in (x509.BasicConstraints(ca=True, path_length=None),
                      x509.SubjectKeyIdentifier.from_public_key(key.public_key())):
        builder = builder.add_extension(extension, critical=False)
    below = KeyAndCertificate(key, builder.sign(authority.key, hashes.SHA256()))
    path = written(make_certificate(below, NAMES, NOW), tmp_path / "chain.pem")
    path.write_bytes(path.read_bytes() + below.certificate.public_bytes(Encoding.PEM))
    client = trusting(authority.certificate)
    client.verify_flags &= ~ssl.VERIFY_X509_STRICT
    with pytest.raises(ssl.SSLCertVerificationError, match="path length"):
        shake_hands(server_context(path), client, "192.168.1.20")


def test_nothing_older_than_tls_1_2_is_spoken(authority, server):
    for version, is_spoken in ((ssl.TLSVersion.TLSv1_2, True), (ssl.TLSVersion.TLSv1_3, True)):
        client = trusting(authority.certificate)
        client.minimum_version = client.maximum_version = version
        assert bool(shake_hands(server, client, "localhost").cipher()) is is_spoken
    assert server.minimum_version == ssl.TLSVersion.TLSv1_2


# --- how long ------------------------------------------------------------------------------------


def test_a_certificate_lasts_as_long_as_tablets_take_and_no_longer(authority):
    """At most 398 days is what Apple's systems take of a server (CA/Browser Forum, Baseline Requirements 6.3.2)."""
    certificate = make_certificate(authority, NAMES, NOW).certificate
    assert certificate.not_valid_after_utc - certificate.not_valid_before_utc == 397 * DAY
    assert certificate.not_valid_before_utc < NOW


def test_no_certificate_outlasts_its_authority(authority):
    late = authority.certificate.not_valid_after_utc - 10 * DAY
    certificate = make_certificate(authority, NAMES, late).certificate
    assert certificate.not_valid_after_utc == authority.certificate.not_valid_after_utc


@pytest.mark.parametrize("days, is_renewed", [(0, False), (365, False), (366, True), (500, True), (-2, True)])
def test_a_certificate_is_renewed_a_month_before_its_end_and_when_the_clock_was_wrong(tmp_path, days, is_renewed):
    """Made a day into its validity, so 396 days are left."""
    authority = the_authority(tmp_path, "Risebook", NOW - 10 * DAY)
    path, _renewal = certificate_file(tmp_path, authority, NAMES, NOW)
    before = path.read_bytes()
    certificate_file(tmp_path, authority, NAMES, NOW + days * DAY)
    assert (path.read_bytes() != before) is is_renewed


def test_the_day_of_the_next_renewal_is_said(tmp_path, authority):
    _path, renewal = certificate_file(tmp_path, authority, NAMES, NOW)
    assert renewal - NOW == 366 * DAY


@pytest.mark.parametrize("names", [["10.0.0.5", *NAMES[1:]], [*NAMES, "10.0.0.5"], NAMES[1:]])
def test_a_certificate_is_renewed_when_the_computer_is_called_otherwise(tmp_path, authority, names):
    path, _renewal = certificate_file(tmp_path, authority, NAMES, NOW)
    before = path.read_bytes()
    certificate_file(tmp_path, authority, names, NOW)
    assert path.read_bytes() != before
    shake_hands(server_context(path), trusting(authority.certificate), names[0])


@pytest.mark.parametrize("spoil", [
    lambda path: path.write_text("nonsense"), lambda path: path.write_bytes(path.read_bytes()[:300]),
    lambda path: path.unlink(), lambda path: written(make_certificate(make_authority("x", NOW), NAMES, NOW), path),
])
def test_a_spoilt_certificate_is_made_anew_without_a_word(tmp_path, authority, server, spoil):
    spoil(tmp_path / SERVER_FILE)
    path, _renewal = certificate_file(tmp_path, authority, NAMES, NOW)
    shake_hands(server_context(path), trusting(authority.certificate), "192.168.1.20")


# --- the authority's file ------------------------------------------------------------------------


def test_the_authority_is_made_once_and_kept_for_its_owner_only(tmp_path, authority, server):
    again = the_authority(tmp_path, "Another name", NOW + 100 * DAY)
    assert again.certificate == authority.certificate
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in tmp_path.iterdir()}
    assert modes == {AUTHORITY_FILE: 0o600, SERVER_FILE: 0o600}


def test_a_key_that_others_could_read_is_closed_again(tmp_path, authority):
    (tmp_path / AUTHORITY_FILE).chmod(0o644)
    the_authority(tmp_path, "Risebook", NOW)
    assert stat.S_IMODE((tmp_path / AUTHORITY_FILE).stat().st_mode) == 0o600


def test_two_starts_at_once_agree_on_one_authority(tmp_path, monkeypatch):
    """The second one finds no file, and meets it when it comes to write."""
    first = the_authority(tmp_path / "a", "First", NOW)
    late = tmp_path / "a" / AUTHORITY_FILE
    certificates._write(late, make_authority("Second", NOW), is_replaced=False)
    assert the_authority(tmp_path / "a", "Third", NOW).certificate == first.certificate
    assert [path.name for path in late.parent.iterdir()] == [AUTHORITY_FILE]


@pytest.mark.parametrize("spoil, complaint", [
    (lambda path: path.write_text("nonsense"), "does not hold a key and its authority's certificate"),
    (lambda path: path.write_bytes(b""), "does not hold"),
    (lambda path: path.write_bytes(b"\xff\x00" * 99), "does not hold"),
    (lambda path: path.write_bytes(path.read_bytes()[:200]), "does not hold"),
    (lambda path: path.write_bytes(path.read_bytes()[250:]), "does not hold"),
    (lambda path: written(make_certificate(make_authority("x", NOW), NAMES, NOW), path), "does not hold"),
    (lambda path: written(make_authority("x", NOW)._replace(key=make_authority("y", NOW).key), path), "does not hold"),
    (lambda path: written(make_authority("x", NOW - 8000 * DAY), path), "is valid from"),
    (lambda path: (path.unlink(), path.mkdir()), "cannot be read or written: Is a directory"),
])
def test_a_broken_authority_is_named_in_one_sentence_and_not_replaced(tmp_path, authority, spoil, complaint):
    path = tmp_path / AUTHORITY_FILE
    spoil(path)
    before = path.is_file() and path.read_bytes()
    with pytest.raises(NetworkProblem, match=complaint) as stopped:
        the_authority(tmp_path, "Risebook", NOW)
    assert str(path) in str(stopped.value)
    assert "\n" not in str(stopped.value)
    assert (path.is_file() and path.read_bytes()) == before


@pytest.fixture
def somebody_else():
    """Root may read everything: for as long as the test lasts, root is nobody."""
    was = os.geteuid()
    if was == 0:
        os.seteuid(pwd.getpwnam("nobody").pw_uid)
    yield
    os.seteuid(was)


@pytest.fixture
def locked_away(tmp_path, authority):
    """A folder that everybody may enter, and in it an authority that nobody may read."""
    with tempfile.TemporaryDirectory() as folder:
        kept = Path(shutil.copy(tmp_path / AUTHORITY_FILE, folder))
        kept.chmod(0o000)
        Path(folder).chmod(0o555)
        yield Path(folder)
        Path(folder).chmod(0o700)


def test_a_key_that_may_not_be_read_is_named(locked_away, somebody_else):
    with pytest.raises(NetworkProblem, match="Permission denied"):
        the_authority(locked_away, "Risebook", NOW)


# --- openssl, a program of its own ---------------------------------------------------------------


def openssl(*words) -> str:
    if not shutil.which("openssl"):
        pytest.skip("no openssl command here")
    return subprocess.run(["openssl", *words], capture_output=True, text=True, check=False, timeout=30).stdout


def test_openssl_verifies_the_certificate_by_the_letter(tmp_path, authority, server):
    for check in (["-verify_ip", "192.168.1.20"], ["-verify_ip", "fd00::2"], ["-verify_hostname", "studio-pc.local"]):
        said = openssl("verify", "-x509_strict", "-purpose", "sslserver", *check, "-CAfile",
                       str(tmp_path / AUTHORITY_FILE), str(tmp_path / SERVER_FILE))
        assert said == f"{tmp_path / SERVER_FILE}: OK\n"


def test_openssl_reads_the_same_fingerprint_that_people_compare(tmp_path, authority):
    for option, kind in (("-sha256", hashes.SHA256()), ("-sha1", hashes.SHA1())):  # noqa: S303
        said = openssl("x509", "-in", str(tmp_path / AUTHORITY_FILE), "-noout", "-fingerprint", option)
        assert said.strip().partition("=")[2] == certificates.fingerprint(authority.certificate, kind)


def test_openssl_reads_the_limits_of_the_authority(tmp_path, authority):
    said = openssl("x509", "-in", str(tmp_path / AUTHORITY_FILE), "-noout", "-text")
    wanted = ("CA:TRUE, pathlen:0", "X509v3 Name Constraints: critical", "DNS:local\n", "IP:192.168.0.0/255.255.0.0",
              "Certificate Sign\n", "TLS Web Server Authentication\n")
    assert [line for line in wanted if line not in said] == []
