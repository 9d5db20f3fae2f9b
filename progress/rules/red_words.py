"""Finds in free words, English or German, what would have to be asked: signs, feelings and places nobody tapped.

Pure. Words only ever raise a question or an answer, never lower one; what they miss is missed, so the taps come first.
The lists are from memory, to be added to. A tablet without a network reads the same patterns: what they match is plain
(`plain`), so that two machines understand them alike; static/js/hurts.js does the same, and a test compares the two.
"""
import re
import unicodedata
from functools import lru_cache

# What may be tapped instead (a key of pain.SIGNS, pain.FEELS or pain.HEAD_PLACES) -> the words that seem to name it.
# `*` stands for the rest of a word or for its beginning, `~` for up to three words between.
_NAMES = {
    "head": (
        "head", "heads", "headache*", "forehead", "skull", "temple", "concuss*", "knocked out", "face", "nose", "eye",
        "eyes", "tooth", "teeth", "jaw", "chin", "kopf*", "*kopf", "gehirn*", "stirn", "schläfe", "schläfen", "gesicht",
        "nase", "auge", "augen", "zahn", "zähne", "kinn", "kiefer", "hinterkopf", "bewusstlos*",
    ),
    "neck": ("neck", "necks", "whiplash", "nacken*", "genick*", "halswirbel*", "hals"),
    "night": (
        "night*", "*night", "wake*", "woke*", "awake", "sleep*", "asleep", "slept", "nacht", "nachts", "nächt*",
        "aufgewacht", "wacht ~ auf", "wach", "schlaf*", "schläft", "geschlafen",
    ),
    "snap": (
        "snap*", "pop", "pops", "popp*", "crack*", "crunch*", "tore", "torn", "ripped", "knack*", "geknackt",
        "knall*", "geknallt", "plopp", "schnalz*", "geschnalzt", "*gerissen", "riss", "krach*", "gekracht",
    ),
    "gives_way": (
        "give way", "gives way", "giving way", "gave way", "given way", "gives out", "gave out", "lock", "locks",
        "locked", "locking", "stuck", "buckl*", "weggeknickt", "eingeknickt", "knickt*", "blockier*",
        "sackt*", "eingesackt", "weggesackt", "klemmt", "hängt fest", "gibt nach", "gab nach", "hakt", "springt raus",
    ),
    "twisted": (
        "twist*", "sprain*", "rolled", "fell", "fall", "falls", "hit", "kicked", "landed on", "knock", "knocked",
        "bumped", "umgeknickt", "umknickt*", "verstaucht*", "vertreten", "verdreht*", "gestürzt", "sturz", "gefallen",
        "angestoßen", "angestossen", "getreten", "geschlagen", "prell*", "geprellt",
    ),
    "rest": (
        "at rest", "in rest", "resting", "sitting still", "all the time", "constant*", "non-stop", "in ruhe",
        "ruheschmerz*", "dauerschmerz*", "dauernd", "ständig", "die ganze zeit", "auch im sitzen",
    ),
    "collapse": (
        "faint*", "passed out", "blacked out", "collaps*", "unconscious", "seizure*", "chest", "breath*",
        "confused", "drowsy", "blurred vision", "sees double", "double vision", "can't feel ~ legs", "weak legs",
        "legs weak", "wet herself", "wet himself", "cannot pee", "ohnmacht*", "ohnmächtig*", "bewusstlos*", "umgekippt",
        "schwarz vor", "krampf", "krampfanfall", "brust*", "atem*", "keine luft", "luftnot", "verwirrt", "benommen",
        "schläfrig", "herzrasen", "eingenässt", "beine schwach",
    ),
    "unwell": (
        "fever*", "temperature", "degrees", "unwell", "ill", "sick", "vomit*", "nausea*", "nauseous", "dizzy",
        "dizziness", "shivering", "weight loss", "lost weight", "pus", "fieber*", "temperatur", "krank*", "übel*",
        "schlecht", "erbrochen", "erbricht", "erbrach", "übergeben", "schwind*", "schüttelfrost", "abgenommen",
        "kreislauf*", "eitert", "eiter",
    ),
    "no_weight": (
        "can't ~ stand", "can't ~ walk", "can't ~ weight", "can't ~ step", "can't ~ bear", "cant ~ stand",
        "cant ~ walk", "cant ~ weight", "cant ~ step", "cant ~ bear", "cannot ~ stand", "cannot ~ walk",
        "cannot ~ weight", "cannot ~ step", "cannot ~ bear", "can not ~ stand", "can not ~ walk", "can not ~ weight",
        "no weight", "unable to", "couldn't ~ stand", "couldn't ~ walk", "couldn't ~ weight", "won't ~ walk",
        "won't ~ weight", "refuses to walk", "will not walk", "crutch*", "nicht ~ belast*",
        "nicht ~ auftreten", "nicht ~ stehen", "nicht ~ gehen", "nicht ~ laufen", "tritt nicht ~ auf", "krücke*",
    ),
    "looks": (
        "bent", "crooked", "deformed", "out of place", "out of joint", "dislocat*", "broken", "broke", "blue", "purple",
        "white", "pale", "cold", "schief*", "verbogen", "verformt", "ausgerenkt", "verrenkt*", "gebrochen", "bruch",
        "blau*", "lila", "bleich", "blass*", "weiss*", "weiß*", "kalt*",
    ),
    "swollen": (
        "swell*", "swollen", "puffy", "hot", "red", "*schwollen*", "*schwell*", "dick", "dicker", "dickes",
        "dicken", "schwillt*", "heiß*", "heiss*", "rot", "gerötet",
    ),
    "numb": (
        "numb*", "tingl*", "pins and needles", "cannot feel", "can't feel", "can't lift", "cannot lift", "gefühllos*",
        "gefühl weg", "prickel*", "nicht bewegen", "taub*", "kribbel*", "*kribbelt", "eingeschlafen", "ameisenlauf*"),
    "limps": ("limp*", "hobbl*", "humpel*", "gehumpelt", "hink*", "gehinkt"),
    "sharp": (
        "sharp*", "stab*", "shoot*", "knife", "pin-point", "pinpoint", "needle", "stech*", "sticht", "gestochen",
        "stich*", "messer", "einschieß*", "schießt",
    ),
}
# What is asked where the words seem to name it.
QUESTIONS = (
    ("head", "a knock on the head?"), ("neck", "does the neck hurt?"), ("night", "does it wake at night?"),
    ("snap", "was a snap heard or felt?"), ("gives_way", "does it give way or lock?"),
    ("unwell", "fever, unwell, faint or short of breath?"), ("no_weight", "can’t put weight on it?"),
    ("looks", "bent, blue or cold?"), ("swollen", "swollen or hot?"), ("numb", "numb or tingling?"),
    ("limps", "limping?"), ("sharp", "sharp, pin-point?"), ("twisted", "a twist, a fall or a blow?"),
    ("rest", "does it hurt when sitting still?"), ("collapse", "fainted, a fit, chest pain or short of breath?"),
)
# The same as regular expressions over `plain` words, which every machine reads alike.
PATTERNS = {
    key: "|".join(
        each.replace("*", "[^ ]*").replace(" ~ ", " (?:[^ ]+ ){0,3}") for each in names
    )
    for key, names in _NAMES.items()
}
_COMPILED = {key: re.compile(f" ({pattern})(?= )") for key, pattern in PATTERNS.items()}


def plain(note: str) -> str:
    """The words alone, small, between single blanks: letters, digits and what joins them.

    >>> plain("Can’t WALK,   really!")
    " can't walk really "
    """
    small = re.sub("[’ʼ´`‘]", "'", unicodedata.normalize("NFC", note).lower())
    return " " + " ".join(re.findall(r"[^\W_]+(?:['-][^\W_]+)*", small)) + " "


@lru_cache(maxsize=4096)
def named_in(note: str) -> frozenset[str]:
    """The signs, feelings and places that these words seem to name.

    >>> sorted(named_in("Hat nachts geweint, der Kopf brummt")), sorted(named_in("hurts when she points"))
    (['head', 'night'], [])
    """
    words = plain(note)
    return frozenset(key for key, pattern in _COMPILED.items() if pattern.search(words))
