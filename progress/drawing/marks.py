"""Draws the small marks that stand beside words (verdicts, sides, pain, saving, the foot line); knows no
student, no date and no page.

Every mark is a complete ``<svg>`` string: decoration for a word that stands beside it, so always ``aria-
hidden``. Colours come twice: as a presentation attribute in the light scheme (for print, on white, where
no style sheet reaches a drawing), and as a class that ``static/css/marks.css`` repaints from the page's
custom properties. No inline style, so a strict ``style-src`` holds. Shape families never mix: circles
are measurements, strokes are verdicts, squares are saving.
"""

from __future__ import annotations

INK, SOFT, ACCENT, STOP, PAPER = "#22252B", "#5A606B", "#1F4E5F", "#9A3B1E", "#FFFFFF"

VERDICT_KEYS = ("too_early", "at_target", "stalled", "slipping", "gaining", "not_clear", "dropped")
SIDE_KEYS = ("L", "R", "")
SAVING_KEYS = ("open", "half", "full")

# path, stroke width, colour, and the class that names the colour
_STROKES = {
    "gaining": ("M2 13.7 20.4 2.3", 1.9, ACCENT, "accent"),
    "at_target": ("M4.5 15 18 1M.8 8h5.6M15.8 8h5.6", 1.9, ACCENT, "accent"),
    "stalled": ("M2 12.4 8.8 4.9H20.6", 2.3, INK, "ink"),
    "slipping": ("M2 9.4 8.3 2.7 20.5 13.9", 2.3, INK, "ink"),
    "dropped": ("M2 3.2H9.4V13.4H20.6", 2.3, INK, "ink"),
    "not_clear": ("M2 11C4.7 3.6 8 3.4 11.2 8S17.8 12.6 20.4 5.4", 1.6, SOFT, "soft"),
}
_TALLY_X = (3.4, 8.4, 13.4, 18.4)


def verdict(key: str, *, had: int | None = None, needed: int = 4) -> str:
    """The 22 x 16 stroke of a verdict, to stand before its word.

    ``key`` is one of `VERDICT_KEYS`. For ``too_early`` the mark is a tally of ``needed`` strokes (at
    least one; more than four are drawn as four, in proportion), tall for the ``had`` results there are
    and short for those missing; without ``had`` all are short. ``had`` and ``needed`` are ignored by the
    other verdicts.
    Raises ``ValueError`` for an unknown key or negative counts.
    """
    return _frame(
        22, 16, f"mark-verdict mark-{key.replace('_', '-')}", verdict_strokes(key, had=had, needed=needed)
    )


def verdict_strokes(key: str, *, had: int | None = None, needed: int = 4) -> str:
    """The same mark without its frame, to be set into another drawing. Arguments and errors as
    `verdict`.
    """
    if key == "too_early":
        return _tally_strokes(had or 0, needed)
    if key not in _STROKES:
        raise ValueError(f"no such verdict: {key!r}")
    path, width, colour, name = _STROKES[key]
    return _stroke(path, width, colour, name)


def side(key: str) -> str:
    """The 13 x 13 mark of a side: a ring for left ``"L"``, a dot for right ``"R"`` and for no side
    ``""``.

    Always beside L, R or the word. The ring's core takes the colour of the page. Raises ``ValueError``
    otherwise.
    """
    if key not in SIDE_KEYS:
        raise ValueError(f"no such side: {key!r}")
    if key == "L":
        return _frame(13, 13, "mark-side mark-left", _ring(6.5, 6.5, 5, 1.7))
    return _frame(13, 13, "mark-side mark-right", _dot(6.5, 6.5, 5.5))


def pain() -> str:
    """The upright rust bar, 4 x 20, of a pain report. It is the only mark in rust."""
    return _frame(22, 20, "mark-pain", f'<path class="mark-fill-stop" fill="{STOP}" d="M2 0h4v20H2z"/>')


def apart() -> str:
    """Left and right have drifted apart: a ring low, a dot high, in 22 x 16. Which side leads is told by
    the words.
    """
    return _frame(22, 16, "mark-apart", _ring(5.4, 11, 3.7, 1.7) + _dot(17, 5, 4.5))


def not_measured(had: int = 0, needed: int = 4) -> str:
    """Four short tally strokes (22 x 16): not measured lately. ``had`` of ``needed`` may be told as tall
    ones.
    """
    return _frame(22, 16, "mark-not-measured", _tally_strokes(had, needed))


def saving(state: str) -> str:
    """The 13 x 13 square of the outbox line: ``"open"`` kept here, ``"half"`` on its way, ``"full"`` all
    sent.

    Raises ``ValueError`` for another state.
    """
    if state not in SAVING_KEYS:
        raise ValueError(f"no such state of saving: {state!r}")
    frame = f'<path class="mark-stroke-soft" fill="none" stroke="{SOFT}" stroke-width="1.6"'
    frame += ' d="M1.5 1.5h10v10h-10z"/>'
    filled = {"open": "", "half": "M1.5 6.5h10v5h-10z", "full": "M1.5 1.5h10v10h-10z"}[state]
    inner = f'<path class="mark-fill-soft" fill="{SOFT}" d="{filled}"/>' if filled else ""
    return _frame(13, 13, f"mark-saving mark-saving-{state}", inner + frame)


def logo() -> str:
    """The foot line at the head of the screens, 30 x 18: a foot rising from the floor to its toes."""
    floor = f'<path class="mark-stroke-ink" fill="none" stroke="{INK}" stroke-width="1" d="M0 17.5h30"/>'
    curve = "M2.4 16.4H12.6C18.4 16.4 21.6 9.4 24.2 .8"
    return _frame(30, 18, "mark-logo", floor + _stroke(curve, 2, ACCENT, "accent"))


def sole(width: float = 182, height: float = 24) -> str:
    """The curved sole from the floor (bottom left) to the heel (top right) under the tile of a child
    still rising.

    ``width`` and ``height`` in CSS pixels, both positive. The drawing stretches with the tile (no aspect
    ratio) while its line keeps its weight, so a tile may be made wider than ``width`` by the style
    sheet.
    Raises ``ValueError`` for a size that is not positive.
    """
    if not (width > 0 and height > 0):
        raise ValueError("a sole needs a positive width and height")
    low, right = height - 0.8, width - 1
    turns = [round(width * part, 1) for part in (0.35, 0.6, 0.82)]
    path = f"M2 {low:g}H{turns[0]:g}C{turns[1]:g} {low:g} {turns[2]:g} {height * 0.55:g} {right:g} .8"
    line = (
        f'<path class="mark-stroke-ink" fill="none" stroke="{INK}" stroke-width="1.6" stroke-linecap="round"'
        f' vector-effect="non-scaling-stroke" d="{path}"/>'
    )
    return _frame(width, height, "mark-sole", line, ' preserveAspectRatio="none"')


def _tally_strokes(had: int, needed: int) -> str:
    if had < 0 or needed < 1:
        raise ValueError("a tally counts results had (0 or more) of results needed (1 or more)")
    strokes = min(needed, len(_TALLY_X))
    tall = min(strokes, had * strokes // needed)
    path = "".join(f"M{x:g} {2 if i < tall else 10:g}V14" for i, x in enumerate(_TALLY_X[:strokes]))
    return f'<path class="mark-stroke-soft" fill="none" stroke="{SOFT}" stroke-width="1.6" d="{path}"/>'


def _stroke(path: str, width: float, colour: str, name: str) -> str:
    return (
        f'<path class="mark-stroke-{name}" fill="none" stroke="{colour}" stroke-width="{width}"'
        f' stroke-linecap="round" stroke-linejoin="round" d="{path}"/>'
    )


def _ring(x: float, y: float, radius: float, width: float) -> str:
    return (
        f'<circle class="mark-ring" fill="{PAPER}" stroke="{INK}" stroke-width="{width}"'
        f' cx="{x}" cy="{y}" r="{radius}"/>'
    )


def _dot(x: float, y: float, radius: float) -> str:
    return f'<circle class="mark-dot" fill="{INK}" cx="{x}" cy="{y}" r="{radius}"/>'


def _frame(width: float, height: float, name: str, inner: str, more: str = "") -> str:
    return (
        f'<svg class="mark {name}" width="{width:g}" height="{height:g}" viewBox="0 0 {width:g} {height:g}"'
        f'{more} aria-hidden="true" focusable="false">{inner}</svg>'
    )
