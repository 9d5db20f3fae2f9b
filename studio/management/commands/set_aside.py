"""`manage.py set_aside`: before an upgrade, the database as it is, to come back to; `--bring-back` does that,
`--nothing-lost` says whether what people wrote is still there after it, and `--forget` throws the copy away."""
import json
import shutil

from django.core.management.base import BaseCommand, CommandError

from studio.upkeep.databases import DatabaseTrouble
from studio.upkeep.home import Home, home

FOLDER, COUNTS = "before-upgrade", "counts.json"
# What people wrote down and no upgrade may lose; what is judged from it is made anew.
FACTS = ("studio_student", "studio_user", "studio_guardian", "studio_consent", "screening_result",
         "progress_painreport", "progress_logentry", "studio_auditrow")


class Command(BaseCommand):
    help = "Sets the database aside before an upgrade, and brings it back where that failed."
    requires_system_checks = []

    def add_arguments(self, parser) -> None:
        what = parser.add_mutually_exclusive_group()
        for name in ("bring-back", "nothing-lost", "forget"):
            what.add_argument(f"--{name}", action="store_true")

    def handle(self, *args, bring_back: bool, nothing_lost: bool, forget: bool, **options) -> None:
        here = home()
        folder = here.var / FOLDER
        try:
            if bring_back:
                bring_it_back(here)
            elif nothing_lost:
                say_what_is_lost(here)
            elif forget:
                shutil.rmtree(folder, ignore_errors=True)
            else:
                set_it_aside(here)
        except DatabaseTrouble as why:
            raise CommandError(str(why)) from None


def set_it_aside(here: Home) -> None:
    folder = here.var / FOLDER
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(mode=0o700)
    tables = here.database.copy(folder / "database")
    (folder / COUNTS).write_text(json.dumps({name: tables[name][0] for name in FACTS if name in tables}))


def bring_it_back(here: Home) -> None:
    """In place of whatever the upgrade made of it."""
    here.database.replace(here.var / FOLDER / "database")
    shutil.rmtree(here.var / FOLDER)


def say_what_is_lost(here: Home) -> None:
    before = json.loads((here.var / FOLDER / COUNTS).read_text())
    now = here.database.counts(list(before))
    lost = [name for name, count in before.items() if now.get(name, 0) < count]
    if lost:
        raise CommandError(f"Rows are missing in {', '.join(lost)}.")
