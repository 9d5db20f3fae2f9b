"""Which roster field a heading of a studio's export names; a guess to confirm, knowing no cell below it."""

from collections.abc import Mapping, Sequence

from studio.sheets.cells import fold, word_set
from studio.sheets.headings import field_named, fields_by_form, first_of_each

FIELDS = (
    "name",
    "given_name",
    "family_name",
    "called",
    "birth_on",
    "stage",
    "training_since_year",
    "classes_per_week",
    "dominant_foot",
    "guardian_name",
    "guardian_email",
    "guardian_phone",
    "second_guardian_name",
    "second_guardian_email",
    "second_guardian_phone",
    "class_name",
)
DATE_FIELDS = ("birth_on",)


# Headings as exports write them, in English, German, French, Spanish and Italian (common practice, no
# source).
_BY_FORM = fields_by_form(
    {
        "name": (
            "name, full name, student, student name, students, dancer, dancer name, pupil, pupil name, "
            "child, child name, childs name, participant, participant name, student full name, nom "
            "complet, nom et prenom, nom prenom, nombre completo, nombre y apellidos, nome completo, "
            "nome e cognome, nombre, nom, nome, schuler, schulerin, schülername, kind, name des kindes, "
            "eleve, nom de l'eleve, alumno, alumna, allievo, allieva, last first, last name first name, surname "
            "first name, family name given name, nachname vorname, name vorname, vorname nachname, vorname name, "
            "nom et prenoms, apellidos nombre, apellidos y nombre, cognome nome, cognome e nome, first last, "
            "first name last name"
        ),
        "given_name": (
            "first name, given name, given names, forename, first, student first name, child first "
            "name, dancer first name, participant first name, vorname, prenom, nombre de pila, primer "
            "nombre"
        ),
        "family_name": (
            "last name, family name, surname, last, student last name, child last name, dancer last "
            "name, participant last name, nachname, familienname, zuname, nom de famille, apellido, "
            "apellidos, cognome"
        ),
        "called": (
            "called, known as, preferred name, nickname, goes by, rufname, spitzname, surnom, prenom "
            "usuel, apodo, soprannome"
        ),
        "birth_on": (
            "date of birth, birth date, birthday, dob, d o b, born, born on, student dob, geburtsdatum, "
            "geburtstag, geb datum, geb, geboren, geboren am, date de naissance, naissance, ne le, nee "
            "le, fecha de nacimiento, fecha nacimiento, nacimiento, data di nascita, nascita, nato il, "
            "nata il"
        ),
        "stage": "stage, level, grade, stufe, leistungsstufe, niveau, nivel, livello",
        "training_since_year": (
            "training since, in training since, trains since, dancing since, since, since year, start "
            "year, year started, tanzt seit, seit, danse depuis, depuis, baila desde, desde, danza dal, "
            "dal"
        ),
        "classes_per_week": (
            "classes per week, classes a week, classes week, weekly classes, lessons per week, lessons "
            "a week, kurse pro woche, stunden pro woche, cours par semaine, clases por semana, lezioni "
            "a settimana, lezioni per settimana"
        ),
        "dominant_foot": (
            "dominant foot, foot, preferred foot, dominant leg, preferred leg, dominant side, starker "
            "fuss, bevorzugter fuss, dominanter fuss, pied dominant, pie dominante, piede dominante"
        ),
        "guardian_email": (
            "e-mail, email address, mail, contact email, e-mail-adresse, courriel, adresse e-mail, "
            "correo, correo electronico, posta elettronica"
        ),
        "guardian_phone": (
            "phone, phone number, telephone, tel, mobile, mobile phone, cell, cell phone, contact "
            "phone, telefon, telefonnummer, handy, handynummer, mobil, portable, telefono, movil, "
            "cellulare"
        ),
        "class_name": (
            "class, class name, classes, group, group name, course, klasse, kurs, gruppe, cours, "
            "classe, groupe, clase, grupo, corso, gruppo"
        ),
    }
)
_GUARDIAN_WORDS = word_set(
    "guardian guardians parent parents mother father mum mom mama papa dad carer eltern elternteil mutter vater"
    " erziehungsberechtigte erziehungsberechtigter mere pere tuteur tutrice responsable madre padre tutor"
    " tutora genitore genitori"
)
_STUDENT_WORDS = word_set(
    "student students dancer dancers pupil pupils child children childs participant schuler schulerin schulers kind"
    " kindes eleve alumno alumna allievo allieva"
)
_WORDS_BESIDE = word_set("s 1 one the of des der de du le la del di il primary main legal contact")
# Which of two guardians a heading is about.
_SECOND_WORDS = word_set(
    "2 two second secondary other another zweite zweiter zweites deuxieme segundo segunda secondo seconda altro altra"
)
_MOTHER_WORDS = word_set("mother mum mom mama mutter mere madre")
_FATHER_WORDS = word_set("father papa dad vater pere padre")
_OF_GUARDIANS = ("guardian_name", "guardian_email", "guardian_phone")
_BARE_NAME_HEADINGS = frozenset({"name", "nom", "nombre", "nome"})


def _field_of(heading: str) -> str:
    """The field a heading names when it stands alone, "" for none."""
    words = fold(heading).split()
    if not _GUARDIAN_WORDS & set(words):
        return field_named(heading, _BY_FORM) or _field_of_student(words) or _field_of_second(words)
    rest = " ".join(word for word in words if word not in _GUARDIAN_WORDS | _WORDS_BESIDE | _SECOND_WORDS)
    named = field_named(rest, _BY_FORM) if rest else "name"
    if named in ("name", "given_name", "family_name"):
        return "guardian_name"
    return named if named in ("guardian_email", "guardian_phone") else ""


def _field_of_second(words: Sequence[str]) -> str:
    """ "Second e-mail" and "Phone 2" are a guardian's."""
    if not _SECOND_WORDS & set(words):
        return ""
    named = field_named(" ".join(word for word in words if word not in _SECOND_WORDS), _BY_FORM)
    return named if named in ("guardian_email", "guardian_phone") else ""


def _field_of_student(words: Sequence[str]) -> str:
    """ "Child's first name" is the first name; a child's e-mail or phone is nobody's guardian's."""
    if not _STUDENT_WORDS & set(words):
        return ""
    rest = " ".join(word for word in words if word not in _STUDENT_WORDS | _WORDS_BESIDE)
    named = field_named(rest, _BY_FORM)
    return "" if named.startswith("guardian_") else named


def is_family_heading(heading: str) -> bool:
    words = [w for w in fold(heading).split() if w not in _GUARDIAN_WORDS | _WORDS_BESIDE | _SECOND_WORDS]
    return field_named(" ".join(words), _BY_FORM) == "family_name"


def guess_columns(headings: Sequence[str]) -> Mapping[int, str]:
    """Column index -> a name of FIELDS, or "" where the heading says nothing known; for a person to confirm.

    A bare "Name" beside a first name is the family name, beside a family name the first name. A guardian's
    first and family name are two columns of the one field guardian_name; otherwise a field is given to its
    first column only. What comes twice about guardians is the second one's.

    >>> guess_columns(["Nachname", "Vorname", "Geb.-Datum", "Shoe size"])
    {0: 'family_name', 1: 'given_name', 2: 'birth_on', 3: ''}
    >>> list(guess_columns(["Child", "Mother", "Father", "Father's e-mail", "Phone", "Phone 2"]).values())[1:4]
    ['guardian_name', 'second_guardian_name', 'second_guardian_email']
    """
    fields = [_field_of(heading) for heading in headings]
    for index, heading in enumerate(headings):
        if fields[index] == "name" and fold(heading) in _BARE_NAME_HEADINGS:
            if "given_name" in fields and "family_name" not in fields:
                fields[index] = "family_name"
            elif "family_name" in fields and "given_name" not in fields:
                fields[index] = "given_name"
    return first_of_each(_of_two_guardians(headings, fields)) | _split_names(headings, fields)


def _of_two_guardians(headings: Sequence[str], fields: Sequence[str]) -> list[str]:
    """The fields, those of the second guardian named so: by its heading, else by coming second."""
    whose = [_who(heading) if name in _OF_GUARDIANS else "" for heading, name in zip(headings, fields, strict=True)]
    parents = list(dict.fromkeys(who for who in whose if who in ("mother", "father")))
    by_parent = [{name for name, who in zip(fields, whose, strict=True) if who == parent} for parent in parents]
    if len(parents) == 2 and not by_parent[0] & by_parent[1]:
        # One says the phone, the other the address: they may well be of one guardian, and neither names anybody.
        parents = []
    seen: list[str] = []
    told = []
    for index, (name, who) in enumerate(zip(fields, whose, strict=True)):
        is_second = who == "second" or (len(parents) == 2 and who == parents[1])
        if name in _OF_GUARDIANS and not is_second and not (len(parents) == 2 and who == parents[0]):
            is_second = name in seen and not _completes(headings, fields, index)
        told.append(f"second_{name}" if is_second and name in _OF_GUARDIANS else name)
        seen.append(name)
    return told


def _who(heading: str) -> str:
    words = set(fold(heading).split())
    if words & _SECOND_WORDS:
        return "second"
    return "mother" if words & _MOTHER_WORDS else "father" if words & _FATHER_WORDS else ""


def _completes(headings: Sequence[str], fields: Sequence[str], index: int) -> bool:
    """True for the family name that stands beside a guardian's first name, or the other way round."""
    if fields[index] != "guardian_name":
        return False
    same = [at for at in range(index) if fields[at] == "guardian_name" and _who(headings[at]) == _who(headings[index])]
    return len(same) == 1 and is_family_heading(headings[same[0]]) != is_family_heading(headings[index])


def _split_names(headings: Sequence[str], fields: Sequence[str]) -> dict[int, str]:
    """The second column of a guardian's name that stands in two."""
    told = _of_two_guardians(headings, fields)
    return {index: told[index] for index in range(len(fields)) if _completes(headings, fields, index)}


def heading_score(cells: Sequence[str]) -> int:
    """How many different fields a row of cells would name if it were the heading row; for `read_sheet`."""
    return len({_field_of(cell) for cell in cells} - {""})
