"""Writes curves, lines and circles as the shortest path of SVG, in whole quarters of a pixel."""

from __future__ import annotations

from collections.abc import Sequence

from progress.drawing.body.geometry import Point, middle

GRAIN = 4


def curve(points: Sequence[Point], *, closed: bool = False) -> str:
    """A quadratic B-spline through the middles of its control points; each control makes good the rounding before it.

    >>> curve([(0, 0), (1, 0), (1, 1)])
    'M0 0q4 0 4 4'
    """
    grid = [(x * GRAIN, y * GRAIN) for x, y in points]
    if closed:
        seam = middle(grid[-1], grid[0])
        grid = [seam, *grid, seam]
    here, held = _whole(grid[0]), None
    path = "M" + _pair(here)
    for at in range(1, len(grid) - 1):
        control = _whole(grid[at]) if held is None else (2 * here[0] - held[0], 2 * here[1] - held[1])
        end = _whole(grid[-1] if at == len(grid) - 2 else middle(control, grid[at + 1]))
        path += ("q" + _pair(control, here) + " " if held is None else "t") + _pair(end, here)
        here, held = end, control
    return _short(path + "z" if closed else path)


def line(*points: Point) -> str:
    """Straight from point to point."""
    return _short("M" + "L".join(_pair(_whole((x * GRAIN, y * GRAIN))) for x, y in points))


def circle(centre: Point, radius: float) -> str:
    x, y, r = (round(each * GRAIN) for each in (*centre, radius))
    return f"M{x - r} {y}a{r} {r} 0 1 0 {2 * r} 0a{r} {r} 0 1 0-{2 * r} 0z"


def _whole(point: Point) -> tuple[int, int]:
    return (round(point[0]), round(point[1]))


def _pair(point: tuple[int, int], origin: tuple[int, int] = (0, 0)) -> str:
    return f"{point[0] - origin[0]} {point[1] - origin[1]}"


def _short(path: str) -> str:
    return path.replace(" -", "-")
