"""Draws the steps of the way back as a staircase with the present one marked; knows numbers of steps only."""
from progress.drawing.ink import fill, stroke

_WIDE, _HIGH = 44, 15


def stairs(last: int, now: int | None) -> str:
    """An ``<svg>`` of ``last`` steps from low to high; the step ``now`` (from 1; None: none) is a bar of the accent.

    For the eye only: the list of steps beside it says the same.
    """
    wide, high = last * _WIDE + 2, last * _HIGH + 14
    d = f"M1 {high - 1}"
    for at in range(last):
        d += f"V{high - 1 - (at + 1) * _HIGH}h{_WIDE}"
    found = f'<path {stroke("ink", 1.2)} d="{d}V{high - 1}"/><path {stroke("line", 1)} d="M1 {high - 1}H{wide - 1}"/>'
    if now is not None and 1 <= now <= last:
        x, y = 1 + (now - 1) * _WIDE, high - 1 - now * _HIGH
        found += f'<rect {fill("accent")} x="{x}" y="{y - 5}" width="{_WIDE}" height="5"/>'
    return (
        f'<svg class="chart stairs" width="{wide}" height="{high}" viewBox="0 0 {wide} {high}" aria-hidden="true"'
        f' focusable="false">{found}</svg>'
    )
