"""`manage.py backup`: one sealed file of all that a studio is, tried out before it counts as one."""
import sys
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio.upkeep.backing_up import BackupTrouble, has_key, make_backup, make_key
from studio.upkeep.home import home
from studio.upkeep.sealing import new_passphrase

SHOWN_ONCE = """
The passphrase of this studio's backups, shown this once:

    {passphrase}

Write it on paper and keep it away from this computer. Without it no backup can be opened, by nobody.
"""


class Command(BaseCommand):
    help = "Makes a sealed backup while people work, and tries it out by restoring it into an empty place."

    def add_arguments(self, parser) -> None:
        parser.add_argument("--to", metavar="FOLDER", help="another folder than var/backups, such as a stick or disk")
        parser.add_argument("--new-key", action="store_true", help="a new passphrase from now on, printed once")
        parser.add_argument("--passphrase-file", metavar="FILE", help="with --new-key: your own, the file's first line")

    def handle(self, *args, to: str | None, new_key: bool, passphrase_file: str | None, **options) -> None:
        here = home()
        if here.database.is_empty():
            raise CommandError("There is no studio here yet, so there is nothing to back up.")
        if new_key or passphrase_file or (not has_key(here) and sys.stdin.isatty()):
            self.make_key(here, passphrase_file)
        try:
            note = make_backup(here, to=Path(to) if to else here.backups, now=timezone.now)
        except BackupTrouble as why:
            raise CommandError(str(why)) from None
        self.stdout.write(
            f"{note.path}: {max(1, note.bytes // 1000):,} kB, made, opened again and compared table by table."
        )

    def make_key(self, here, passphrase_file: str | None) -> None:
        if not passphrase_file:
            passphrase = new_passphrase()
            make_key(here, passphrase)
            self.stdout.write(SHOWN_ONCE.format(passphrase=passphrase))
            return
        try:
            [passphrase, *_more] = Path(passphrase_file).read_text(encoding="utf-8").splitlines() or [""]
        except OSError as why:
            raise CommandError(f"{passphrase_file} cannot be read: {why.strerror}.") from None
        if len(passphrase.strip()) < 16:
            raise CommandError("The passphrase is shorter than 16 characters.")
        make_key(here, passphrase)
