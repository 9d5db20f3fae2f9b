"""Prints a finished page of HTML as a tagged PDF; knows no student, no database and no clock."""

from __future__ import annotations

import hashlib
import re
import unicodedata
from functools import cache
from pathlib import Path
from urllib.parse import unquote, urlsplit

from django.conf import settings
from fontTools.ttLib import TTFont

try:
    import weasyprint
    from weasyprint.text.fonts import FontConfiguration
    from weasyprint.urls import URLFetcher
except OSError as missing:  # a system library is not there: the pages still work, only nothing is printed
    weasyprint, FontConfiguration, URLFetcher, MISSING = None, None, object, str(missing)
else:
    MISSING = ""

STATIC_DIR = Path(settings.BASE_DIR) / "static"
# ISO 216 A4 and ANSI Letter, as CSS names them.
SIZES = ("A4", "Letter")
_BASE = f"{STATIC_DIR.as_uri()}/"


# What paper.css prints with: Latin, Greek and Cyrillic letters; Hebrew; Arabic.
FONTS = (
    "source-sans-3-3.052/SourceSans3-Regular.ttf", "noto-sans-hebrew-3.001/NotoSansHebrew-Regular.ttf",
    "vazirmatn-33.003/Vazirmatn-Regular.ttf",
)
# What stands for a sign that is no letter and that our font lacks, such as a smiling face in a note.
LEFT_OUT = "[…]"
_PICTURES = re.compile(r'src="data:[^"]*"')
# A drawing beside the word that says the same. On paper it must have words too (PDF/UA-1, 7.3); a blank is not spoken.
_UNHEARD = re.compile(r'(<svg\b[^>]* aria-hidden="true"[^>]*>)')


class NotOurLetters(ValueError):
    """A text has letters that our fonts lack; `letters` are they. On paper they would be empty boxes."""

    def __init__(self, letters: str):
        super().__init__(f"the paper's fonts have no {' '.join(letters)}")
        self.letters = letters


def in_our_letters(html: str) -> str:
    """The same page in signs that our fonts have: any other sign becomes "[…]"; a letter raises NotOurLetters.

    A name must not be printed in boxes, nor in whatever font this computer happens to have: another one prints it
    otherwise. Source of what is a letter: the general categories L, M and N of Unicode (UAX 44).

    >>> in_our_letters("<p>Łucja, well done \U0001f600</p>")
    '<p>Łucja, well done […]</p>'
    >>> in_our_letters("<p>ნინო</p>")
    Traceback (most recent call last):
    progress.papers.paper.NotOurLetters: the paper's fonts have no ი ნ ო
    """
    words = _PICTURES.sub("", html)
    foreign = {sign for sign in set(words) if ord(sign) not in _signs() and unicodedata.category(sign)[0] not in "CZ"}
    letters = sorted(sign for sign in foreign if unicodedata.category(sign)[0] in "LMN")
    # Marks that only say how the sign before them is drawn are nothing of their own.
    letters = [sign for sign in letters if not 0xFE00 <= ord(sign) <= 0xFE0F]
    if letters:
        raise NotOurLetters("".join(letters))
    if not foreign:
        return html
    return re.sub(f"[{re.escape(''.join(sorted(foreign)))}\u200d]+", LEFT_OUT, html)


@cache
def _signs() -> frozenset[int]:
    found: set[int] = set()
    for file in FONTS:
        with TTFont(STATIC_DIR / "fonts" / file, lazy=True) as font:
            found |= set(font.getBestCmap())
    return frozenset(found)


class OwnFiles(URLFetcher):
    """Serves data URIs and our own static files; all else that a page asks for is refused."""

    def fetch(self, url, headers=None):
        if not url.startswith("data:"):
            parts = urlsplit(url)
            path = Path(unquote(parts.path)).resolve()
            if parts.scheme != "file" or not path.is_relative_to(STATIC_DIR):
                raise ValueError(f"paper takes nothing from {parts.scheme}")
        return super().fetch(url, headers)


def pdf(html: str, *, size: str = "A4") -> bytes:
    """A finished page, printed. The same HTML and size give the same bytes.

    html: a whole document whose pictures are data URIs or our own static files; any other address is refused, so
    nothing outside the house is asked. size: "A4" or "Letter" (ValueError otherwise).
    Tagged for screen readers (PDF/UA-1, ISO 14289-1). Raises OSError where the libraries that print are missing, and
    NotOurLetters where it would print boxes.
    """
    if size not in SIZES:
        raise ValueError(f"no such paper: {size!r}")
    if MISSING:
        raise OSError(MISSING)
    html = _UNHEARD.sub(r"\1<title> </title>", in_our_letters(html))
    document = weasyprint.HTML(string=html, base_url=_BASE, url_fetcher=OwnFiles())
    return document.write_pdf(
        stylesheets=[_sheet(size)], font_config=_fonts(), pdf_variant="pdf/ua-1",
        pdf_identifier=hashlib.sha256(f"{size}\n{html}".encode()).digest()[:16],
    )


@cache
def _fonts():
    # One for the process: each new one would load every font again and keep it.
    return FontConfiguration()


@cache
def _sheet(size: str):
    rules = (STATIC_DIR / "css" / "paper.css").read_text(encoding="utf-8")
    fonts = (STATIC_DIR / "css" / "fonts-print.css").read_text(encoding="utf-8")
    # Letter is 18 mm shorter and 6 mm wider than A4: the same text, a little less margin, the letter a little smaller.
    letter = "@page { size: Letter; margin: 9mm 18.9mm 13mm } .letter main { font-size: 14px }"
    page = {"A4": "@page { size: A4 }", "Letter": letter}[size]
    page += f"@page wide {{ size: {size} landscape }}"
    return weasyprint.CSS(
        string=f"{fonts}{rules}{page}", base_url=f"{_BASE}css/paper.css", font_config=_fonts(),
        url_fetcher=OwnFiles(),
    )
