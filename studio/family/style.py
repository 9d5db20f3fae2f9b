"""The styles of a family's page as a part of it, so that a slow phone asks once; and the policy that lets just them."""
import re
from base64 import b64encode
from dataclasses import dataclass
from functools import cache
from hashlib import sha256

from django.conf import settings
from django.templatetags.static import static

FILES = ("risebook.css", "rooms.css", "family.css", "marks.css", "chart.css")
COMMENT = re.compile(r"/\*.*?\*/\s*", re.DOTALL)
# A file beside the style sheets' folder, as they name it.
BESIDE = re.compile(r'url\("\.\./([^"]+)"\)')


@dataclass(frozen=True)
class PageStyle:
    """element: as it stands in the page. policy: the studio's own, and the hash of its text (CSP level 3, 2.3.1)."""

    element: str
    policy: str


def page_style() -> PageStyle:
    if settings.DEBUG:
        _made.cache_clear()
    return _made()


@cache
def _made() -> PageStyle:
    folder = settings.BASE_DIR / "static" / "css"
    whole = "".join((folder / name).read_text(encoding="utf-8") for name in FILES)
    css = BESIDE.sub(lambda found: f'url("{static(found[1])}")', COMMENT.sub("", whole))
    digest = b64encode(sha256(css.encode()).digest()).decode()
    allowed = settings.SECURE_CSP | {"style-src": ["'self'", f"'sha256-{digest}'"]}
    policy = "; ".join(f"{name} {' '.join(values)}" for name, values in allowed.items())
    return PageStyle(f"<style>{css}</style>", policy)
