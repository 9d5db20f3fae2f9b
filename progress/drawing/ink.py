"""Names the inks of a chart: each a class that the style sheet repaints and a colour for where none
reaches.
"""

from __future__ import annotations

# The light scheme of the drawn screens; a class "chart-fill-ink" takes var(--ink) on a page, so it
# goes dark with it. The literal stays where no style sheet reaches the drawing: in print, so paper is white
# there.
TOKENS = {
    "ink": "#22252B",
    "soft": "#5A606B",
    "accent": "#1F4E5F",
    "stop": "#9A3B1E",
    "paper": "#FFFFFF",
    "edge": "#8A8475",
    "hatch": "#B9B09B",
    "line": "#DAD5C9",
    "band": "#E9E4D8",
}
# The page's custom property of each ink, where it is not called the same.
PROPERTIES = {name: "soft-ink" if name == "soft" else name for name in TOKENS}


def fill(ink: str) -> str:
    """The attributes that fill a shape with an ink of `TOKENS` (KeyError for another)."""
    return f'class="chart-fill-{ink}" fill="{TOKENS[ink]}"'


def stroke(ink: str, width: float, dash: str = "") -> str:
    """The attributes that draw an unfilled line, ``width`` px, ``dash`` as in ``stroke-dasharray``."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'class="chart-stroke-{ink}" fill="none" stroke="{TOKENS[ink]}" stroke-width="{width:g}"{dashed}'


def style_rules() -> str:
    """The rules by which a page repaints the inks, one for fill and one for stroke of each: the head of
    chart.css.
    """
    rules = []
    for name in TOKENS:
        rules.append(f".chart-fill-{name} {{ fill: var(--{PROPERTIES[name]}); }}")
        rules.append(f".chart-stroke-{name} {{ stroke: var(--{PROPERTIES[name]}); }}")
    return "\n".join(rules) + "\n"
