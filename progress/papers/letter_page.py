"""Lays the family letter out as one page of HTML for paper; knows the template, no database and no clock."""
from django.template.loader import render_to_string
from django.utils.translation import get_language

from progress.papers.pictures import picture
from progress.queries.papers.letter import FamilyLetter
from progress.words.voice import Voice


def letter_html(letter: FamilyLetter, *, printed: str, voice: Voice) -> str:
    """The whole document, pictures within it; the same letter, words, language and voice give the same text.

    printed: the words at the foot about the printing, such as its day.
    """
    line = letter.page.line
    return render_to_string("progress/paper/letter.html", {
        "letter": letter, "words": letter.page.words, "printed": printed, "language": get_language(),
        "drawing": picture(line, "a4-family", voice) if line else "",
    })
