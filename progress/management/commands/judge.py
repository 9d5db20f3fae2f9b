"""`manage.py judge FILE`: the studio's own judgement on a file of results; touches no database."""

from __future__ import annotations

from argparse import ArgumentParser
from datetime import date
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from progress.judge_command.judge_file import LARGEST_BYTES, ResultsFile, UnreadableResults, read_results_file
from progress.judge_command.judge_rows import judged_rows, written
from progress.judge_command.narrow_table import narrow_table
from studio.sheets.cells import MEGABYTE


class Command(BaseCommand):
    help = "Judge a file of results (CSV, XLSX, XLS, ODS): gaining, at target, stalled, slipping, dropped, "
    help += "not clear yet or too early."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "file",
            help="columns: class, student, measure, side, date, value; optional: "
            "assessor, protocol, cap, target, typical_error",
        )
        parser.add_argument(
            "--as-of",
            help="the last day that is known, as 2031-03-24; otherwise each class's last date in the file",
        )
        parser.add_argument(
            "--weekly", action="store_true", help="one row per week, as it would have been said"
        )
        parser.add_argument("--format", choices=("table", "csv", "json"), default="table")
        parser.add_argument("--wide", action="store_true", help="a table of everything, as --format csv has it")

    def handle(self, *args: Any, **options: Any) -> None:
        as_of = _day(options["as_of"])
        file = _read(Path(options["file"]))
        for refusal in file.refusals:
            self.stderr.write(f"Row {refusal.row} left out: {refusal.reason}")
        rows = judged_rows(file, as_of=as_of, weekly=options["weekly"])
        if options["format"] == "table" and not options["wide"]:
            scales = {file.spelling[key]: facts.scale for key, facts in file.measures.items()}
            pieces = narrow_table(rows, scales=scales, with_week=options["weekly"])
        else:
            pieces = written(rows, options["format"])
        for piece in pieces:
            self.stdout.write(piece, ending="")


def _day(text: str | None) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError as error:
        raise CommandError(f"“{text}” is not a day. Write it as 2031-03-24.") from error


def _read(path: Path) -> ResultsFile:
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise CommandError(f"The file is larger than {LARGEST_BYTES // MEGABYTE} MB.")
        file = read_results_file(path.read_bytes(), path.name)
    except FileNotFoundError as error:
        raise CommandError(f"There is no file “{path}”.") from error
    except OSError as error:
        raise CommandError(f"The file “{path}” cannot be opened.") from error
    except UnreadableResults as error:
        raise CommandError(str(error)) from error
    if not file.classes:
        reasons = "; ".join(f"row {each.row}: {each.reason}" for each in file.refusals[:3])
        raise CommandError(f"No row of this file can be judged ({reasons}).")
    return file
