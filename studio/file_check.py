"""What a checked file shows before anything is written, the same for rosters and results; knows no database."""
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from studio.sheet_file import Sheet
from studio.sheets.dates import date_order
from studio.sheets.rows import Problem

# "ask": a person must answer first; "leave": no row of the list, or left out by hand.
OUTCOMES = ("add", "change", "same", "ask", "leave", "refuse")
TAKEN = ("add", "change", "same")
# What the dates say where a person has to decide how they are read.
OPEN_ORDERS = ("ambiguous", "mixed")


@dataclass(frozen=True)
class FileCheck:
    """The preview of a file. `plan`: rows with an `outcome` out of OUTCOMES, in the order of the file.

    `problems` are those of the file as a whole. `order_found` is what the dates alone say; `order` is what is used,
    "" while it is asked.
    """

    sheet: Sheet
    columns: dict[int, str]
    order_found: str
    order: str
    problems: tuple[Problem, ...]
    questions: tuple[str, ...]
    plan: tuple[Any, ...]

    @property
    def counts(self) -> dict[str, int]:
        """How many rows have each outcome; none is 0."""
        found = Counter(row.outcome for row in self.plan)
        return {outcome: found[outcome] for outcome in OUTCOMES}

    @property
    def left_out(self) -> tuple[Any, ...]:
        """The rows of which nothing is written, for any reason."""
        return tuple(row for row in self.plan if row.outcome not in TAKEN)

    @property
    def asks_order(self) -> bool:
        """True while nobody has said whether the day or the month comes first; until then nothing is written."""
        return self.order_found in OPEN_ORDERS and not self.order

    @property
    def may_confirm(self) -> bool:
        return self.may_answer and bool(self.counts["add"] or self.counts["change"])

    @property
    def may_answer(self) -> bool:
        """True where ticks and answers could still bring rows in."""
        waiting = self.counts["add"] + self.counts["change"] + self.counts["ask"] + self.counts["leave"]
        return not self.problems and not self.asks_order and bool(waiting)


def order_of_dates(
    sheet: Sheet, columns: Mapping[int, str], fields: Sequence[str], answer: str
) -> tuple[str, str]:
    """(what the dates of these columns alone say, what to use).

    A person's answer counts only where the dates leave it open.
    """
    texts = [
        row.cells[index] for index, name in columns.items() if name in fields
        for row in sheet.rows if index < len(row.cells)
    ]
    found = date_order(texts)
    return found, answer if found in OPEN_ORDERS else found
