"""Brings a studio back from a backup into an empty place: first beside it, looked through, then all at once."""
import contextlib
import json
import os
import shutil
import subprocess
import sys
import zipfile
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from studio.upkeep import sealing
from studio.upkeep.backing_up import CONTENTS, DATABASE, FOLDERS, opened
from studio.upkeep.databases import DatabaseTrouble, SqliteFile
from studio.upkeep.home import KEY_FILE, SECRET_KEY_FILE, Home
from studio.version import VERSION

MANAGE = Path(__file__).resolve().parents[2] / "manage.py"
# While it is there a studio is half back, and nothing starts.
BESIDE = "restoring"
BESIDE_DATABASE = "risebook.sqlite3"


class RestoreTrouble(Exception):
    """Why nothing was brought back, in a sentence for a person."""


@dataclass(frozen=True)
class Unpacked:
    """A backup that was opened and found whole, in a folder beside the studio's."""

    folder: Path
    contents: dict[str, Any]

    @property
    def rows(self) -> int:
        return sum(rows for rows, _digest in self.contents["tables"].values())


def is_half_done(var: Path) -> bool:
    """True where a restore was begun and has not come to its end."""
    return (var / BESIDE).is_dir()


def ask_whether_empty(home: Home) -> None:
    """RestoreTrouble where a studio is there already: nothing is written over."""
    if home.database.is_empty():
        return
    if isinstance(home.database, SqliteFile):
        raise RestoreTrouble(
            f"There is a studio in {home.var} already. Move that folder to another place first; nothing was changed."
        )
    raise RestoreTrouble("The database is not empty. Make an empty one first; nothing was changed.")


def unpack(path: Path, words: str, home: Home) -> Unpacked:
    """Opens a backup by its passphrase or key into a folder beside the studio's, and looks whether all of it is whole.

    RestoreTrouble where it is not, where the passphrase is another's, or where a newer Risebook made it.
    """
    folder = home.var / BESIDE
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(mode=0o700, parents=True)
    try:
        with zipfile.ZipFile(path) as outer:
            sealed_key = outer.read("key.age")
        identity = sealing.opened_key(sealed_key, words)
    except sealing.NotTheKey:
        raise RestoreTrouble("This passphrase does not open this backup.") from None
    except (OSError, zipfile.BadZipFile, KeyError):
        raise RestoreTrouble(f"{path} is no backup of Risebook, or it was cut short.") from None
    try:
        contents = _take_out(path, identity, folder, home)
    except (sealing.NotTheKey, zipfile.BadZipFile, EOFError, ValueError, KeyError) as why:
        raise RestoreTrouble(f"{path} is damaged: {why}. Try an older backup.") from None
    _write_key(folder, sealed_key, identity)
    return Unpacked(folder, contents)


def _take_out(path: Path, identity: sealing.Identity, folder: Path, home: Home) -> dict[str, Any]:
    contents: dict[str, Any] = {}
    with opened(path, identity) as tar:
        for entry in tar:
            content = tar.extractfile(entry)
            if entry.name == CONTENTS:
                contents = json.loads(content.read())
                _ask_whether_ours(contents, home)
                continue
            place = _place_of(entry.name, folder)
            for parent in reversed(place.relative_to(folder).parents):
                (folder / parent).mkdir(mode=0o700, exist_ok=True)
            with os.fdopen(os.open(place, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as out:
                shutil.copyfileobj(content, out, 1 << 20)
    if not contents or not (folder / DATABASE).exists():
        raise ValueError("its end is missing")
    return contents


def _place_of(name: str, folder: Path) -> Path:
    """Where a file of the backup goes: into the folder, whatever it calls itself."""
    parts = PurePosixPath(name).parts
    is_known = name in (DATABASE, SECRET_KEY_FILE) or (len(parts) > 1 and parts[0] in FOLDERS)
    if not is_known or ".." in parts:
        raise ValueError(f"nobody knows what {name[:60]!r} is")
    return folder.joinpath(*parts)


def _ask_whether_ours(contents: dict[str, Any], home: Home) -> None:
    if _as_numbers(contents["version"]) > _as_numbers(VERSION):
        raise RestoreTrouble(
            f"Risebook {contents['version']} made this backup, and this is {VERSION}. Get the newer Risebook first."
        )
    if contents["engine"] != home.database.engine:
        names = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}
        raise RestoreTrouble(
            f"This backup is of a studio on {names[contents['engine']]}, and DATABASE_URL leads to "
            f"{names[home.database.engine]}. Restore it where it came from; export_studio moves it to the other."
        )


def _as_numbers(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in version.split("."))


def _write_key(folder: Path, sealed_key: bytes, identity: sealing.Identity) -> None:
    """So that the studio's next backups open with the same passphrase."""
    with os.fdopen(os.open(folder / KEY_FILE, os.O_CREAT | os.O_TRUNC | os.O_WRONLY, 0o600), "w") as file:
        json.dump({"public": str(identity.to_public()), "sealed": sealed_key.hex()}, file)


def stand_up(unpacked: Unpacked, home: Home) -> dict[str, str]:
    """Puts the database where commands reach it, compares it with what the backup says of itself, and brings it
    forward to this version; gives the environment under which commands reach it. Nothing of it is served yet."""
    folder, environment = unpacked.folder, os.environ | {"RISEBOOK_VAR_DIR": str(unpacked.folder)}
    database = home.database
    if isinstance(database, SqliteFile):
        database = SqliteFile(folder / BESIDE_DATABASE)
        environment["DATABASE_URL"] = f"sqlite:///{database.path}"
    said = {name: tuple(told) for name, told in unpacked.contents["tables"].items()}
    try:
        with database.tried_out(folder / DATABASE, folder) as there:
            if there != said:
                raise RestoreTrouble("The database in this backup is not the one that was put in. Try an older backup.")
        database.put_back(folder / DATABASE)
    except DatabaseTrouble as why:
        raise RestoreTrouble(str(why)) from None
    (folder / DATABASE).unlink()
    manage("migrate", "--noinput", "--verbosity", "0", environment=environment)
    return environment


def manage(*words: str, environment: dict[str, str]) -> str:
    """What one of Risebook's commands says on the studio that is being brought back."""
    done = subprocess.run(  # noqa: S603
        [sys.executable, str(MANAGE), *words, "--no-color"], env=environment, capture_output=True, text=True
    )
    if done.returncode:
        lines = [line for line in done.stderr.splitlines() if line.strip()] or ["nothing"]
        raise RestoreTrouble(f"{words[0]} failed. It said: {lines[-1].removeprefix('CommandError: ')[:300]}")
    return done.stdout


def move_in(unpacked: Unpacked, home: Home) -> None:
    """Everything to its place, the database last: only with it there is a studio."""
    for name in (SECRET_KEY_FILE, KEY_FILE):
        (unpacked.folder / name).replace(home.var / name)
    for name in FOLDERS:
        if (unpacked.folder / name).is_dir():
            shutil.rmtree(home.var / name, ignore_errors=True)
            (unpacked.folder / name).replace(home.var / name)
    if isinstance(home.database, SqliteFile):
        home.database.put_back(unpacked.folder / BESIDE_DATABASE)
    shutil.rmtree(unpacked.folder)


def give_up(home: Home) -> None:
    """After a trouble: what was unpacked beside the studio goes, unless a server's database is filled already."""
    if isinstance(home.database, SqliteFile) or home.database.is_empty():
        with contextlib.suppress(OSError):
            shutil.rmtree(home.var / BESIDE)
