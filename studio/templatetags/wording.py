"""How templates write dates and numbers: as the studio's locale does, with the real minus sign."""
import datetime as dt
from decimal import Decimal

from django import template
from django.utils.formats import date_format, number_format

register = template.Library()


@register.filter
def day(value: dt.date | None) -> str:
    """24 March (or March 24)."""
    return date_format(value, "MONTH_DAY_FORMAT") if value else ""


@register.filter
def full_day(value: dt.date | None) -> str:
    """24 March 2026."""
    return date_format(value, "DATE_FORMAT") if value else ""


@register.filter
def weekday(value: dt.date | None) -> str:
    """Tuesday."""
    return date_format(value, "l") if value else ""


@register.filter
def number(value: float | Decimal | None, decimals: int = 0) -> str:
    """A number with the locale's decimal sign and the real minus; nothing for None."""
    return "" if value is None else write_number(value, decimals)


def write_number(value: float | Decimal, decimals: int = 0) -> str:
    """Rounded, with the locale's decimal sign and the real minus; never a minus before a zero.

    Rounded here because Django's number_format cuts digits off instead.
    """
    rounded = Decimal(f"{abs(value):.{decimals}f}")
    text = number_format(rounded, decimals)
    return f"−{text}" if value < 0 and rounded else text


def write_signed(value: float | Decimal, decimals: int = 0) -> str:
    """With a plus or minus sign; zero has none."""
    text = write_number(value, decimals)
    return f"+{text}" if value > 0 and Decimal(f"{value:.{decimals}f}") else text


@register.filter
def dial(phone: str) -> str:
    """A telephone number as a link dials it: digits, and a plus in front where there is one."""
    digits = "".join(each for each in phone if each.isdigit())
    return f"+{digits}" if phone.strip().startswith("+") else digits


@register.filter
def asks_secret(form) -> bool:
    """True where a field is a password or a PIN, which no page gives back."""
    return any(getattr(field.field.widget, "input_type", "") == "password" for field in form)


@register.filter
def get_item(mapping, key):
    """A dictionary's value by a key held in a variable."""
    return mapping.get(key)
