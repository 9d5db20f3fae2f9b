"""An address as a picture that a camera reads; knows no Django."""
from typing import NamedTuple

import segno

# Light modules around the code that ISO/IEC 18004 asks for.
QUIET_ZONE = 4


class QrCode(NamedTuple):
    """`size` modules wide with its quiet zone; `path` draws the dark ones in SVG's language."""

    size: int
    path: str


def qr_code(text: str) -> QrCode:
    """The code of a short text, with error correction M (a seventh of it may be unreadable).

    >>> qr_code("http://192.168.1.20:8444/").size
    33
    """
    rows = segno.make(text, error="m", micro=False, boost_error=False).matrix
    dark = [(x, y) for y, row in enumerate(rows, QUIET_ZONE) for x, cell in enumerate(row, QUIET_ZONE) if cell]
    return QrCode(len(rows) + 2 * QUIET_ZONE, "".join(f"M{x} {y}h1v1h-1z" for x, y in dark))
