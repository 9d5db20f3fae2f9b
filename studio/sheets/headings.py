"""Which field a heading most likely names; a guess for a person to confirm, knowing no cell below it."""

import re
from collections.abc import Mapping, Sequence

from studio.sheets.cells import fold

_BRACKETED = re.compile(r"[(\[{].*?[)\]}]")


def heading_forms(heading: str) -> tuple[str, ...]:
    """The folded heading, then without its brackets, then each without spaces; empty forms left out.

    >>> heading_forms("Birth-Date (dd/mm/yyyy)")
    ('birth date dd mm yyyy', 'birth date', 'birthdateddmmyyyy', 'birthdate')
    """
    whole, bare = fold(heading), fold(_BRACKETED.sub(" ", heading))
    forms = [whole, bare, whole.replace(" ", ""), bare.replace(" ", "")]
    return tuple(dict.fromkeys(form for form in forms if form))


def fields_by_form(synonyms: Mapping[str, str]) -> dict[str, str]:
    """Folded heading -> field, from field -> headings parted by commas; each also without its spaces."""
    found: dict[str, str] = {}
    for name, headings in synonyms.items():
        for heading in (name, *headings.split(",")):
            folded = fold(heading)
            found.setdefault(folded, name)
            found.setdefault(folded.replace(" ", ""), name)
    return found


def field_named(heading: str, by_form: Mapping[str, str]) -> str:
    """The field the heading names, "" for none."""
    return next((by_form[form] for form in heading_forms(heading) if form in by_form), "")


def first_of_each(fields: Sequence[str]) -> dict[int, str]:
    """Column index -> field; of two columns with one field only the first keeps it, the other gets ""."""
    taken: set[str] = set()
    kept: dict[int, str] = {}
    for index, name in enumerate(fields):
        kept[index] = "" if name in taken else name
        taken.add(name)
    return kept
