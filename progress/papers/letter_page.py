"""Lays the family letter out as one page of HTML for paper; knows no database and no clock."""
from progress.papers.page import page_html
from progress.papers.pictures import picture
from progress.queries.papers.letter import FamilyLetter
from studio.voice import Voice


def letter_html(letter: FamilyLetter, *, printed: str, voice: Voice) -> str:
    line = letter.page.line
    return page_html(
        "letter", letter=letter, words=letter.page.words, printed=printed,
        drawing=picture(line, "a4-family", voice) if line else "",
    )
