"""How a measured value is written, everywhere the same; knows the measure's kind and the locale, no page."""
from decimal import Decimal

from django.utils.translation import gettext as _

from screening.models import Measure, Protocol, Result
from studio.templatetags.wording import write_number


def write_value(value: Decimal | float, measure: Measure, protocol: Protocol | None, *, capped: bool = False) -> str:
    """A result in words: "14", "12.5 s", "at least 30 s", "clean", "4 of 5"."""
    if measure.kind == Measure.GRADE and protocol is not None and protocol.grades:
        grade = min(max(int(round(float(value))), 0), len(protocol.grades) - 1)
        return _(protocol.grades[grade][0])
    decimals = 0 if value == int(value) else measure.decimals
    text = write_number(value, decimals)
    if measure.kind in (Measure.SECONDS, Measure.LENGTH, Measure.TALLY):
        text = f"{text} {_(measure.unit)}"
    return _("at least %(value)s") % {"value": text} if capped else text


def write_result(result: Result, *, is_stopped: bool = False) -> str:
    """A stored result's value in words; it must have one. What pain cut short is at least as much, and says so."""
    capped = result.reached_cap or is_stopped and result.measure.kind in (Measure.COUNT, Measure.SECONDS)
    text = write_value(result.value, result.measure, result.protocol, capped=capped)
    return _("%(value)s, stopped by pain") % {"value": text} if is_stopped else text
