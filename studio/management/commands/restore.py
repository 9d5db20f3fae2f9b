"""`manage.py restore FILE`: a studio from its backup; whoever was erased since erased again before anybody is in."""
import sys
from getpass import getpass
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from studio.upkeep import restoring
from studio.upkeep.home import home
from studio.upkeep.restoring import RestoreTrouble, Unpacked


class Command(BaseCommand):
    help = "Brings a studio back from a backup into an empty place: tablets and families' links included."
    requires_system_checks = []

    def add_arguments(self, parser) -> None:
        parser.add_argument("file")
        parser.add_argument("--passphrase-file", metavar="FILE",
                            help="a file whose first line is the passphrase or the key; otherwise it is asked for")
        parser.add_argument("--erased", metavar="NUMBER", type=int, nargs="+",
                            help="numbers of the certificates of erasure since that backup")
        parser.add_argument("--none-erased", action="store_true", help="nobody was erased since that backup")

    def handle(self, *args, file: str, passphrase_file: str | None, **options) -> None:
        here, path = home(), Path(file)
        try:
            restoring.ask_whether_empty(here)
            if not path.is_file():
                raise RestoreTrouble(f"There is no file {file}.")
            try:
                unpacked = restoring.unpack(path, self.words(passphrase_file), here)
                numbers = self.numbers(unpacked, **options)
                environment = restoring.stand_up(unpacked, here)
                if numbers:
                    self.stdout.write(restoring.manage("erase_again", *map(str, numbers), environment=environment))
                restoring.move_in(unpacked, here)
            except BaseException:
                restoring.give_up(here)
                raise
        except RestoreTrouble as why:
            raise CommandError(f"{why} Nothing was brought back.") from None
        self.stdout.write(f"The studio is back, {unpacked.rows:,} rows of it. Start it: ./risebook run")

    def words(self, passphrase_file: str | None) -> str:
        """The passphrase, from its file or from the person at the terminal."""
        if passphrase_file:
            try:
                return (Path(passphrase_file).read_text(encoding="utf-8").splitlines() or [""])[0]
            except OSError as why:
                raise RestoreTrouble(f"{passphrase_file} cannot be read: {why.strerror}.") from None
        if not sys.stdin.isatty():
            raise RestoreTrouble("Say where the passphrase is: --passphrase-file FILE.")
        return getpass("The passphrase of the backups (it stays hidden while you type): ")

    def numbers(self, unpacked: Unpacked, *, erased: list[int] | None, none_erased: bool, **options) -> list[int]:
        """Who was erased since: asked before anything of the studio can be opened."""
        if erased or none_erased:
            return erased or []
        made_at = timezone.localtime(parse_datetime(unpacked.contents["made_at"]))
        question = (
            f"This backup is of {made_at:%-d %B %Y, %H:%M}. Whoever was erased since would be back in it.\n"
            "Type the numbers on the certificates of erasure since then, or none: "
        )
        if not sys.stdin.isatty():
            raise RestoreTrouble("Say who was erased since that backup: --erased NUMBER ..., or --none-erased.")
        while True:
            said = input(question).replace(",", " ").split()
            if [word.lower() for word in said] == ["none"]:
                return []
            if said and all(word.isdecimal() for word in said):
                return [int(word) for word in said]
