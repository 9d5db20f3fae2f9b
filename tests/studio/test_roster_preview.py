"""The preview of a roster says what it lacks and whom it would bring in, in words an owner can check."""
from tests.studio.test_roster_import import answer, bring, outcomes, text_of


def test_the_preview_of_a_new_student_shows_the_guardian_who_comes_with_her(as_owner, cast):
    lines = "Name,Born,Mum,Mum's e-mail,Mobile", "Nele Vance,2014-06-01,Ana Vance,ana@vance.example,01234 567"
    words = " ".join(bring(as_owner, cast, text_of(*lines)).content.decode().split())
    assert "guardian Ana Vance, ana@vance.example, 01234 567" in words


def test_a_guardian_without_a_name_goes_by_the_e_mail_and_a_phone_alone_brings_nobody(as_owner, cast):
    named = "Nele Vance,2014-06-01,ana@vance.example,"
    file = text_of("Name,Born,Mum's e-mail,Mobile", named, "Oren Pike,2013-11-20,,01234 567")
    preview = bring(as_owner, cast, file).content.decode()
    assert "guardian ana@vance.example" in preview and "01234 567" not in preview.split("Row by row")[1]


def test_family_names_alone_are_not_taken_and_the_page_says_which_column_it_needs(as_owner, cast):
    preview = bring(as_owner, cast, text_of("Rufname?,Surname,Birthday", "Nele,Vance,2014-06-01"))
    words = preview.content.decode()
    assert "First name: Choose the column for this field. It is needed." in words and "Row by row" not in words
    preview = answer(as_owner, preview, column_is0="given_name", column_is1="family_name", column_is2="birth_on")
    assert outcomes(preview) == [(2, "Nele Vance", "add")]
