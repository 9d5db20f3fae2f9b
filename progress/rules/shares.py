"""A share of a group with its uncertainty; nothing of groups so small that one child could be read off. Pure."""
import math
from dataclasses import dataclass

# Of fewer students no share is said: the studio's own rule, against reading one child out of a figure.
FEWEST = 8
# The two-sided normal point of 95 per cent.
Z95 = 1.959963984540054


@dataclass(frozen=True)
class Share:
    """So many of so many, and between which shares (0 to 1) the true one lies in 95 of 100 cases."""

    part: int
    whole: int
    low: float
    high: float


def share(part: int, whole: int, *, students: int) -> Share | None:
    """A share of lines with its score interval; None for fewer than eight students or nothing to share.

    Both feet of a student go together, so the interval counts students, not lines, where those are fewer.
    Wilson EB (1927) J Am Stat Assoc 22:209-212 (from memory). ValueError unless 0 <= part <= whole.

    >>> found = share(8, 10, students=10)
    >>> round(found.low, 3), round(found.high, 3)
    (0.49, 0.943)
    >>> share(8, 10, students=7) is None
    True
    """
    if not 0 <= part <= whole:
        raise ValueError(f"{part} of {whole} is no share")
    if students < FEWEST or whole == 0:
        return None
    rate, many, z2 = part / whole, min(whole, students), Z95**2
    middle = (rate + z2 / (2 * many)) / (1 + z2 / many)
    half = Z95 * math.sqrt(rate * (1 - rate) / many + z2 / (4 * many**2)) / (1 + z2 / many)
    return Share(part, whole, max(0.0, middle - half), min(1.0, middle + half))
