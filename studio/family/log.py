"""Keeps the links of families out of every line that is logged, tracebacks included; knows no Django."""
import logging
import re

# The path as studio.urls has it, plain or with its slashes escaped, however many, and everything in the place of the
# token.
LINK = re.compile(r"(family(?:/|%2F)+card(?:/|%2F)+)[^/\s'\"<>&?]+", re.IGNORECASE)


def without_links(text: str) -> str:
    """The text with each link's token left out.

    >>> without_links("Not Found: /family/card/q7Hd9/ (GET)")
    'Not Found: /family/card/.../ (GET)'
    >>> without_links("Not Found: /family//card//q7Hd9/ and %2Ffamily%2F%2Fcard%2F/q7Hd9")
    'Not Found: /family//card//.../ and %2Ffamily%2F%2Fcard%2F/...'
    """
    return LINK.sub(r"\1...", text)


class LinklessFormatter(logging.Formatter):
    """Writes as the usual one does, then takes the tokens out."""

    def format(self, record: logging.LogRecord) -> str:
        return without_links(super().format(record))
