"""Draws a dose to be counted at a look: a row a set, a dot a repetition, a bar where it is held. Pure."""

from __future__ import annotations

from progress.drawing.ink import TOKENS

STEP, ROW, RADIUS, GROUP, GAP = 8.0, 10.0, 2.7, 4, 4.0
# How long a held one is, round ends apart.
HELD = 9.0
# Between the feet, side by side or one below the other.
BETWEEN_FEET = 18.0
# More than this nobody counts at a look; the words say it.
MOST_IN_A_ROW, MOST_ROWS = 24, 6
# Two feet stand side by side as long as a row is no longer than this, px.
SIDE_BY_SIDE = 80.0


def dose_dots(sets: int, reps: int, hold_seconds: int | None = None, *, each_foot: bool = False) -> str:
    """The dose as ``<svg>``, passed over by the ear since its words stand beside it; "" where it is too much to count.

    Dots stand in groups of four. For each foot it is drawn twice, open for the left and filled for the right.
    """
    if not 1 <= sets <= MOST_ROWS or not 1 <= reps <= MOST_IN_A_ROW:
        return ""
    places = _places(reps, HELD if hold_seconds else 0.0)
    wide, high = places[-1] + (HELD if hold_seconds else 0.0) + 2 * RADIUS + 1, sets * ROW
    beside = wide <= SIDE_BY_SIDE
    shift = (wide + BETWEEN_FEET, 0.0) if beside else (0.0, high + RADIUS)
    marks = _feet(sets, places, bool(hold_seconds), shift) if each_foot else _marks(
        sets, places, bool(hold_seconds), (0.0, 0.0), is_open=False
    )
    whole = (wide + shift[0], high + shift[1]) if each_foot else (wide, high)
    return (
        f'<svg class="dose" width="{whole[0]:g}" height="{whole[1]:g}" viewBox="0 0 {whole[0]:g} {whole[1]:g}"'
        f' aria-hidden="true" focusable="false">{marks}</svg>'
    )


def _places(reps: int, held: float) -> list[float]:
    """Where each repetition of a row begins, with a gap after every fourth."""
    step = held + 2 * RADIUS + 3 if held else STEP
    return [at * step + at // GROUP * GAP for at in range(reps)]


def _feet(sets: int, places: list[float], is_held: bool, shift: tuple[float, float]) -> str:
    left = _marks(sets, places, is_held, (0.0, 0.0), is_open=True)
    return left + _marks(sets, places, is_held, shift, is_open=False)


def _marks(sets: int, places: list[float], is_held: bool, shift: tuple[float, float], *, is_open: bool) -> str:
    r = RADIUS - (0.6 if is_open else 0)
    paint = (
        f'class="mark-ring" fill="{TOKENS["paper"]}" stroke="{TOKENS["ink"]}" stroke-width="1.2"'
        if is_open else f'class="mark-dot" fill="{TOKENS["ink"]}"'
    )
    path = ""
    for at in range(sets):
        y = shift[1] + at * ROW + ROW / 2
        for place in places:
            x, long = shift[0] + place + RADIUS + 0.5, HELD if is_held else 0.0
            path += f"M{x - r:g} {y:g}a{r:g} {r:g} 0 0 1 {2 * r:g} 0" if not long else f"M{x:g} {y - r:g}h{long:g}"
            path += f"a{r:g} {r:g} 0 0 1-{2 * r:g} 0z" if not long else f"a{r:g} {r:g} 0 0 1 0 {2 * r:g}h-{long:g}"
            path += "" if not long else f"a{r:g} {r:g} 0 0 1 0-{2 * r:g}z"
    return f'<path {paint} d="{path}"/>'
