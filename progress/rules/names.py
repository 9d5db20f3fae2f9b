"""How a name may stand in what somebody typed; knows no Django, no database and no student."""
import re
import unicodedata
from collections.abc import Iterable

_SENTENCE = re.compile(r"[^.!?\n]+[.!?]*")
_GAP = r"[\s\u00a0]+"


def written(name: str) -> re.Pattern[str]:
    """Finds the whole name: in any case, with any blanks, its surname first with or without a comma, its accents as
    one letter or two. A part of it alone is not found: it is others' name, too.

    >>> pattern = written("Hana Okabe")
    >>> [bool(pattern.search(words)) for words in ("with HANA  okabe", "Okabe, Hana:", "Okabe Hana", "Hana", "Okabe")]
    [True, True, True, False, False]
    >>> bool(written("Anna Maria Li").search("li, Anna Maria")), bool(written("Ada Li").search("Ada Lind"))
    (True, False)
    """
    words = name.split()
    orders = [_GAP.join(map(_either, words))] + [
        f"{_GAP.join(map(_either, words[at:]))}(?:\\s*,\\s*|{_GAP}){_GAP.join(map(_either, words[:at]))}"
        for at in range(1, len(words))
    ]
    return re.compile(rf"(?<!\w)(?:{'|'.join(orders)})(?!\w)", re.IGNORECASE)


def _either(word: str) -> str:
    forms = {unicodedata.normalize(form, word) for form in ("NFC", "NFD")} | {word}
    return f"(?:{'|'.join(re.escape(form) for form in sorted(forms))})"


def any_of(names: Iterable[str], given: Iterable[str]) -> re.Pattern[str] | None:
    """Finds any of the whole names, or one of the given names as a word of its own; None where there are none."""
    wholes = [written(name).pattern for name in names]
    alone = [rf"(?<!\w)(?-i:{_either(name)})(?!\w)" for name in sorted({name for name in given if len(name) > 1})]
    return re.compile("|".join([*wholes, *alone]), re.IGNORECASE) if wholes or alone else None


def sentences(text: str) -> list[str]:
    """The sentences of what somebody typed, without the blanks around them.

    >>> sentences("Jumped on with Greta. Then rested!  Says it is better")
    ['Jumped on with Greta.', 'Then rested!', 'Says it is better']
    """
    return [found.strip() for found in _SENTENCE.findall(text) if found.strip()]
