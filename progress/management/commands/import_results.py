"""The command twin of bringing in past results: the same reading, the same preview, the same writing."""
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from progress.actions.imports import import_results
from progress.management.commands.import_roster import WORDS, must_write, named, read_file, show_counts
from screening.results_check import check_results, guessed_columns, open_results
from studio.models import ClassGroup
from studio.queries import studio_day
from studio.roster_check import UnreadableFile


class Command(BaseCommand):
    help = "Brings past results in from a CSV or XLSX file, or shows with --dry-run what it would change."

    def add_arguments(self, parser):
        parser.add_argument("file")
        parser.add_argument("--class", dest="class_name", required=True, metavar="NAME")
        parser.add_argument("--dry-run", action="store_true", help="show the preview and write nothing")
        parser.add_argument(
            "--dates", choices=["day-first", "month-first"], help="how to read dates that could be both"
        )
        parser.add_argument("--leave-out-refused", action="store_true", help="write the rest where rows are refused")

    def handle(self, *args, **options):
        group = named(ClassGroup, options["class_name"], "class")
        try:
            sheet = open_results(read_file(options["file"]), options["file"])
        except UnreadableFile as problem:
            raise CommandError(str(problem)) from None
        check = check_results(
            sheet, columns=guessed_columns(sheet), order=(options["dates"] or "").replace("-", "_"),
            class_group=group, today=studio_day(timezone.now()),
        )
        for row in check.plan:
            before = f"{row.before_written} > " if row.before else ""
            what = f"{row.measure or ''} {row.side} {row.on or ''}: {before}{row.written}"
            why = " ".join([*row.reasons, *row.warnings])
            self.stdout.write(f"row {row.number}: {row.name}, {what}: {WORDS[row.outcome]}{'. ' + why if why else ''}")
        show_counts(self, check)
        must_write(check, options)
        if options["dry_run"]:
            self.stdout.write("Nothing was written.")
            return
        import_results(
            check=check,
            filename=Path(options["file"]).name,
            class_group=group,
            by=None,
            learned_on=studio_day(timezone.now()),
        )
        self.stdout.write("Written.")
