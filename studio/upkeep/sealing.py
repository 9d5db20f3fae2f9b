"""Seals backups in the age format, so that the computer that writes them cannot read them; knows no Django.

The studio has one key. Its public half lies beside the studio and seals every backup without a person; its secret
half is itself sealed by a passphrase, which only paper knows, and travels inside each backup. So one passphrase opens
every backup on any computer, with Risebook or with any program that reads the age format (age-encryption.org/v1).
"""
import io
import os
import secrets
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import IO

import pyrage
from pyrage.x25519 import Identity, Recipient

# Without letters and figures that are taken for each other on paper.
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
GROUPS, GROUP = 6, 4


class NotTheKey(ValueError):
    """The passphrase or key does not open this."""


def new_passphrase() -> str:
    """Six groups of four: 118 random bits, which no guessing reaches, and short enough for paper."""
    groups = ("".join(secrets.choice(LETTERS) for _letter in range(GROUP)) for _group in range(GROUPS))
    return "-".join(groups)


def as_typed(passphrase: str) -> str:
    """A passphrase of ours as a hand types it: capitals, spaces and dashes do not matter; any other stays as it is.

    >>> as_typed(" ABCD efgh-jkmn pqrs 2345-6789 ")
    'abcd-efgh-jkmn-pqrs-2345-6789'
    >>> as_typed("my own Words")
    'my own Words'
    """
    bare = "".join(passphrase.lower().replace("-", "").split())
    if len(bare) != GROUPS * GROUP or set(bare) - set(LETTERS):
        return passphrase.strip()
    return "-".join(bare[at:at + GROUP] for at in range(0, len(bare), GROUP))


def new_key(passphrase: str) -> tuple[str, bytes]:
    """(the public half as text, the secret half sealed by the passphrase)."""
    identity = Identity.generate()
    return str(identity.to_public()), pyrage.passphrase.encrypt(str(identity).encode(), as_typed(passphrase))


def opened_key(sealed: bytes, words: str) -> Identity:
    """The secret half, by the passphrase, or given itself (AGE-SECRET-KEY-...); NotTheKey otherwise."""
    try:
        if words.strip().upper().startswith("AGE-SECRET-KEY-"):
            return Identity.from_str(words.strip().upper())
        return Identity.from_str(pyrage.passphrase.decrypt(sealed, as_typed(words)).decode())
    except (pyrage.DecryptError, pyrage.IdentityError, UnicodeDecodeError):
        raise NotTheKey from None


def passing_key() -> Identity:
    """A key that lives as long as one backup is written and tried out, and is then forgotten."""
    return Identity.generate()


def seal(write: Callable[[IO[bytes]], object], out: IO[bytes], public: str, passing: Identity) -> None:
    """What `write` writes, sealed into `out` for the studio's key and the passing one; nothing open touches a disk."""
    recipients = [Recipient.from_str(public), passing.to_public()]
    with _written_by(write) as source:
        pyrage.encrypt_io(source, out, recipients)


@contextmanager
def unsealed(sealed: IO[bytes], identity: Identity) -> Iterator[IO[bytes]]:
    """What was sealed, to be read once from its beginning; NotTheKey where the key is another or it was changed."""

    def write(out: IO[bytes]) -> None:
        try:
            pyrage.decrypt_io(sealed, out, [identity])
        except pyrage.DecryptError as why:
            raise NotTheKey(str(why)) from None

    with _written_by(write) as source:
        yield source


@contextmanager
def _written_by(write: Callable[[IO[bytes]], object]) -> Iterator[IO[bytes]]:
    """The reading end of what another thread writes; what went wrong there is raised here."""
    reading, writing = os.pipe()
    failed: list[Exception] = []

    def fill() -> None:
        try:
            with os.fdopen(writing, "wb", 1 << 20) as out:
                write(out)
        except BrokenPipeError:
            # Whoever read has stopped, and says why.
            pass
        except Exception as why:
            failed.append(why)

    thread = threading.Thread(target=fill, daemon=True)
    thread.start()
    source = io.BufferedReader(io.FileIO(reading, "rb"), 1 << 20)
    try:
        yield source
        source.read()
    except Exception:
        source.close()
        thread.join()
        if failed:
            raise failed[0] from None
        raise
    else:
        source.close()
        thread.join()
        if failed:
            raise failed[0]
