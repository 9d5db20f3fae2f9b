"""Prints a finished page of HTML as a tagged PDF; knows no student, no database and no clock."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path
from urllib.parse import unquote, urlsplit

from django.conf import settings

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


class OwnFiles(URLFetcher):
    """Serves data URIs and our own static files; whatever else a page asks for is refused."""

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
    Tagged for screen readers (PDF/UA-1, ISO 14289-1). Raises OSError where the libraries that print are missing.
    """
    if size not in SIZES:
        raise ValueError(f"no such paper: {size!r}")
    if MISSING:
        raise OSError(MISSING)
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
    # Letter is 18 mm shorter and 6 mm wider than A4: the same text, a little less margin.
    page = {"A4": "@page { size: A4 }", "Letter": "@page { size: Letter; margin: 9mm 18.9mm 13mm }"}[size]
    return weasyprint.CSS(
        string=f"{fonts}{rules}{page}", base_url=f"{_BASE}css/paper.css", font_config=_fonts(),
        url_fetcher=OwnFiles(),
    )
