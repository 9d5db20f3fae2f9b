"""Finds in free words, English or German, what would have to be asked: signs and places that nobody tapped.

Pure. Words only ever raise a question or an answer, never lower one; what they miss is missed, so the taps come first.
The lists are from memory, to be added to.
"""
import re

# key of pain.SIGNS or of pain.HEAD_PLACES -> what names it.
_NAMES = {
    "head": r"\bhead(?:ache)?\b|\bconcuss\w*|\bkopf\w*|\bgehirn\w*|\bstirn\b|\bschläfe\w*|\bknocked out\b"
            r"|\bbewusstlos\w*",
    "neck": r"\bneck\b|\bnacken\w*|\bgenick\w*|\bhalswirbel\w*",
    "night": r"\bnights?\b|\bw[oa]kes?\b|\bwok(?:e|en)\b|\bsleep\w*|\bnachts?\b|\bnächt\w*|\baufgewacht\b"
             r"|\bschl[aä]f\w*",
    "snap": r"\bsnap(?:ped|s)?\b|\bpop(?:ped|s)?\b|\bcrack(?:ed|s)?\b|\bgeknackt\b|\bknack\w*|\bgeknallt\b|\bknall\w*"
            r"|\bschnalz\w*|\bgerissen\b",
    "gives_way": r"\bgiv(?:e|es|ing|en) way\b|\bgave way\b|\block(?:s|ed|ing)\b|\bbuckl\w*|\bcollaps\w*"
                 r"|\b(?:ein|weg|um)?geknickt\b|\bknickt\b|\bblockier\w*|\bsackt\b",
    "unwell": r"\bfever\w*|\btemperature\b|\bunwell\b|\bvomit\w*|\bfieber\w*|\bkrank\b|\bübel\b|\berbrochen\b",
    "no_weight": r"\bcan(?:no|')?’?t (?:put|take|bear|stand|walk|step)\b|\bcan not (?:put|take|bear|stand|walk)\b"
                 r"|\bno weight\b|\bunable to (?:stand|walk|bear)\b|\bnicht belast\w*"
                 r"|\bnicht (?:mehr )?(?:auftreten|stehen|gehen|laufen)\b",
}
PATTERNS = {key: re.compile(pattern, re.IGNORECASE) for key, pattern in _NAMES.items()}


def named_in(note: str) -> frozenset[str]:
    """The signs and places that these words seem to name.

    >>> sorted(named_in("Hat nachts geweint, Kopf angestoßen")), sorted(named_in("hurts when she points"))
    (['head', 'night'], [])
    """
    return frozenset(key for key, pattern in PATTERNS.items() if pattern.search(note))


def word_for(key: str, note: str) -> str:
    """The very word that seems to name it, for the question; "" where none does.

    >>> word_for("snap", "I heard it snap")
    'snap'
    """
    found = PATTERNS[key].search(note)
    return found.group() if found else ""
