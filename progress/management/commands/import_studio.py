"""`manage.py import_studio FILE`: an exported studio into an empty one."""
import json
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.db import OperationalError, ProgrammingError

from progress.actions.moving import import_studio
from studio.actions import Refused


class Command(BaseCommand):
    help = "Fills an empty studio from a file that export_studio wrote."

    def add_arguments(self, parser) -> None:
        parser.add_argument("file")

    def handle(self, *args, file: str, **options) -> None:
        try:
            content = json.loads(Path(file).read_text(encoding="utf-8"))
        except OSError as problem:
            raise CommandError(f"{file} cannot be read: {problem.strerror}.") from None
        except ValueError:
            raise CommandError(f"{file} is not JSON. Was it cut short?") from None
        try:
            rows = import_studio(content)
        except Refused as refused:
            raise CommandError(str(refused)) from None
        except (OperationalError, ProgrammingError):
            # Both databases say so of a table that is not there.
            raise CommandError("The database has no tables yet. Run: ./risebook manage migrate") from None
        self.stdout.write(f"{rows} rows are in. No password came along: give new ones with new_password NAME.")
