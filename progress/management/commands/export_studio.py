"""`manage.py export_studio FILE`: the whole studio as JSON, for another computer or to keep; without any key."""
import os
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError

from progress.actions.moving import export_studio


class Command(BaseCommand):
    help = "Writes the whole studio into a JSON file that import_studio reads. It holds children's health data."

    def add_arguments(self, parser) -> None:
        parser.add_argument("file")

    def handle(self, *args, file: str, **options) -> None:
        path = Path(file)
        try:
            # Nobody else may read it, and nothing that is there is written over.
            with os.fdopen(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "w", encoding="utf-8") as out:
                written = export_studio(out)
        except FileExistsError:
            raise CommandError(f"{file} is there already.") from None
        except OSError as problem:
            raise CommandError(f"{file} cannot be written: {problem.strerror}.") from None
        self.stdout.write(f"{written} rows written. The file holds children's health data: encrypt it.")
