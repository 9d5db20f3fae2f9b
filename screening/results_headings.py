"""Which field of a result a heading most likely names, in five languages; knows no cell below it."""

from collections.abc import Mapping, Sequence

from studio.sheets.headings import field_named, fields_by_form, first_of_each

FIELDS = (
    "student",
    "measure",
    "side",
    "attempt",
    "value",
    "date",
    "birth_on",
    "class_name",
    "assessor",
    "protocol",
    "capped",
)
DATE_FIELDS = ("date", "birth_on")

# Headings as exports write them, in English, German, French, Spanish and Italian (common practice, no
# source).
_BY_FORM = fields_by_form(
    {
        "student": (
            "student, student name, name, full name, dancer, pupil, child, participant, schuler, "
            "schulerin, kind, eleve, nom, alumno, alumna, nombre, allievo, allieva, nome"
        ),
        "measure": (
            "measure, test, test name, measurement, exercise, item, what, messung, ubung, mesure, epreuve, "
            "medida, prueba, misura, prova"
        ),
        "side": (
            "side, foot, leg, left right, l r, left or right, seite, fuss, bein, cote, pied, jambe, "
            "lado, pie, pierna, lato, piede, gamba"
        ),
        "attempt": (
            "attempt, attempt number, trial, try, trial number, repetition, versuch, durchgang, essai, "
            "intento, tentativo"
        ),
        "value": (
            "value, result, score, reading, measured, count, how many, how much, wert, ergebnis, messwert, "
            "valeur, resultat, valor, resultado, valore, risultato"
        ),
        "date": (
            "date, tested on, test date, date tested, day tested, measured on, taken on, screening date, day, "
            "datum, testdatum, date du test, fecha, data"
        ),
        "birth_on": (
            "date of birth, birth date, birthday, dob, born, geburtsdatum, date de naissance, "
            "naissance, fecha de nacimiento, nacimiento, data di nascita, nascita"
        ),
        "class_name": (
            "class, class name, group, klasse, kurs, gruppe, classe, groupe, clase, grupo, corso, gruppo"
        ),
        "assessor": (
            "assessor, tester, rater, tested by, measured by, teacher, lehrer, lehrerin, prufer, "
            "professeur, evaluador, profesor, valutatore, insegnante"
        ),
        "protocol": "protocol, protocol version, version, protokoll, protocole, protocolo, protocollo",
        "capped": "capped, reached cap, at cap, cap reached, at least, maximum reached",
    }
)


def field_of(heading: str) -> str:
    """The field that a heading names, "" for none."""
    return field_named(heading, _BY_FORM)


def guess_columns(headings: Sequence[str]) -> Mapping[int, str]:
    """Column index -> a name of FIELDS, or "" where the heading says nothing known; for a person to confirm.

    >>> guess_columns(["Dancer", "Test", "L/R", "Result", "Date tested"])
    {0: 'student', 1: 'measure', 2: 'side', 3: 'value', 4: 'date'}
    """
    return first_of_each([field_of(heading) for heading in headings])


def heading_score(cells: Sequence[str]) -> int:
    """How many different fields a row of cells would name if it were the heading row; for `read_sheet`."""
    return len({field_of(cell) for cell in cells} - {""})
