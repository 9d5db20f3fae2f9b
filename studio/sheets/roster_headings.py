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
_BARE_NAME_HEADINGS = frozenset({"name", "nom", "nombre", "nome"})


def _field_of(heading: str) -> str:
    """The field a heading names when it stands alone, "" for none."""
    words = fold(heading).split()
    if not _GUARDIAN_WORDS & set(words):
        return field_named(heading, _BY_FORM) or _field_of_student(words)
    rest = " ".join(word for word in words if word not in _GUARDIAN_WORDS | _WORDS_BESIDE)
    named = field_named(rest, _BY_FORM) if rest else "name"
    if named in ("name", "given_name", "family_name"):
        return "guardian_name"
    return named if named in ("guardian_email", "guardian_phone") else ""


def _field_of_student(words: Sequence[str]) -> str:
    """ "Child's first name" is the first name; her e-mail or phone is nobody's guardian's."""
    if not _STUDENT_WORDS & set(words):
        return ""
    rest = " ".join(word for word in words if word not in _STUDENT_WORDS | _WORDS_BESIDE)
    named = field_named(rest, _BY_FORM)
    return "" if named.startswith("guardian_") else named


def is_family_heading(heading: str) -> bool:
    words = [word for word in fold(heading).split() if word not in _GUARDIAN_WORDS | _WORDS_BESIDE]
    return field_named(" ".join(words), _BY_FORM) == "family_name"


def guess_columns(headings: Sequence[str]) -> Mapping[int, str]:
    """Column index -> a name of FIELDS, or "" where the heading says nothing known; for a person to confirm.

    A bare "Name" beside a first name is the family name, beside a family name the first name. A guardian's
    first and family name are two columns of the one field guardian_name; otherwise a field is given to its
    first column only.

    >>> guess_columns(["Nachname", "Vorname", "Geb.-Datum", "Shoe size"])
    {0: 'family_name', 1: 'given_name', 2: 'birth_on', 3: ''}
    """
    fields = [_field_of(heading) for heading in headings]
    for index, heading in enumerate(headings):
        if fields[index] == "name" and fold(heading) in _BARE_NAME_HEADINGS:
            if "given_name" in fields and "family_name" not in fields:
                fields[index] = "family_name"
            elif "family_name" in fields and "given_name" not in fields:
                fields[index] = "given_name"
    guessed = first_of_each(fields)
    guardians = [index for index, name in enumerate(fields) if name == "guardian_name"]
    if len(guardians) > 1 and is_family_heading(headings[guardians[0]]) != is_family_heading(
        headings[guardians[1]]
    ):
        guessed[guardians[1]] = "guardian_name"
    return guessed


def heading_score(cells: Sequence[str]) -> int:
    """How many different fields a row of cells would name if it were the heading row; for `read_sheet`."""
    return len({_field_of(cell) for cell in cells} - {""})
