"""Where a studio's own things lie, and what is known of its backups; knows no model."""
import datetime as dt
import json
import os
import re
from dataclasses import asdict, dataclass
from pathlib import Path

from django.conf import settings
from django.db import connection

from studio.upkeep.databases import PostgresDatabase, SqliteFile, database_of

KEY_FILE, SECRET_KEY_FILE = "backup-key", "secret-key"
# What a backup is called: the instant of its beginning, in UTC, so that no summer time puts two under one name.
NAME = re.compile(r"risebook-(\d{4}-\d\d-\d\d-\d{6})\.zip")
NAME_TIME = "%Y-%m-%d-%H%M%S"


@dataclass(frozen=True)
class Home:
    """A studio's folder, its database and its key."""

    var: Path
    database: SqliteFile | PostgresDatabase
    secret_key: str

    @property
    def backups(self) -> Path:
        return self.var / "backups"


@dataclass(frozen=True)
class BackupNote:
    """What became of the last backup; of the last good one everything but `failed_at` and `why`."""

    made_at: dt.datetime | None = None
    path: str = ""
    bytes: int = 0
    failed_at: dt.datetime | None = None
    why: str = ""

    @property
    def is_there(self) -> bool:
        """Whether the file of the last good one can still be seen; a stick may have been pulled out."""
        return bool(self.path) and Path(self.path).is_file()


def home() -> Home:
    """This studio's, as its settings say."""
    return Home(Path(settings.VAR_DIR), database_of(connection), settings.SECRET_KEY)


def note_of(backups: Path) -> BackupNote:
    """What is known of the last backup; nothing where there was none or the note cannot be read."""
    try:
        said = json.loads((backups / "last.json").read_text(encoding="utf-8"))
        moments = {
            name: dt.datetime.fromisoformat(said[name]) if said.get(name) else None for name in ("made_at", "failed_at")
        }
        return BackupNote(path=str(said["path"]), bytes=int(said["bytes"]), why=str(said["why"]), **moments)
    except (OSError, ValueError, KeyError, TypeError):
        return BackupNote()


def keep_note(backups: Path, note: BackupNote) -> None:
    """Writes it down, whole or not at all."""
    beside = backups / f"last.json.{os.getpid()}.part"
    beside.write_text(json.dumps(asdict(note), default=lambda moment: moment.isoformat()), encoding="utf-8")
    beside.replace(backups / "last.json")


def moment_of(path: Path) -> dt.datetime | None:
    """When a backup was made, by its name; None for any other file."""
    found = NAME.fullmatch(path.name)
    try:
        return dt.datetime.strptime(found[1], NAME_TIME).replace(tzinfo=dt.UTC) if found else None
    except ValueError:
        return None
