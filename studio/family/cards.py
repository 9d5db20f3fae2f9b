"""What stands on a guardian's card: whose it is, the link as a square to photograph, until when; draws one square."""
import datetime as dt
from dataclasses import dataclass

import segno
from django.utils.translation import gettext as _

from studio.models import Guardian


@dataclass(frozen=True)
class Card:
    """One card. `square`: our own drawing of `address`; `drawing` in templates, so that it comes as it is."""

    guardian: str
    children: str
    address: str
    square: str
    valid_until: dt.date
    language: str


def card(guardian: Guardian, address: str, *, valid_until: dt.date, language: str) -> Card:
    names = [student.first_name for student in guardian.students.order_by("name")]
    return Card(guardian.name, ", ".join(names), address, link_square(address), valid_until, language)


def link_square(address: str) -> str:
    """The address as a QR code (ISO/IEC 18004) in an SVG without style or script; black on white in any scheme."""
    code = segno.make(address, error="m", micro=False)
    return code.svg_inline(border=4, scale=1, omitsize=True, svgclass="link-square", light="#fff", title=_("link"))
