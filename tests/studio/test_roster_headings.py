"""Headings of exports into roster fields: matched loosely, and never to the wrong person."""

from datetime import date

import pytest

from studio.roster_file import FIELDS, guess_columns, heading_score, read_roster
from studio.sheet_file import Sheet, SheetRow


@pytest.mark.parametrize(
    ("headings", "fields"),
    [
        (["Student Name", "D.O.B.", "LEVEL", "Allergies"], ["name", "birth_on", "stage", ""]),
        (["FirstName", "Last-Name", "Birthdate (mm/dd/yyyy)"], ["given_name", "family_name", "birth_on"]),
        (["Name", "Vorname", "Geburtsdatum", "Stufe"], ["family_name", "given_name", "birth_on", "stage"]),
        (["Nom", "Prénom", "Date de naissance"], ["family_name", "given_name", "birth_on"]),
        (["Nombre", "Apellidos", "Fecha de nacimiento"], ["given_name", "family_name", "birth_on"]),
        (["Nome", "Cognome", "Livello"], ["given_name", "family_name", "stage"]),
        (["Mother's name", "Parent e-mail", "Mobile"], ["guardian_name", "guardian_email", "guardian_phone"]),
        (["Child's first name", "Child's surname", "Birthday of the child"], ["given_name", "family_name", "birth_on"]),
        (["Dancer", "Dancer's mobile", "Student number"], ["name", "", ""]),
        (["Name", "Handy Mama", "Papa E-Mail"], ["name", "guardian_phone", "guardian_email"]),
        (["Name", "Parent 1 Email", "Parent 2 Email"], ["name", "guardian_email", "second_guardian_email"]),
        (["Name", "Parent birthday", "Emergency contact"], ["name", "", ""]),
    ],
)
def test_headings_are_matched_loosely_and_never_to_the_wrong_person(headings, fields):
    assert list(guess_columns(headings).values()) == fields


def test_every_field_is_found_by_its_own_name():
    assert list(guess_columns(FIELDS).values()) == list(FIELDS)


def test_a_row_of_students_scores_lower_than_the_headings():
    headings, title, student = (
        ["Name", "DOB", "Level"],
        ["Autumn term", "", ""],
        ["Ada Moss", "2019-03-25", "A"],
    )
    assert (heading_score(headings), heading_score(title), heading_score(student)) == (3, 0, 0)


def test_a_guardians_two_names_become_one_in_the_right_order():
    headings = ("Name", "Guardian Last Name", "Guardian First Name")
    sheet = Sheet(headings, (SheetRow(2, ("Ada Moss", "Moss", "Jo")),), "csv")
    how = {"date_order": "iso", "stages": {}, "today": date(2031, 3, 20)}
    assert read_roster(sheet, guess_columns(headings), **how).rows[0].guardian_name == "Jo Moss"


@pytest.mark.parametrize("heading", ["Nachname, Vorname", "Last, First", "Name, Vorname", "Cognome e nome"])
def test_one_column_of_both_names_is_the_name(heading):
    assert guess_columns((heading, "Geb.-Datum"))[0] == "name"
