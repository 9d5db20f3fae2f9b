"""Keeps texts from being run by a spreadsheet; pure, knows no file and no Django."""

# A cell that begins so would be run by a spreadsheet (OWASP, CSV injection).
_RUN_BY_SPREADSHEETS = ("=", "+", "-", "@", "\t", "\r")


def guarded(text: str) -> str:
    """The text of a CSV cell, with an apostrophe before it where a spreadsheet would run it as a formula.

    >>> guarded("=1+1"), guarded("Ama")
    ("'=1+1", 'Ama')
    """
    return f"'{text}" if text.startswith(_RUN_BY_SPREADSHEETS) else text
