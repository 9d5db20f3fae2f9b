"""No page asks anything of another house: whatever a browser fetches, follows by itself or sends to is our own."""
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from tests.doors import OPEN, address, furnish

STATIC = Path(__file__).resolve().parents[1] / "static"
# What browsers fetch or send without being asked, by element; a plain link waits for a hand and is no request.
FETCHED = {
    "link": ("href",), "script": ("src",), "img": ("src", "srcset"), "source": ("src", "srcset"), "iframe": ("src",),
    "form": ("action",), "button": ("formaction",), "input": ("src", "formaction"), "use": ("href", "xlink:href"),
    "image": ("href", "xlink:href"), "video": ("src", "poster"), "audio": ("src",), "object": ("data",),
    "embed": ("src",), "a": ("ping",),
}


class Requests(HTMLParser):
    """Every address that a page makes a browser ask, and what says where else to look."""

    def __init__(self, html: str):
        super().__init__()
        self.found: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        for name, value in attrs:
            asks = name in FETCHED.get(tag, ()) or name.startswith("hx-") and name.split("-")[1] in METHODS
            if tag == "base" or asks:
                self.found.append(value or "")
            if tag == "meta" and name == "content" and "url=" in (value or ""):
                self.found.append(value.split("url=", 1)[1])
            if name == "style":
                self.found += re.findall(r"url\(([^)]*)\)", value)


METHODS = ("get", "post", "put", "patch", "delete")


def is_ours(asked: str) -> bool:
    return not re.match(r"\s*(?:[a-z][a-z0-9+.-]*:|//|\\)", asked, re.IGNORECASE) or asked.startswith("data:image/")


@pytest.mark.parametrize("asked, ours", [
    ("/static/css/a.css", True), ("", True), ("?next=/", True), ("data:image/png;base64,AA", True),
    ("https://example.org/a.js", False), ("//example.org/a.js", False), (r"\\example.org", False),
    ("data:text/html,x", False),
])
def test_the_search_knows_another_house(asked, ours):
    assert is_ours(asked) is ours


def test_the_search_finds_what_a_browser_would_ask():
    page = '<link href="//a"><script src="b"></script><form action="c"><img srcset="d"><a href="e"><p hx-get="f">'
    page += '<meta http-equiv="refresh" content="0; url=https://g">'
    assert Requests(page).found == ["//a", "b", "c", "d", "f", "https://g"]


@pytest.mark.parametrize("person", ["owner", "nobody"])
def test_every_page_asks_its_own_house_only(cast, client, person):
    keys, asked = furnish(cast), set()
    if person == "owner":
        client.force_login(cast.owner, backend="django.contrib.auth.backends.ModelBackend")
    for route, methods in OPEN.items():
        if "GET" in methods:
            answer = client.get(address(route, keys))
            if "html" in answer.headers.get("Content-Type", ""):
                asked |= {(route, found) for found in Requests(answer.content.decode()).found}
    assert len(asked) > 4
    assert sorted((route, found) for route, found in asked if not is_ours(found)) == []


def test_every_style_sheet_asks_its_own_house_only():
    asked = {
        (sheet.name, found.strip("'\" "))
        for sheet in STATIC.rglob("*.css") for found in re.findall(r"(?:url\(|@import)\s*([^);]*)", sheet.read_text())
    }
    assert asked
    assert sorted((name, found) for name, found in asked if not is_ours(found)) == []


def test_no_script_of_ours_names_another_house():
    named = {
        (script.name, found) for script in (STATIC / "js").rglob("*.js") if script.parent.name != "vendor"
        for found in re.findall(r"(?:https?|wss?):\\?/\\?/[^\s\"'`)]+", script.read_text())
    }
    # A name of the SVG standard, which nobody fetches.
    assert {found for _name, found in named} <= {"http://www.w3.org/2000/svg"}
