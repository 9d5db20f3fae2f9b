"""The command twin of bringing in a roster: the same reading, the same preview, the same writing."""
from pathlib import Path

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from progress.actions.imports import import_roster
from studio.models import ClassGroup, Term
from studio.queries import studio_day
from studio.roster_check import check_roster, guessed_columns, open_roster
from studio.sheet_file import UnreadableFile

WORDS = {
    "add": "new", "change": "changed", "same": "left alone", "ask": "asking", "leave": "left out", "refuse": "refused",
}


def read_file(path: str) -> bytes:
    """The bytes of a file, or a CommandError with one sentence."""
    try:
        return Path(path).read_bytes()
    except OSError as problem:
        raise CommandError(f"{path} cannot be read: {problem.strerror or problem}.") from None


def named(model, name: str, what: str):
    """The one row of that name, or a CommandError that lists the names there are."""
    row = model.objects.filter(name__iexact=name).first()
    if row is None:
        names = ", ".join(model.objects.values_list("name", flat=True)) or "none yet"
        raise CommandError(f"There is no {what} called {name!r}. There are: {names}.")
    return row


class BringsAFile(BaseCommand):
    """A command that shows what a file would change and, where it may, writes it."""

    def add_arguments(self, parser):
        parser.add_argument("file")
        parser.add_argument("--class", dest="class_name", required=True, metavar="NAME")
        parser.add_argument("--dry-run", action="store_true", help="show the preview and write nothing")
        parser.add_argument(
            "--dates", choices=["day-first", "month-first"], help="how to read dates that could be both"
        )
        parser.add_argument("--leave-out-refused", action="store_true", help="write the rest where rows are refused")

    def handle(self, *args, **options):
        facts = self.named_facts(options)
        try:
            sheet = self.opened(read_file(options["file"]), options["file"])
        except UnreadableFile as problem:
            raise CommandError(str(problem)) from None
        order = (options["dates"] or "").replace("-", "_")
        check = self.checked(sheet, order=order, today=studio_day(timezone.now()), **facts)
        self.show(check)
        told = [(o, n) for o, n in check.counts.items() if n or o not in ("ask", "leave")]
        self.stdout.write(", ".join(f"{count} {WORDS[outcome]}" for outcome, count in told) + ".")
        must_write(check, options)
        if options["dry_run"]:
            self.stdout.write("Nothing was written.")
            return
        self.write(check=check, filename=Path(options["file"]).name, **facts)
        self.stdout.write("Written.")

    def named_facts(self, options: dict) -> dict[str, object]:
        """The rows of the studio that the file is about, by name."""
        return {"class_group": named(ClassGroup, options["class_name"], "class")}


class Command(BringsAFile):
    help = "Brings a roster in from a CSV or XLSX file, or shows with --dry-run what it would change."
    opened = staticmethod(open_roster)

    def add_arguments(self, parser):
        super().add_arguments(parser)
        parser.add_argument("--term", dest="term_name", required=True, metavar="NAME")

    def named_facts(self, options):
        return super().named_facts(options) | {"term": named(Term, options["term_name"], "term")}

    def checked(self, sheet, **how):
        return check_roster(sheet, columns=guessed_columns(sheet), **how)

    def write(self, **what):
        import_roster(by=None, **what)

    def show(self, check):
        for index, heading in enumerate(check.sheet.headings):
            self.stdout.write(f"column {heading!r}: {check.columns.get(index, 'left out')}")
        for planned in check.plan:
            differences = "; ".join(f"{d.field}: {d.before} > {d.after}" for d in planned.differences)
            choices = "; ".join(choice.words for choice in planned.choices)
            why = " ".join([*planned.reasons, choices, differences, *planned.warnings]).strip()
            outcome = WORDS[planned.outcome]
            self.stdout.write(f"row {planned.number}: {planned.name}: {outcome}{'. ' + why if why else ''}")


def must_write(check, options) -> None:
    """Stops, with a sentence, where the file as a whole or some rows cannot be taken."""
    if check.problems:
        raise CommandError(" ".join(f"{problem.column}: {problem.message}" for problem in check.problems))
    if check.order_found in ("ambiguous", "mixed") and not check.order:
        raise CommandError("The dates can be read both ways. Say --dates day-first or --dates month-first.")
    stops = check.counts["refuse"] or check.counts["ask"]
    if stops and not options["dry_run"] and not options["leave_out_refused"]:
        raise CommandError("Rows are refused, so nothing was written. Put them right, or say --leave-out-refused.")
