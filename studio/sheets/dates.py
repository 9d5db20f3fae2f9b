"""What a date written in a file may mean, and when only a person can say; knows no clock and no columns.

Orders: "iso" year first, "day_first", "month_first". A file's order is found once for all its dates
(`date_order`) and confirmed by a person; each date is then read with it (`one_date`). Nothing is guessed.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from studio.sheets.cells import fold

ORDERS = ("iso", "day_first", "month_first")

# January to December in English, German, French, Spanish and Italian, folded (common knowledge, no source).
_MONTH_WORDS = (
    "january januar janvier enero gennaio janner",
    "february februar fevrier febrero febbraio feber",
    "march marz mars marzo maerz",
    "april avril abril aprile",
    "may mai mayo maggio",
    "june juni juin junio giugno",
    "july juli juillet julio luglio",
    "august aout agosto",
    "september septembre septiembre settembre setiembre",
    "october oktober octobre octubre ottobre",
    "november novembre noviembre",
    "december dezember decembre diciembre dicembre",
)
_SHORTEST_ABBREVIATION = 3

_TIME = re.compile(
    r"(?:T|\s+)\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?:\s*[AaPp]\.?[Mm]\.?)?(?:Z|[+-]\d{2}:?\d{2})?$"
)
_YEAR_FIRST = re.compile(r"(\d{4})\s*[-/.]\s*(\d{1,2})\s*[-/.]\s*(\d{1,2})\.?$|(\d{4})(\d{2})(\d{2})$")
_YEAR_LAST = re.compile(r"(\d{1,2})\s*[-/. ]\s*(\d{1,2})\s*[-/. ]\s*('?\d{2}|\d{4})\.?$")
_DAY_NUMBER = re.compile(r"\d{5}(?:\.\d+)?$")


@dataclass(frozen=True)
class DateReading:
    """A date, or the reason there is none. `on` is None exactly when `trouble` is one of:

    not_a_date      no date in any order
    day_number      a spreadsheet's day count, such as 41723
    which_order     two orders give two dates and no order was chosen
    other_order     a date, but not in the chosen order
    which_century   two digits for the year, and the range leaves no century or more than one
    """

    on: date | None
    trouble: str = ""


def _months_by_word() -> dict[str, int]:
    """Every full name and every abbreviation of three letters or more that means one month only."""
    meanings: dict[str, set[int]] = {}
    for month, words in enumerate(_MONTH_WORDS, start=1):
        for word in words.split():
            for end in range(_SHORTEST_ABBREVIATION, len(word) + 1):
                meanings.setdefault(word[:end], set()).add(month)
    full = {word: month for month, words in enumerate(_MONTH_WORDS, start=1) for word in words.split()}
    return {word: next(iter(months)) for word, months in meanings.items() if len(months) == 1} | full


_MONTHS = _months_by_word()


def _calendar_day(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def _years(text: str) -> tuple[int, ...]:
    """The year as written; for two digits one in each century that a living person can have."""
    digits = text.lstrip("'")
    return (int(digits),) if len(digits) == 4 else (1900 + int(digits), 2000 + int(digits))


def _days(years: Iterable[int], month: int, day: int) -> tuple[date, ...]:
    return tuple(on for year in years if (on := _calendar_day(year, month, day)))


def _readings(text: str) -> dict[str, tuple[date, ...]]:
    """Per order the dates the text can mean (two where the year has two digits); {} for no date at all.

    A text whose order says nothing (year first, a month by name) stands under every order.
    """
    text = _TIME.sub("", text.strip()).strip()
    if not text.isascii() and any(character.isdigit() and not character.isascii() for character in text):
        return {}  # other scripts' digits: left to a person
    if found := _YEAR_FIRST.match(text):
        year, month, day = (int(part) for part in found.groups() if part)
        return _every_order(_days((year,), month, day))
    if found := _YEAR_LAST.match(text):
        first, second, years = int(found[1]), int(found[2]), _years(found[3])
        by_order = {"day_first": _days(years, second, first), "month_first": _days(years, first, second)}
        return {order: days for order, days in by_order.items() if days}
    return _every_order(_named_month_days(text))


def _every_order(days: tuple[date, ...]) -> dict[str, tuple[date, ...]]:
    return dict.fromkeys(ORDERS, days) if days else {}


def _named_month_days(text: str) -> tuple[date, ...]:
    """ "25 March 2014", "March 25th, 2014", "25-Mar-14", "25. März 2014", "25 de marzo de 2014"."""
    words = [word for word in fold(text).split() if word not in ("de", "del", "of", "the")]
    months = [_MONTHS[word] for word in words if word in _MONTHS]
    numbers = [re.sub(r"(?<=\d)(st|nd|rd|th|er)$", "", word) for word in words if word not in _MONTHS]
    if len(months) != 1 or len(numbers) != 2 or not all(n.isascii() and n.isdigit() for n in numbers):
        return ()
    if len(numbers[0]) == 4:
        numbers.reverse()
    day, year = numbers
    if len(day) > 2 or len(year) not in (2, 4):
        return ()
    return _days(_years(year), months[0], int(day))


def date_order(texts: Iterable[str]) -> str:
    """The order in which a file's dates are written, as far as they tell; what is no date says nothing.

    "day_first" or "month_first"  at least one date has only this order, and none only the other
    "mixed"      some have only the one order, some only the other: a person must look
    "ambiguous"  at least one date gives two different days, and no date decides: a person must say
    "iso"        every date is read in one way whatever the order: year first, month by name, or 05/05/2014
    "none"       no dates at all

    >>> date_order(["03/04/2014", "25/03/2014"]), date_order(["03/04/2014"]), date_order(["2014-04-03"])
    ('day_first', 'ambiguous', 'iso')
    """
    seen: set[str] = set()
    for text in texts:
        readings = _readings(text)
        if not readings:
            continue
        day_first, month_first = readings.get("day_first"), readings.get("month_first")
        if day_first == month_first:
            seen.add("iso")
        elif day_first and month_first:
            seen.add("ambiguous")
        else:
            seen.add("day_first" if day_first else "month_first")
    if {"day_first", "month_first"} <= seen:
        return "mixed"
    return next(
        (order for order in ("day_first", "month_first", "ambiguous", "iso") if order in seen), "none"
    )


def one_date(text: str, order: str, *, earliest: date, latest: date) -> DateReading:
    """The one date the text means.

    order: "day_first" or "month_first" as a person confirmed it; anything else ("iso", "mixed", "ambiguous",
    "none") means that no order was chosen, and then a date with two readings is left open.
    earliest, latest: used only to tell the century of a two-digit year; a full year outside them is returned,
    so that the caller can say what is wrong with it.

    >>> one_date("25/03/14", "day_first", earliest=date(2000, 1, 1), latest=date(2026, 1, 1)).on
    datetime.date(2014, 3, 25)
    """
    readings = _readings(text)
    if not readings:
        return DateReading(None, "day_number" if _DAY_NUMBER.match(text.strip()) else "not_a_date")
    if order in ("day_first", "month_first"):
        if order not in readings:
            return DateReading(None, "other_order")
        return _in_range(readings[order], earliest, latest)
    if len(set(readings.values())) > 1:
        return DateReading(None, "which_order")
    return _in_range(next(iter(readings.values())), earliest, latest)


def _in_range(days: tuple[date, ...], earliest: date, latest: date) -> DateReading:
    """The only day, or the only one of two centuries inside the range."""
    inside = days if len(days) == 1 else [on for on in days if earliest <= on <= latest]
    if len(inside) != 1:
        return DateReading(None, "which_century")
    return DateReading(inside[0])
