"""Lays the family letter out as one page of HTML for paper; knows the template, no database and no clock."""
import datetime as dt

from django.template.loader import render_to_string
from django.utils.translation import get_language

from progress.papers.record_page import picture
from progress.queries.papers.letter import FamilyLetter
from progress.voice import Voice


def letter_html(
    letter: FamilyLetter, *, printed_on: dt.date | None, replaces_on: dt.date | None = None, voice: Voice
) -> str:
    """The whole document, pictures within it; the same letter, days, language and voice give the same text."""
    line = letter.page.line
    return render_to_string("progress/paper/letter.html", {
        "letter": letter, "words": letter.page.words, "printed_on": printed_on,
        "replaces_on": replaces_on, "language": get_language(),
        "drawing": picture(line, "a4-family", voice) if line else "",
    })
