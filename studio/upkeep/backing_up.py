"""Makes one backup: copied while people work, sealed, tried out by restoring it, and only then called good."""
import contextlib
import datetime as dt
import fcntl
import gzip
import hashlib
import io
import json
import os
import shutil
import tarfile
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import IO

from studio.upkeep import sealing
from studio.upkeep.databases import DatabaseTrouble, Tables
from studio.upkeep.home import KEY_FILE, NAME_TIME, SECRET_KEY_FILE, BackupNote, Home, keep_note, moment_of, note_of
from studio.upkeep.keeping import kept
from studio.upkeep.sealing import Identity
from studio.version import VERSION

# So much stays free on every disk that a backup is written to: the studio itself needs room. Our choice.
LEFT_FREE = 300 * 1024 * 1024
# What lies in a backup's sealed part, besides the studio's files.
CONTENTS, DATABASE = "contents.json", "database"
FOLDERS = ("network", "reports")
HOW_TO_OPEN = """A backup of Risebook, made {made_at}.

It holds children's health data. It is sealed: without the studio's passphrase nobody can read it.

To bring it back: put this file beside Risebook, open a terminal in Risebook's folder and paste

    bash risebook restore {name}

It asks for the passphrase. Any program that knows the age format (age-encryption.org/v1) opens it, too:
"key.age" by the passphrase, and "studio.age" by the key that was in it.
"""


class BackupTrouble(Exception):
    """Why there is no backup, in a sentence for a person."""


def has_key(home: Home) -> bool:
    return (home.var / KEY_FILE).is_file()


def make_key(home: Home, passphrase: str) -> None:
    """The studio's key for its backups, in place of the one there was: older backups keep their own passphrase."""
    public, sealed = sealing.new_key(passphrase)
    beside = home.var / f"{KEY_FILE}.{os.getpid()}.part"
    with os.fdopen(os.open(beside, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600), "w") as file:
        json.dump({"public": public, "sealed": sealed.hex()}, file)
    beside.replace(home.var / KEY_FILE)


def make_backup(home: Home, *, to: Path, now: Callable[[], dt.datetime]) -> BackupNote:
    """Makes a backup in the folder `to`, lets older ones go by the rule, and writes down how it went.

    Raises BackupTrouble with the reason. What is there is never touched before the new one has proven good.
    """
    home.backups.mkdir(mode=0o700, parents=True, exist_ok=True)
    with _alone(home):
        try:
            note = _made(home, to, now())
        except (BackupTrouble, DatabaseTrouble, OSError) as why:
            said = f"{why.filename or to} cannot be written: {why.strerror}." if isinstance(why, OSError) else str(why)
            _note_failure(home, now(), said)
            raise BackupTrouble(said) from why
        keep_note(home.backups, note)
        _let_go(to)
    return note


@contextlib.contextmanager
def _alone(home: Home) -> Iterator[None]:
    """Two at once would try each other's copy out."""
    with (home.backups / "backup.lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise BackupTrouble("A backup is being made already.") from None
        yield


def _note_failure(home: Home, at: dt.datetime, why: str) -> None:
    # Where that disk is full too, the age of the last good one tells.
    with contextlib.suppress(OSError):
        keep_note(home.backups, replace(note_of(home.backups), failed_at=at, why=why))


def _made(home: Home, to: Path, made_at: dt.datetime) -> BackupNote:
    if not has_key(home):
        raise BackupTrouble("Backups have no key yet. Run ./risebook backup once in a terminal: it makes one.")
    key = json.loads((home.var / KEY_FILE).read_text())
    to.mkdir(mode=0o700, parents=True, exist_ok=True)
    files = _files(home)
    _ask_for_room(home, to, sum(path.stat().st_size for path in files.values()))
    passing = sealing.passing_key()
    name = f"risebook-{made_at.astimezone(dt.UTC):{NAME_TIME}}.zip"
    beside = to / f"{name}.part"
    with tempfile.TemporaryDirectory(dir=home.backups, prefix="making.") as folder:
        copied = Path(folder) / DATABASE
        tables = home.database.copy(copied)
        try:
            digests = _write(home, beside, copied, tables, files, key, passing, made_at)
            copied.unlink()
            _try_out(home, beside, tables, digests, passing, Path(folder))
            beside.replace(to / name)
        finally:
            beside.unlink(missing_ok=True)
    return BackupNote(made_at=made_at, path=str((to / name).resolve()), bytes=(to / name).stat().st_size)


def _files(home: Home) -> dict[str, Path]:
    """Name in the backup -> file, of everything but the database."""
    paths = [path for folder in FOLDERS for path in sorted((home.var / folder).rglob("*"))]
    return {
        str(path.relative_to(home.var)): path for path in paths if path.is_file() and path.suffix != ".part"
    }


def _ask_for_room(home: Home, to: Path, files: int) -> None:
    """BackupTrouble where a disk would have less than it should once the copies are on it."""
    database = home.database.size()
    wanted = {home.backups: database, to: database + files}
    if home.backups.stat().st_dev == to.stat().st_dev:
        wanted = {to: 2 * database + files}
    for folder, needed in wanted.items():
        free = shutil.disk_usage(folder).free
        if free < needed + LEFT_FREE:
            raise BackupTrouble(
                f"The disk of {folder} has {free // 2 ** 20} MB free, and a backup needs "
                f"{(needed + LEFT_FREE) // 2 ** 20} MB. Make room, or give another disk: ./risebook backup --to FOLDER."
            )


# --- the file ------------------------------------------------------------------------------------


def _write(
    home: Home, path: Path, copied: Path, tables: Tables, files: dict[str, Path], key: dict[str, str],
    passing: Identity, made_at: dt.datetime,
) -> dict[str, str]:
    """Writes the sealed file and gives the digests of what went in."""
    digests: dict[str, str] = {}

    def write(out: IO[bytes]) -> None:
        with gzip.GzipFile(fileobj=out, mode="wb", compresslevel=1) as packed, \
                tarfile.open(fileobj=packed, mode="w|") as tar:
            contents = {"version": VERSION, "engine": home.database.engine, "made_at": made_at.isoformat(),
                        "tables": tables}
            _add(tar, CONTENTS, json.dumps(contents).encode())
            _add(tar, SECRET_KEY_FILE, home.secret_key.encode())
            digests[DATABASE] = _add_file(tar, DATABASE, copied)
            for name, file in files.items():
                try:
                    digests[name] = _add_file(tar, name, file)
                except FileNotFoundError:
                    # Its days were over while the database was copied.
                    continue

    with os.fdopen(os.open(path, os.O_CREAT | os.O_TRUNC | os.O_RDWR, 0o600), "w+b") as file:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as outer:
            words = HOW_TO_OPEN.format(made_at=f"{made_at:%-d %B %Y, %H:%M %Z}", name=path.name.removesuffix(".part"))
            outer.writestr("READ-ME.txt", words)
            outer.writestr("key.age", bytes.fromhex(key["sealed"]))
            with outer.open("studio.age", "w", force_zip64=True) as sealed:
                sealing.seal(write, sealed, key["public"], passing)
        file.flush()
        os.fsync(file.fileno())
    return digests


def _add(tar: tarfile.TarFile, name: str, content: bytes) -> None:
    entry = tarfile.TarInfo(name)
    entry.size = len(content)
    tar.addfile(entry, io.BytesIO(content))


def _add_file(tar: tarfile.TarFile, name: str, path: Path) -> str:
    """Adds a file as it is now and gives its digest."""
    with path.open("rb") as file:
        entry = tarfile.TarInfo(name)
        entry.size = os.fstat(file.fileno()).st_size
        counted = Counted(file)
        tar.addfile(entry, counted)
    return counted.digest.hexdigest()


class Counted(io.RawIOBase):
    """Reads on from another file and keeps the digest of what passed."""

    def __init__(self, file: IO[bytes]):
        self.file, self.digest = file, hashlib.sha256()

    def read(self, size: int = -1) -> bytes:
        block = self.file.read(size)
        self.digest.update(block)
        return block


# --- whether it is good --------------------------------------------------------------------------


def _try_out(
    home: Home, path: Path, tables: Tables, digests: dict[str, str], passing: Identity, folder: Path
) -> None:
    """Opens the file again, puts its database into an empty place, and compares all of it with what was meant."""
    found: dict[str, str] = {}
    with opened(path, passing) as tar:
        for entry in tar:
            content = tar.extractfile(entry)
            if entry.name == DATABASE:
                counted = Counted(content)
                with (folder / "tried").open("wb") as out:
                    shutil.copyfileobj(counted, out, 1 << 20)
                found[DATABASE] = counted.digest.hexdigest()
            elif entry.name == SECRET_KEY_FILE:
                if content.read() != home.secret_key.encode():
                    raise BackupTrouble("The secret key in the backup is not this studio's.")
            elif entry.name != CONTENTS:
                found[entry.name] = hashlib.file_digest(content, "sha256").hexdigest()
    if found != digests:
        raise BackupTrouble("What was written is not what was read: the disk may be failing. The backup was not kept.")
    with home.database.tried_out(folder / "tried", folder) as there:
        if there != tables:
            differing = sorted(name for name in {*there, *tables} if there.get(name) != tables.get(name))
            raise BackupTrouble(f"The copy differs from the studio in {', '.join(differing)[:200]}.")


@contextlib.contextmanager
def opened(path: Path, identity: Identity) -> Iterator[tarfile.TarFile]:
    """The sealed part of a backup, to be read once from its beginning."""
    with zipfile.ZipFile(path) as outer, outer.open("studio.age") as sealed, \
            sealing.unsealed(sealed, identity) as packed, gzip.GzipFile(fileobj=packed) as plain, \
            tarfile.open(fileobj=plain, mode="r|") as tar:
        yield tar


def _let_go(folder: Path) -> None:
    """Older backups in the folder make room by the rule; what has another name is nobody's but the owner's."""
    there = {moment: path for path in folder.iterdir() if (moment := moment_of(path))}
    for moment in set(there) - kept(there):
        there[moment].unlink(missing_ok=True)
