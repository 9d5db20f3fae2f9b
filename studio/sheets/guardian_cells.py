"""The cells about a child's guardians: two at most, what cannot be taken is said and refuses no child."""

import re
from dataclasses import dataclass

from studio.sheets.rows import MAX_NAME_CHARS, GetText, RowCells, first_name_first

GUARDIAN_FIELDS = (
    "guardian_name",
    "guardian_email",
    "guardian_phone",
    "second_guardian_name",
    "second_guardian_email",
    "second_guardian_phone",
)
# The length of the stored text.
MAX_PHONE_CHARS = 40
# RFC 5321 section 4.5.3.1.3: a path of 256 octets with its two brackets.
MAX_EMAIL_CHARS = 254
# ITU-T E.164: 15 digits with the country code; five for a short local number, four more for an extension.
MIN_PHONE_DIGITS, MAX_PHONE_DIGITS = 5, 19

_EMAIL = re.compile(r"[^@\s,;<>()]+@[^@\s,;<>()]+\.[^@\s,;<>().]{2,}")
_PHONE = re.compile(r"\+?[\d\s()/.–-]+(?:(?:ext|x)\.?\s*\d+)?", re.IGNORECASE | re.ASCII)
_BETWEEN_EMAILS = re.compile(r"[\s,;|]+|/(?=[^/]*@)")
_BETWEEN_PHONES = re.compile(r"\s*[;,|]\s*|\s+/\s+|\s+(?:or|and|oder|und|ou|et|o|y|e)\s+", re.IGNORECASE)
_BETWEEN_NAMES = re.compile(r"\s*[;|/&]\s*|\s+(?:and|und|et|y|e)\s+", re.IGNORECASE)
_FORMULA_SIGNS = ("=", "+", "-", "@")


@dataclass(frozen=True)
class FileGuardian:
    """A guardian as a row has it; "" for what it does not say."""

    name: str = ""
    email: str = ""
    phone: str = ""

    @property
    def is_nobody(self) -> bool:
        return not (self.name or self.email or self.phone)


def read_guardians(cells: RowCells, gettext: GetText) -> tuple[FileGuardian, FileGuardian]:
    """(first, second) guardian of a row. Two addresses, numbers or names in one cell are parted.

    A text that is no address, number or name is a warning of the row: "not taken", with the text itself.
    """
    names = _two(_names(cells, "guardian_name", gettext), _names(cells, "second_guardian_name", gettext))
    emails = _two(_emails(cells, "guardian_email", gettext), _emails(cells, "second_guardian_email", gettext))
    phones = _two(_phones(cells, "guardian_phone", gettext), _phones(cells, "second_guardian_phone", gettext))
    for left in (*names[2:], *emails[2:], *phones[2:]):
        cells.warn(gettext("“%(text)s” is not taken: a row brings two guardians at most.") % {"text": left[:60]})
    first, second = (FileGuardian(*(found[at] for found in (names, emails, phones))) for at in (0, 1))
    if second.phone and not (second.name or second.email):
        cells.warn(
            gettext("The second number %(phone)s is not taken: a guardian has one number here.")
            % {"phone": second.phone}
        )
        second = FileGuardian()
    return first, second


def _two(first: list[str], second: list[str]) -> list[str]:
    """The first guardian's, the second's, and what is left over."""
    if not first and len(second) > 1:
        return second
    own, more = first[:1] or [""], first[1:]
    return own + (second + more if second else more or [""])


def _names(cells: RowCells, field: str, gettext: GetText) -> list[str]:
    text = cells.text(field)
    if not text:
        return []
    if text.startswith(_FORMULA_SIGNS) or not any(c.isalpha() for c in text):
        cells.warn(gettext("“%(text)s” is not a name and is not taken.") % {"text": text[:60]})
        return []
    parts = [part for part in _BETWEEN_NAMES.split(text) if part]
    # "Jo & Sam Vance" stays one name: only whole names are parted.
    if len(parts) < 2 or any(len(part.split()) < 2 for part in parts):
        parts = [text]
    return [(first_name_first(part) or part)[:MAX_NAME_CHARS] for part in parts]


def _emails(cells: RowCells, field: str, gettext: GetText) -> list[str]:
    found = []
    for part in _BETWEEN_EMAILS.split(cells.text(field)):
        address = part.strip("<>()").removeprefix("mailto:")
        if _EMAIL.fullmatch(address) and len(address) <= MAX_EMAIL_CHARS:
            found.append(address)
        elif "@" in part:
            cells.warn(gettext("“%(text)s” is not an e-mail address and is not taken.") % {"text": part[:60]})
    if cells.text(field) and not found and "@" not in cells.text(field):
        cells.warn(
            gettext("“%(text)s” is not an e-mail address and is not taken.") % {"text": cells.text(field)[:60]}
        )
    return list(dict.fromkeys(found))


def _phones(cells: RowCells, field: str, gettext: GetText) -> list[str]:
    text = cells.text(field)
    if not text:
        return []
    parts = [text] if _is_phone(text) else [part for part in _BETWEEN_PHONES.split(text) if part]
    found = [part for part in parts if _is_phone(part)]
    for part in parts:
        if part not in found:
            cells.warn(gettext("“%(text)s” is not a phone number and is not taken.") % {"text": part[:40]})
    return list(dict.fromkeys(found))


def _is_phone(text: str) -> bool:
    digits = sum(character.isdigit() for character in text)
    is_long_enough = MIN_PHONE_DIGITS <= digits <= MAX_PHONE_DIGITS
    return bool(_PHONE.fullmatch(text)) and is_long_enough and len(text) <= MAX_PHONE_CHARS
