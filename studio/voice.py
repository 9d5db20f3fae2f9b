"""How a pure file speaks: with the words and formats it is handed; it knows no language and no Django."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

MINUS = "\u2212"


@dataclass(frozen=True)
class Voice:
    """The callables with which a pure file writes for people.

    gettext, ngettext: as in the standard library; number(value, decimals): a plain number;
    signed(value, decimals): the same with its sign, a real minus sign; day(date): "24 March";
    week(date): the week that date lies in, "week 7". Which week is week 1 is the caller's business.
    month(date): "March".
    """

    gettext: Callable[[str], str]
    ngettext: Callable[[str, str, int], str]
    number: Callable[[float, int], str]
    signed: Callable[[float, int], str]
    day: Callable[[date], str]
    week: Callable[[date], str]
    month: Callable[[date], str]


def plain_number(value: float, decimals: int) -> str:
    """Return `value` with `decimals` places, a real minus sign, and never a minus before a zero.

    >>> plain_number(-0.04, 1), plain_number(-1.25, 1), plain_number(17.0, 0)
    ('0.0', '\u22121.2', '17')
    """
    text = f"{value:.{decimals}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def plain_signed(value: float, decimals: int) -> str:
    """Return `value` with its sign written out; zero has none.

    >>> plain_signed(0.1, 1), plain_signed(-0.2, 1), plain_signed(0.01, 1)
    ('+0.1', '\u22120.2', '0.0')
    """
    text = plain_number(value, decimals)
    return text if text.startswith(MINUS) or float(text) == 0 else f"+{text}"


def plain_day(on: date) -> str:
    """Return a date as people say it: day and month, no year.

    >>> plain_day(date(2031, 3, 24))
    '24 March'
    """
    return f"{on.day} {on:%B}"


def plain_week(on: date) -> str:
    """Return the calendar week (ISO 8601) of a date.

    >>> plain_week(date(2031, 2, 12))
    'week 7'
    """
    return f"week {on.isocalendar().week}"


def plain_month(on: date) -> str:
    """Return the name of a date's month.

    >>> plain_month(date(2031, 3, 24))
    'March'
    """
    return f"{on:%B}"


def _same(text: str) -> str:
    return text


def _one_or_many(one: str, many: str, count: int) -> str:
    return one if count == 1 else many


PLAIN = Voice(_same, _one_or_many, plain_number, plain_signed, plain_day, plain_week, plain_month)


def counted_weeks(first_week_on: date) -> Callable[[date], str]:
    """Return a `week` formatter that counts from the week of `first_week_on`, which is week 1.

    >>> counted_weeks(date(2031, 1, 8))(date(2031, 2, 17))
    'week 7'
    """
    monday = first_week_on.toordinal() - first_week_on.weekday()
    return lambda on: f"week {max(1, (on.toordinal() - monday) // 7 + 1)}"
