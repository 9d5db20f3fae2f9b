"""Draws counts as one small bar, told apart in grey as in colour; knows no database and no clock."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from progress.drawing.ink import fill, stroke

HEIGHT = 14
# A figure in a piece narrower than this would touch its edges.
_ROOM = 12
# The ink of a piece and of the figure in it; what needs somebody is darkest, as in the table of verdicts.
_INKS = {
    "at_target": ("accent", "paper"), "gaining": ("paper", "ink"), "stalled": ("paper", "ink"),
    "slipping": ("ink", "paper"), "dropped": ("ink", "paper"), "not_clear": ("band", "ink"),
    "too_early": ("paper", "ink"), "done": ("accent", "paper"), "left": ("paper", "ink"),
}
# In grey verdicts are told apart by the shape of their marks: rising lines, level lines, falling ones.
_STEP = 5
_RISING, _LEVEL, _FALLING = "rising", "level", "falling"
_LINED = {
    "gaining": (_RISING, "accent"), "stalled": (_LEVEL, "ink"), "slipping": (_FALLING, "paper"),
    "dropped": (_LEVEL, "paper"),
}
# A figure on lines stands on a plate of its own.
_PLATE = 6.2


def bar(pieces: Sequence[tuple[str, int]], *, words: str, width: int = 200) -> str:
    """A bar as one ``<svg>``, its pieces as wide as their counts, each count written where it has room.

    pieces: (key, count) from left to right; a key is a verdict, "done" or "left" (KeyError for another). Counts of
    nothing draw nothing; all of nothing draws an empty bar. words: what it says, for people who do not see it.

    >>> bar([("done", 3), ("left", 1)], words="3 of 4 measured", width=100).count("<rect")
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
    if key in _LINED:
        way, line = _LINED[key]
        shape += f'<path d="{_lines(way, left, wide)}" {stroke(line, 1)}/>'
    if wide < _ROOM:
        return shape
    if key in _LINED:
        half = min(_PLATE * len(str(count)) / 2 + 1.5, wide / 2)
        plate = f'x="{left + wide / 2 - half:.1f}" y="1.5" width="{2 * half:.1f}" height="{HEIGHT - 3}"'
        shape += f"<rect {plate} {fill(ink)}/>"
    middle = f'x="{left + wide / 2:.1f}" y="{HEIGHT - 3.4:.1f}" text-anchor="middle"'
    return f"{shape}<text {middle} {fill(figure)}>{count}</text>"


def _lines(way: str, left: float, wide: float) -> str:
    """The path of the lines in a piece, cut where the piece ends."""
    top, bottom, right = 1.0, HEIGHT - 1.0, left + wide
    if way == _LEVEL:
        return "".join(f"M{left:.1f} {y}h{wide:.1f}" for y in (4, 7, 10))
    drawn, high = "", bottom - top
    start = left - high + _STEP / 2
    while start < right:
        # A line climbs as far as it goes to the right: from (start, bottom), or falls so from (start, top).
        begin, end = max(start, left), min(start + high, right)
        first, last = begin - start, end - start
        ys = (bottom - first, bottom - last) if way == _RISING else (top + first, top + last)
        drawn += f"M{begin:.1f} {ys[0]:.1f}L{end:.1f} {ys[1]:.1f}" if end > begin else ""
        start += _STEP
    return drawn
