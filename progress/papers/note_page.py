"""Lays the note for a clinician out as one page of HTML for paper; knows the templates, no database and no clock."""
import re
from collections.abc import Collection
from html import unescape

from django.template.loader import render_to_string

from progress.drawing.ink import TOKENS
from progress.drawing.text import text_width
from progress.papers.page import page_html
from progress.papers.pictures import data_uri
from progress.queries.papers.referral import ReferralNote, asked_words
from studio.models import Studio

# What css/foot.css says of the plate, in the ink of paper: a picture takes no rules from the page around it.
_PLATE = """
.foot-outline { fill: #fff; stroke: %(ink)s; stroke-width: 2px; stroke-linejoin: round; }
.foot-far { stroke-width: 1.6px; }
.foot-folds { fill: none; stroke: %(edge)s; stroke-width: 1px; }
.foot-dots { fill: none; stroke: %(edge)s; stroke-width: 1.2px; stroke-dasharray: 1.2 2.6; }
.foot-sole { fill: #fff; }
.foot-region { fill: none; }
.foot-hatch-ground { fill: #f6e3db; }
.foot-hatch-line { fill: none; stroke: %(stop)s; stroke-width: 1px; }
.foot-leader { fill: none; stroke: %(edge)s; stroke-width: 1px; }
text { font-family: "Source Sans 3"; font-size: 17px; }
.foot-name { fill: %(ink)s; }
.foot-side { fill: %(ink)s; font-size: 19px; font-weight: 600; }
.foot-ring { fill: #fff; stroke: %(ink)s; stroke-width: 1.7px; }
.foot-dot { fill: %(ink)s; }
""" % TOKENS  # noqa: UP031
# Px of a name's letters, and of the paper at each end of it.
_NAME, _RIM = 17, 6


def note_html(note: ReferralNote, *, steps: list[dict], studio: Studio, printed: str) -> str:
    return page_html(
        "note", note=note, student=note.student, asked=asked_words(), steps=steps, house=studio, printed=printed,
        on_paper=True, feet=feet_pictures(note.places) if note.places else (),
    )


def feet_pictures(places: Collection[str]) -> list[tuple[str, str]]:
    """The two views of the foot plate, each as (what it shows, data URI): these places hatched, their names marked."""
    chosen = "".join(
        f".foot-region-{place} {{ fill: url(#foot-hatch); stroke: {TOKENS['stop']}; stroke-width: 2.4px; }}"
        f".foot-leader-{place} {{ stroke: {TOKENS['stop']}; stroke-width: 2px; }}"
        f".foot-name-{place.partition('-')[2]} {{ fill: {TOKENS['stop']}; font-weight: 600; }}"
        for place in places
    )
    plate = render_to_string("progress/_foot_plate.html", {"chosen": places})
    pattern = re.search(r"<defs>.*?</defs>", plate, re.DOTALL)[0]
    views = re.findall(r"<legend[^>]*>(.*?)</legend>.*?<svg class=\"foot-svg\"( [^>]*)>(.*?)</svg>", plate, re.DOTALL)
    return [(caption, _picture(f"<style>{_PLATE}{chosen}</style>{pattern}{drawn}", size))
            for caption, size, drawn in views]


def _picture(drawing: str, size: str) -> str:
    # A plate of paper keeps each leader off its name: the printer draws no rim around letters, as the screen does.
    name = r'<text class="foot-name (?!foot-name-beside)[^"]*"\s+x="([\d.]+)"\s+y="([\d.]+)"[^>]*>(.*?)</text>'
    drawing = re.sub(name, _on_plate, drawing, flags=re.DOTALL)
    return data_uri(f'<svg xmlns="http://www.w3.org/2000/svg"{size}>{drawing}</svg>')


def _on_plate(name: re.Match) -> str:
    """The name with paper under it, wide enough for its bold letters, too."""
    x, y, words = float(name[1]), float(name[2]), unescape(name[3])
    wide = text_width(words, _NAME, "semibold") + 2 * _RIM
    return f'<rect x="{x - wide / 2:.1f}" y="{y - _NAME:.1f}" width="{wide:.1f}" height="22" fill="#fff"/>{name[0]}'
