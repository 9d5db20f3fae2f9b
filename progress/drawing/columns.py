"""Draws one column of a row of weeks; the number stands beside it. Pure."""

from __future__ import annotations

from progress.drawing.ink import TOKENS

WIDE, HIGH = 18, 34


def column(share: float, *, is_jump: bool = False) -> str:
    """A column `share` (0 to 1) of its full height, in ink where it is a jump; nothing done is a line on the ground.

    >>> 'height="17"' in column(0.5), 'height="1"' in column(0)
    (True, True)
    """
    tall = max(1, round(HIGH * min(1.0, share)))
    name, ink = ("mark-dot", "ink") if is_jump else ("mark-fill-soft", "soft")
    return (
        f'<svg class="column" width="{WIDE}" height="{HIGH}" viewBox="0 0 {WIDE} {HIGH}" aria-hidden="true"'
        f' focusable="false"><rect class="{name}" fill="{TOKENS[ink]}" y="{HIGH - tall}" width="{WIDE}"'
        f' height="{tall}"/></svg>'
    )
