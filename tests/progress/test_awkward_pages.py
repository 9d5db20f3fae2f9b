"""Papers of awkward facts: long names, nothing, one result, sixty, only capped ones, rare letters, letters from right
to left, German, Letter.

Read back with poppler's pdftotext and pdfinfo, which know nothing of how the file was made: how many pages, that what
must be said is there, that no word stands outside the margins or on another word.
"""
import datetime as dt
import re
import uuid

import pytest

from progress.actions import pain
from progress.actions.standings import rebuild_standings
from progress.papers import paper
from screening.models import Measure, Protocol, Result, Screening
from studio.models import ClassGroup, Student
from tests import factories
from tests.conftest import TODAY
from tests.family.conftest import agree
from tests.progress.read_back import read

pytestmark = pytest.mark.thorough
LONG_NAME = "Maximiliane-Theodora Wilhelmine von Obersteinwaldhausen-Unterfichtenbach"
LONG_CLASS = "Pre-pointe and repertoire, Tuesdays and Thursdays, top floor"
LONG_MEASURE, SHORT_NAME = "Rises on one foot with two fingers on the barre", "rises by two fingers"
# The margin at the sides and below as paper.css has it, in points, and a point less for the curve of a letter.
SIDE, BELOW = 15.9 / 25.4 * 72 - 1, 4


def results(cast, per_week: int, weeks: int, *, capped: bool = False, grows: bool = True) -> None:
    """Ama's rises, balances and landings on both feet, so many days a week over so many weeks up to today."""
    rows = []
    for week in range(weeks):
        for number in range(per_week):
            day = TODAY - dt.timedelta(weeks=weeks - 1 - week, days=per_week - 1 - number)
            held = factories.ScreeningFactory(class_group=cast.class_group, term=cast.term, held_on=day)
            for measure in (cast.rises, cast.balance, cast.landing):
                protocol = Protocol.objects.filter(measure=measure).latest("version")
                most = protocol.cap or (len(protocol.grades) - 1 if protocol.grades else 30)
                low = most / 3
                value = most if capped and protocol.cap else low + (week * low / weeks if grows else number % 2)
                rows += [Result(
                    screening=held, student=cast.ama, measure=measure, protocol=protocol, side=side, value=round(value),
                    reached_cap=capped and bool(protocol.cap), taken_on=day, by=cast.teacher,
                ) for side in measure.sides]
    Result.objects.bulk_create(rows)


def long_names(cast) -> None:
    results(cast, 1, 11)
    Student.objects.filter(pk=cast.ama.pk).update(name=LONG_NAME)
    ClassGroup.objects.filter(pk=cast.class_group.pk).update(name=LONG_CLASS)
    Measure.objects.filter(pk=cast.rises.pk).update(name=LONG_MEASURE, short_name=SHORT_NAME)
    hurt(cast)


def hurt(cast) -> None:
    for number in range(3):
        pain.report_pain(
            key=uuid.UUID(int=number), student=cast.ama, class_group=cast.class_group, screening=None,
            measure=cast.rises, places=["L-achilles", "R-achilles"], feels=["sharp"], intensity=6, stopped="exercise",
            note="", reported_on=TODAY - dt.timedelta(days=number), by=cast.teacher,
        )


def rare_letters(cast) -> None:
    results(cast, 1, 11)
    Student.objects.filter(pk=cast.ama.pk).update(name="Shīrīn bint Yūsuf al-Ḥakīm")


def from_right_to_left(cast) -> None:
    results(cast, 1, 11)
    Student.objects.filter(pk=cast.ama.pk).update(name="نورة بنت يوسف الحكيم")
    Student.objects.filter(pk=cast.bettina.pk).update(name="שרה לוי-כהן")
    hurt(cast)


CASES = {
    "long": long_names, "nothing": lambda cast: None, "one": lambda cast: results(cast, 1, 1),
    "sixty": lambda cast: results(cast, 6, 10), "capped": lambda cast: results(cast, 1, 11, capped=True),
    "rare": rare_letters, "from right to left": from_right_to_left,
    "german": lambda cast: (results(cast, 1, 11, grows=False), hurt(cast)),
}
PAPERS = {
    "record": "/students/{ama}/record/", "letter": "/students/{ama}/letter/print/", "sheet": "/classes/{group}/print/",
    "overview": "/office/terms/{term}/overview/", "note": "/students/{ama}/referral-note/print/",
    "card": "/classes/{group}/programme/card/print/", "forms": "/classes/{group}/consent-forms/print/",
}
# What is left over for a second page is never a line or two; the foot alone has about ten.
FEWEST_WORDS = 35
MOST_PAGES = {"record": 2, "letter": 2, "sheet": 1, "overview": 2, "note": 1, "card": 1, "forms": 2}
# Where results stand on it, each awkward case; of the others the one with long names.
WRITTEN = [
    (case, kind) for case in CASES for kind in PAPERS
    if case == "long" or kind in ("record", "letter", "sheet", "note") or (case, kind) == ("nothing", "overview")
]


def printed(client, cast, kind: str, size: str) -> bytes:
    address = PAPERS[kind].format(ama=cast.ama.pk, group=cast.class_group.pk, term=cast.term.pk)
    answer = client.get(f"{address}?paper={size}")
    assert answer["Content-Type"] == "application/pdf", (answer.status_code, answer.get("Location"))
    return answer.content


def words_of(pages: str) -> list[list[tuple[float, float, float, float, str]]]:
    """Each page's words with their boxes (left, top, right, bottom), as pdftotext finds them."""
    found = []
    for page in pages.split("<page ")[1:]:
        rows = re.findall(r'<word xMin="(.*?)" yMin="(.*?)" xMax="(.*?)" yMax="(.*?)">(.*?)</word>', page)
        found.append([(*map(float, row[:4]), row[4]) for row in rows])
    return found


def collisions(words) -> list[tuple[str, str]]:
    """Words that lie on each other by more than a third of the smaller one's height and two points of width."""
    found = []
    for at, (left, top, right, bottom, word) in enumerate(words):
        for left2, top2, right2, bottom2, word2 in words[at + 1:]:
            wide, high = min(right, right2) - max(left, left2), min(bottom, bottom2) - max(top, top2)
            if wide > 2 and high > min(bottom - top, bottom2 - top2) / 2:
                found.append((word, word2))
    return found


@pytest.mark.parametrize("size", paper.SIZES)
@pytest.mark.parametrize(("case", "kind"), WRITTEN)
def test_every_word_stands_on_the_paper_and_on_no_other(as_owner, cast, tmp_path, case, kind, size):
    Screening.objects.all().delete()
    agree(cast, cast.ama)
    factories.GuardianFactory(language_code="de" if case == "german" else "en-gb").students.add(cast.ama)
    CASES[case](cast)
    rebuild_standings()
    if kind == "letter" and case == "nothing":
        assert as_owner.get(PAPERS["letter"].format(ama=cast.ama.pk)).status_code == 302
        return
    file = printed(as_owner, cast, kind, size)
    told, pages = read("pdfinfo", file, tmp_path), words_of(read("pdftotext -bbox", file, tmp_path))
    assert f"Pages:           {len(pages)}\n" in told and 1 <= len(pages) <= MOST_PAGES[kind]
    called = re.split("[ -]", Student.objects.get(pk=cast.ama.pk).name)[-1]
    # A box's letters come as they stand on the paper, from left to right.
    called = called[::-1] if case == "from right to left" else called
    assert kind in ("overview", "card") or any(called in word for page in pages for *_box, word in page)
    assert len(pages) == 1 or len(pages[-1]) >= FEWEST_WORDS
    width, height = map(float, re.search(r"Page size:\s+([\d.]+) x ([\d.]+)", told).groups())
    for words in pages:
        outside = [w for w in words if w[0] < SIDE or w[2] > width - SIDE or w[1] < SIDE / 2 or w[3] > height - BELOW]
        assert not outside and not collisions(words)
