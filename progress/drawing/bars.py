"""Draws counts as one small bar, told apart in grey as in colour; knows no database and no clock."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from progress.drawing.ink import fill

HEIGHT = 14
# A figure in a piece narrower than this would touch its edges.
_ROOM = 12
# The ink of a piece and of the figure in it; what needs somebody is darkest, as in the table of verdicts.
_INKS = {
    "at_target": ("accent", "paper"), "gaining": ("accent", "paper"), "stalled": ("ink", "paper"),
    "slipping": ("ink", "paper"), "dropped": ("ink", "paper"), "not_clear": ("band", "ink"),
    "too_early": ("paper", "ink"), "done": ("accent", "paper"), "left": ("paper", "ink"),
}
# Verdicts of one ink are told apart by stripes of paper: rising within the target, falling within the ink, and two
# where a level was lost at once.
_STRIPED = {"at_target": (3,), "slipping": (HEIGHT - 3,), "dropped": (3, HEIGHT - 3)}


def bar(pieces: Sequence[tuple[str, int]], *, words: str, width: int = 200) -> str:
    """A bar as one ``<svg>``, its pieces as wide as their counts, each count written where it has room.

    pieces: (key, count) from left to right; a key is a verdict, "done" or "left" (KeyError for another). Counts of
    nothing draw nothing; all of nothing draws an empty bar. words: what it says, for people who do not see it.

    >>> bar([("gaining", 3), ("stalled", 1)], words="3 gaining, 1 stalled", width=100).count("<rect")
    3
    >>> "<text" in bar([("done", 0), ("left", 0)], words="nobody")
    False
    """
    whole, at, drawn = sum(count for _key, count in pieces), 0.0, []
    for key, count in pieces:
        if count:
            wide = (width - 1) * count / whole
            drawn.append(_piece(key, count, at + 0.5, wide))
            at += wide
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{HEIGHT}" viewBox="0 0 {width} {HEIGHT}"'
        f' role="img" font-family="\'Source Sans 3\'" font-size="10.5"><title>{escape(words)}</title>{"".join(drawn)}'
        f'<rect x="0.5" y="0.5" width="{width - 1}" height="{HEIGHT - 1}" fill="none" stroke="#8A8475"/></svg>'
    )


def _piece(key: str, count: int, left: float, wide: float) -> str:
    ink, figure = _INKS[key]
    edge = ' stroke="#8A8475" stroke-width="0.8"'
    shape = f'<rect x="{left:.1f}" y="0.5" width="{wide:.1f}" height="{HEIGHT - 1}" {fill(ink)}{edge}/>'
    for y in _STRIPED.get(key, ()):
        shape += f'<path d="M{left + 1:.1f} {y}h{max(wide - 2, 0):.1f}" stroke="#FFFFFF" stroke-width="1.2"/>'
    if wide < _ROOM:
        return shape
    middle = f'x="{left + wide / 2:.1f}" y="{HEIGHT - 3.4:.1f}" text-anchor="middle"'
    return f"{shape}<text {middle} {fill(figure)}>{count}</text>"
