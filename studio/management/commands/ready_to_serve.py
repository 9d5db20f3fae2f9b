"""`manage.py ready_to_serve`: what is looked at before a start writes anything; one sentence if it must not."""
import fcntl
import os
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from studio.upkeep.databases import DatabaseTrouble, SqliteFile, sqlite_is_sound
from studio.upkeep.home import Home, home, note_of
from studio.upkeep.restoring import is_half_done


class Command(BaseCommand):
    help = "Refuses a start on a damaged, emptied or half-restored studio, before anything is written."
    requires_system_checks = []

    def add_arguments(self, parser) -> None:
        parser.add_argument("--as", dest="name", metavar="NAME", help="who a second start is told that runs here")

    def handle(self, *args, name: str | None, **options) -> None:
        here = home()
        if is_half_done(here.var):
            raise CommandError("A restore was begun here and did not end. Run ./risebook restore FILE once more.")
        closed = [path for path in self.written(here) if path.exists() and not os.access(path, os.W_OK)]
        if closed:
            raise CommandError(f"{closed[0]} cannot be written. Start Risebook as the person it belongs to.")
        if isinstance(here.database, SqliteFile):
            self.look_at(here.database, here)
        if name:
            self.say_who(here, name)

    def written(self, here: Home) -> list[Path]:
        return [here.var, *([here.database.path] if isinstance(here.database, SqliteFile) else [])]

    def look_at(self, database: SqliteFile, here: Home) -> None:
        note = note_of(here.backups)
        remedy = (
            f"Nothing was changed. Move {here.var} to another place, then bring the last good backup back: "
            f"./risebook restore {note.path or 'FILE'}"
        )
        try:
            is_there = database.path.exists() and database.path.stat().st_size > 0
            if is_there:
                sqlite_is_sound(database.path)
        except DatabaseTrouble as why:
            raise CommandError(f"{why}. {remedy}") from None
        if note.made_at is not None and not is_there:
            raise CommandError(f"{database.path} is gone or empty, and there was a studio in it. {remedy}")

    def say_who(self, here: Home, name: str) -> None:
        """Writes the name where a second start looks, unless somebody else runs here already."""
        with (here.var / "run.lock").open("a+") as lock:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                raise CommandError("Risebook runs in this folder already. It was left alone.") from None
            lock.truncate(0)
            lock.write(f"{name}\n")
