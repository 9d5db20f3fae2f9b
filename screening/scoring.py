"""From attempts to a score, what is plausible, and how a value is written; knows no Django and no database."""
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

# Two targets or scores closer than this are the same number once written.
CENT = Decimal("0.01")


@dataclass(frozen=True)
class Range:
    """What a value may be. Outside `hard` it is refused, outside `soft` it is asked back; ends belong to the range."""

    hard_low: Decimal
    hard_high: Decimal
    soft_low: Decimal
    soft_high: Decimal

    def judge(self, value: Decimal) -> str:
        """ "fine", "ask" or "refuse".

        >>> rises = Range(Decimal(0), Decimal(200), Decimal(0), Decimal(75))
        >>> rises.judge(Decimal(75)), rises.judge(Decimal(120)), rises.judge(Decimal(201))
        ('fine', 'ask', 'refuse')
        """
        if not self.hard_low <= value <= self.hard_high:
            return "refuse"
        return "fine" if self.soft_low <= value <= self.soft_high else "ask"


@dataclass(frozen=True)
class Score:
    """One number for one student, measure, side and day. `capped`: it is "at least" this."""

    value: Decimal
    capped: bool


def score(attempts: Sequence[tuple[Decimal, bool]], rule: str) -> Score | None:
    """The score of a day's attempts, each (value, reached the cap), in the order taken.

    rule: "best" (highest; capped when that attempt was), "mean" (to two decimals; capped when any was, for
    then the mean is at least that) or "last". No attempts: None. An unknown rule: ValueError.

    >>> score([(Decimal(9), False), (Decimal(12), False), (Decimal(11), False)], "best").value
    Decimal('12')
    >>> score([], "best") is None
    True
    """
    if rule not in ("best", "mean", "last"):
        raise ValueError(f"unknown score rule {rule!r}")
    if not attempts:
        return None
    if rule == "last":
        return Score(*attempts[-1])
    if rule == "mean":
        mean = sum((value for value, _ in attempts), Decimal(0)) / len(attempts)
        return Score(mean.quantize(CENT), any(capped for _, capped in attempts))
    return Score(*max(attempts))


def at_cap(value: Decimal, cap: Decimal | None) -> tuple[Decimal, bool]:
    """A value held against the protocol's cap: at or above it, the cap itself, "at least".

    >>> [at_cap(Decimal(value), Decimal(45)) for value in (52, 45, 44)], at_cap(Decimal(9), None)
    ([(Decimal('45'), True), (Decimal('45'), True), (Decimal('44'), False)], (Decimal('9'), False))
    """
    if cap is None or value < cap:
        return value, False
    return cap, True


def parse_value(text: str, decimals: int) -> Decimal | None:
    """A typed number, decimal point or comma, with at most `decimals` places; None where it is not one.

    >>> parse_value(" 12,5 ", 1), parse_value("12.5", 0), parse_value("twelve", 0), parse_value("−3", 0)
    (Decimal('12.5'), None, None, Decimal('-3'))
    """
    text = text.strip().replace("−", "-").replace(",", ".")
    sign, digits = ("-", text[1:]) if text.startswith("-") else ("", text)
    whole, _, places = digits.partition(".")
    if not (whole.isdecimal() and whole.isascii() and len(whole) <= 5):
        return None
    if places and not (places.isdecimal() and places.isascii() and len(places.rstrip("0")) <= decimals):
        return None
    return Decimal(sign + digits.rstrip("."))
