"""What a row of a roster changes in a child's guardians: everything is taken or said; knows no database."""
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from studio.sheets.guardian_cells import FileGuardian
from studio.sheets.rows import name_key

# Fewer digits than this are no number by which one guardian is told from another (our choice).
FEWEST_DIGITS = 7


@dataclass(frozen=True)
class KnownGuardian:
    """A guardian as the studio has them. `pk`: 0 where the row makes them."""

    name: str
    email: str
    phone: str
    pk: int = 0


@dataclass(frozen=True)
class Difference:
    """One field that would change, in texts for people. `field`: a name of the roster's fields, "guardian", "class"."""

    field: str
    before: str
    after: str


@dataclass(frozen=True)
class GuardianChanges:
    """`wanted`: the guardians to write, new ones with pk 0; `warnings`: what is not taken, and what is guessed."""

    wanted: tuple[KnownGuardian, ...] = ()
    differences: tuple[Difference, ...] = ()
    warnings: tuple[str, ...] = ()


def compare_guardians(
    told: Sequence[FileGuardian], known: Sequence[KnownGuardian], gettext: Callable[[str], str]
) -> GuardianChanges:
    """What the guardians of a row change among those that are known; an empty cell erases nothing.

    >>> there = [KnownGuardian("Jo Vance", "", "", 7)]
    >>> compare_guardians([FileGuardian("", "jo@example.org", "")], there, str).differences
    (Difference(field='guardian_email', before='', after='jo@example.org'),)
    """
    now, wanted = list(known), {}
    differences: list[Difference] = []
    warnings: list[str] = []
    for each in told:
        at = _meant(each, now)
        if at is None:
            if not (each.name or each.email):
                warnings.append(_phone_of_nobody(each, now, gettext))
                continue
            if not each.name and known:
                warnings.append(
                    gettext("%(email)s becomes another guardian. The file does not say whose it is.")
                    % {"email": each.email}
                )
            made = KnownGuardian(each.name or each.email, each.email, each.phone)
            now.append(made)
            wanted[len(now) - 1] = made
            parts = dict.fromkeys(part for part in (made.name, made.email, made.phone) if part)
            differences.append(Difference("guardian", "", ", ".join(parts)))
            continue
        changed, found, said = _changed(each, now[at], gettext)
        warnings += said
        if changed != now[at]:
            now[at] = wanted[at] = changed
            differences += found
    return GuardianChanges(tuple(wanted.values()), tuple(differences), tuple(warnings))


def _meant(each: FileGuardian, known: Sequence[KnownGuardian]) -> int | None:
    """Which known guardian the row means: by name, by address, by number; else the only one whose cell is empty."""
    tests = (
        lambda g: each.name and name_key(g.name) == name_key(each.name),
        lambda g: each.email and g.email.casefold() == each.email.casefold(),
        lambda g: each.phone and _digits(g.phone) == _digits(each.phone) and len(_digits(each.phone)) >= FEWEST_DIGITS,
    )
    for is_meant in tests:
        for at, guardian in enumerate(known):
            if is_meant(guardian):
                return at
    lacks = not known or (each.email and known[0].email) or (each.phone and known[0].phone)
    return 0 if len(known) == 1 and not each.name and not lacks else None


def _changed(
    each: FileGuardian, there: KnownGuardian, gettext: Callable[[str], str]
) -> tuple[KnownGuardian, list[Difference], list[str]]:
    found, said, after = [], [], there
    if each.name and name_key(each.name) != name_key(there.name):
        if there.name == there.email:
            found.append(Difference("guardian_name", there.name, each.name))
            after = replace(after, name=each.name)
        else:
            said.append(
                gettext("The studio has this guardian as %(known)s. The name %(name)s is not taken.")
                % {"known": there.name, "name": each.name}
            )
    if each.email and each.email.casefold() != there.email.casefold():
        found.append(Difference("guardian_email", there.email, each.email))
        after = replace(after, email=each.email)
    if each.phone and _digits(each.phone) != _digits(there.phone):
        found.append(Difference("guardian_phone", there.phone, each.phone))
        after = replace(after, phone=each.phone)
    return after, found, said


def _phone_of_nobody(each: FileGuardian, known: Sequence[KnownGuardian], gettext: Callable[[str], str]) -> str:
    if not known:
        return gettext("%(phone)s is not taken: the file names no guardian and no e-mail for it.") % {
            "phone": each.phone}
    return gettext("%(phone)s is not taken: the file does not say whose it is.") % {"phone": each.phone}


def _digits(phone: str) -> str:
    return "".join(character for character in phone if character.isdigit())
