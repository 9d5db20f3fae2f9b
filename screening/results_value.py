"""What the cell of a value says: a number, a grade or a reason why there is none; knows no measure."""

import re
from dataclasses import dataclass
from decimal import Decimal

from studio.sheets.cells import fold

# Why there is no value: said in the cell, or the cell is blank.
REASONS = ("absent", "declined", "pain", "not_today")
# Words that stand for a value; the measure's protocol knows which number.
GRADE_WORDS = ("lost", "corrected", "clean", "yes", "nearly", "no")
# The places a stored value has.
MAX_DECIMALS = 2
# No measure reaches 1000, so a comma can only be a decimal comma; the longest plank allowed is 600 seconds.
MAX_WHOLE_DIGITS = 3

_REASON_WORDS = {
    "absent": "absent, away, abs, abwesend, fehlt, absente, ausente, assente",
    "declined": "declined, refused, no thanks, verweigert, abgelehnt, refus, rechazado, rifiutato",
    "pain": "pain, pain stopped, stopped for pain, injured, schmerz, douleur, dolor, dolore",
    "not_today": "not today, not tested, not done, nt, n t, dnt, none, nicht getestet, non teste, no probado",
}
_REASON_BY_WORDS = {
    fold(word): reason for reason, words in _REASON_WORDS.items() for word in words.split(",")
}
_AT_LEAST = re.compile(
    r"(?:≥|>=|=>|>|at least\b|mindestens\b|au moins\b|al menos\b|almeno\b)\s*", re.IGNORECASE
)
_UNIT = re.compile(r"\s*(s|secs?|seconds?|sek|sekunden|cm|mm|°|deg|degrees|reps?|rises?)\.?$", re.IGNORECASE)
# What is written behind a value, as the units that measures have.
_UNIT_BY_WORD = {
    "s": "s", "sec": "s", "secs": "s", "second": "s", "seconds": "s", "sek": "s", "sekunden": "s", "cm": "cm",
    "mm": "mm", "°": "°", "deg": "°", "degrees": "°",
    "rep": "rises", "reps": "rises", "rise": "rises", "rises": "rises",
}
TWO_VALUES = re.compile(r"\s*[\d.,]+\s*[/|]\s*[\d.,]+\s*", re.ASCII)
_NUMBER = re.compile(r"[-−]?\d+(?:[.,]\d+)?", re.ASCII)


@dataclass(frozen=True)
class ValueReading:
    """What a value's cell says: a number, a grade word or a reason; all empty where it says none of them.

    unit: "s", "cm", "mm", "°" or "rises" where one stands behind the number.
    """

    value: Decimal | None = None
    word: str = ""
    capped: bool = False
    reason_missing: str = ""
    unit: str = ""

    @property
    def is_understood(self) -> bool:
        return self.value is not None or bool(self.word or self.reason_missing)


def read_value(text: str) -> ValueReading:
    """The meaning of one value's cell.

    A number with a decimal comma or point and at most a unit behind it; with ≥, >=, "at least" before or +
    behind it is capped. Two separators, a fraction, a range or four digits before the separator are not
    understood.

    >>> read_value("4,5").value, read_value("≥45 s").value, read_value("≥45 s").capped
    (Decimal('4.5'), Decimal('45'), True)
    >>> read_value("clean").word, read_value("declined").reason_missing, read_value("12/16").is_understood
    ('clean', 'declined', False)
    """
    words = fold(text)
    if not text:
        return ValueReading(reason_missing="not_today")
    if words in _REASON_BY_WORDS:
        return ValueReading(reason_missing=_REASON_BY_WORDS[words])
    if words in GRADE_WORDS:
        return ValueReading(word=words)
    bare = _AT_LEAST.sub("", text, count=1) if _AT_LEAST.match(text) else text
    capped = bare != text
    bare, unit = _without_unit(bare)
    if bare.endswith("+"):
        bare, inner = _without_unit(bare[:-1].rstrip())
        capped, unit = True, unit or inner
    if not _NUMBER.fullmatch(bare):
        return ValueReading()
    number = bare.replace("−", "-").replace(",", ".")
    whole, _separator, places = number.removeprefix("-").partition(".")
    if len(whole) > MAX_WHOLE_DIGITS or len(places.rstrip("0")) > MAX_DECIMALS:
        return ValueReading()
    return ValueReading(value=Decimal(number), capped=capped, unit=unit)


def _without_unit(text: str) -> tuple[str, str]:
    found = _UNIT.search(text)
    return (text[: found.start()], _UNIT_BY_WORD[found[1].lower()]) if found else (text, "")
