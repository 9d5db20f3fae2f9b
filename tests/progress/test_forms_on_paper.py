"""The note for a clinician, the barre card and the forms to sign as PDF: what the screen says, a page each.

Read back with poppler's pdftotext and pdfinfo, which know nothing of how the file was made.
"""
import html
import re
import uuid

import pytest

from progress.actions.classwork.programme import plan_exercise
from progress.actions.follow_ups import add_note
from progress.actions.pain import report_pain
from progress.actions.standings import rebuild_standings
from progress.models import Exercise, FollowUp
from progress.papers import paper
from progress.papers.note_page import feet_pictures
from progress.rules.dose import Dose
from studio.audit.models import AuditRow
from studio.models import Consent
from tests import factories
from tests.conftest import TODAY
from tests.family.conftest import agree
from tests.progress.read_back import read
from tests.progress.test_awkward_pages import results


@pytest.fixture
def much_to_tell(cast):
    """Seven reports with long words, seven notes, and three measures with results."""
    cast.screening.delete()
    agree(cast, cast.ama)
    results(cast, 1, 11)
    rebuild_standings()
    for place in ("L-achilles", "R-heel", "L-toes", "R-calf", "L-top", "R-ball", "L-ankle-inner"):
        report_pain(
            key=uuid.uuid4(), student=cast.ama, class_group=cast.class_group, screening=None, measure=cast.rises,
            places=[place, "back"], feels=["limps"], intensity=10, stopped="class", since="longer", by=cast.teacher,
            note="since the day of the village fair, when she ran all afternoon in thin shoes", reported_on=TODAY,
        )
    for number in range(7):
        text = f"{number}. Her mother was told at the door and will ring the surgery on Monday morning."
        add_note(follow_up=FollowUp.objects.get(kind=FollowUp.STOP_SIGN), text=text, by=cast.teacher)
    return cast


def words(file: bytes, tmp_path) -> str:
    return " ".join(read("pdftotext", file, tmp_path).split())


def on_screen(page: str, tag: str) -> list[str]:
    """What stands in each of these elements of the page's article, without its marks."""
    article = page[page.index("<article"):page.index("</article>")]
    found = re.findall(rf"<{tag}[^>]*>(.*?)</{tag}>", article, re.DOTALL)
    return [" ".join(html.unescape(re.sub(r"<[^>]*>", " ", text)).split()) for text in found]


def letters(text: str) -> str:
    return re.sub(r"\s", "", text)


@pytest.mark.parametrize("size", paper.SIZES)
def test_whoever_has_much_to_tell_has_a_note_of_one_page_that_says_what_the_screen_says(
    as_teacher, much_to_tell, tmp_path, size
):
    address = f"/students/{much_to_tell.ama.pk}/referral-note/"
    file = as_teacher.get(f"{address}print/?paper={size}").content
    assert "Pages:           1\n" in read("pdfinfo", file, tmp_path)
    # In the order of the tags: a heading beside its part would be torn apart by reading line by line.
    told, page = letters(read("pdftotext -raw", file, tmp_path)), as_teacher.get(address).content.decode()
    said = [each for tag in ("h1", "h2", "td", "li") for each in on_screen(page, tag)]
    assert len(said) >= 13 and all(letters(each.replace("“ ", "“")) in told for each in said if each)
    assert f"{address}print/?paper={size}" in page
    assert AuditRow.objects.filter(
        page="progress:print-referral-note", outcome=AuditRow.EXPORTED, student_key=much_to_tell.ama.pk).exists()


def test_the_place_that_hurts_is_hatched_and_named_on_paper(tmp_path):
    above, behind = feet_pictures(["L-achilles"])
    assert above[0] == "looking down at the feet" and behind[0] == "from behind"
    page = '<html lang="en"><head><title>Feet</title></head><body>{}</body></html>'
    plain, hurt = (
        paper.pdf(page.format("".join(f'<img src="{uri}" alt="{words}">' for words, uri in feet_pictures(places))))
        for places in ([], ["L-achilles"])
    )
    assert "Achilles" in words(hurt, tmp_path) and len(hurt) > len(plain)


def test_without_consent_to_share_no_note_is_printed(as_teacher, much_to_tell):
    agree(much_to_tell, much_to_tell.ama, Consent.CLINICIAN, is_given=False)
    address = f"/students/{much_to_tell.ama.pk}/referral-note/"
    answer = as_teacher.get(f"{address}print/")
    assert answer.status_code == 302 and answer.url == address
    assert "print/" not in as_teacher.get(address).content.decode()


def test_the_card_for_the_barre_says_what_the_screen_says_on_one_page(as_teacher, cast, tmp_path):
    for exercise in Exercise.objects.all()[:6]:
        plan_exercise(
            class_group=cast.class_group, term=cast.term, exercise=exercise, dose=Dose(2, 8), added_on=TODAY,
            by=cast.teacher,
        )
    address = f"/classes/{cast.class_group.pk}/programme/card/"
    file = as_teacher.get(f"{address}print/?paper=Letter").content
    assert "Pages:           1\n" in read("pdfinfo", file, tmp_path)
    told, page = letters(words(file, tmp_path)), as_teacher.get(address).content.decode()
    said = [*on_screen(page, "strong"), *on_screen(page, "em"), *on_screen(page, "footer")]
    assert len(said) >= 13 and all(letters(each) in told for each in said)


def test_each_family_has_its_form_on_a_page_of_its_own_in_its_language(as_teacher, cast, tmp_path):
    factories.GuardianFactory(language_code="de").students.add(cast.bettina)
    address = f"/classes/{cast.class_group.pk}/consent-forms/"
    file = as_teacher.get(f"{address}print/").content
    assert "Pages:           2\n" in read("pdfinfo", file, tmp_path)
    first, second, *_end = read("pdftotext", file, tmp_path).split("\f")
    assert "Consent for Ama Owiredu" in first and "Bettina" not in first and "Signature" in first
    assert "Einwilligung für Bettina Krall" in second and "Unterschrift" in second
    one = words(as_teacher.get(f"{address}print/?student={cast.bettina.pk}&language=en-gb").content, tmp_path)
    assert "Consent for Bettina Krall" in one and "Ama" not in one
    assert f'href="{address}print/?paper=A4' in as_teacher.get(address).content.decode()
    seen = AuditRow.objects.filter(page="progress:print-consent-forms", outcome=AuditRow.EXPORTED)
    assert set(seen.values_list("student_key", flat=True)) == {cast.ama.pk, cast.bettina.pk}
