"""Which PINs are too easily guessed; knows no Django, no person and no clock."""
import re
from itertools import pairwise


def weakness(pin: str) -> str | None:
    """Why a PIN will not do, as a key for a sentence; None for one that will.

    `shape`: not four to six of the digits 0 to 9. `repeats`: one block said over and over (1111, 1212,
    123123). `runs`: each digit one more or one less than the one before, 9 and 0 being neighbours (1234,
    9876, 7890). `year`: four digits that a birth year of a person who works here could be (1930 to 2029).
    `date`: six digits whose first four are such a year, or a day and month with two digits of a year behind.

    Source of `repeats` and `runs`: NIST SP 800-63B, 5.1.1.2, "repetitive or sequential characters".
    `year` and `date` are what people choose most after those; common practice, no source.

    >>> [weakness(pin) for pin in ("1234", "1212", "1984", "240384", "198403", "12a4", "7302")]
    ['runs', 'repeats', 'year', 'date', 'date', 'shape', None]
    """
    if not re.fullmatch(r"[0-9]{4,6}", pin):
        return "shape"
    if re.fullmatch(r"(.+?)\1+", pin):
        return "repeats"
    if {(int(after) - int(before)) % 10 for before, after in pairwise(pin)} in ({1}, {9}):
        return "runs"
    if len(pin) == 4 and _is_year(pin):
        return "year"
    if len(pin) == 6 and (_is_year(pin[:4]) or _is_year(pin[2:]) or _is_day(pin[:2], pin[2:4])):
        return "date"
    return None


def _is_year(digits: str) -> bool:
    return 1930 <= int(digits) <= 2029


def _is_day(first: str, second: str) -> bool:
    day, month = sorted((int(first), int(second)), reverse=True)
    return 1 <= day <= 31 and 1 <= month <= 12
