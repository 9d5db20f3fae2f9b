"""The command twin of bringing in past results: the same reading, the same preview, the same writing."""
from django.utils import timezone

from progress.actions.imports import import_results
from progress.management.commands.import_roster import WORDS, BringsAFile
from screening.results_check import check_results, guessed_columns, open_results
from studio.queries import studio_day


class Command(BringsAFile):
    help = "Brings past results in from a CSV or XLSX file, or shows with --dry-run what it would change."
    opened = staticmethod(open_results)

    def checked(self, sheet, **how):
        return check_results(sheet, columns=guessed_columns(sheet), **how)

    def write(self, **what):
        import_results(by=None, learned_on=studio_day(timezone.now()), **what)

    def show(self, check):
        for row in check.plan:
            before = f"{row.before_written} > " if row.before else ""
            what = f"{row.measure or ''} {row.side} {row.on or ''}: {before}{row.written}"
            why = " ".join([*row.reasons, *row.warnings])
            self.stdout.write(f"row {row.number}: {row.name}, {what}: {WORDS[row.outcome]}{'. ' + why if why else ''}")
