"""No page, paper, export or message says that a child is ready for pointe, sums a child up, or sets one above another.

Every door of the house and of the families is opened with something behind it, in English and in German, and read as
a person reads it. What the house denies ("do not say whether a child is ready for pointe") is taken out first.
"""
import re

import pytest
from django.utils import timezone

from progress.models import FollowUp
from progress.queries.digest import digest_for
from tests.conftest import TODAY
from tests.doors import FAMILY, OPEN, address, furnish
from tests.family.conftest import family_of
from tests.family.test_family_doors import path_of
from tests.family.test_withdrawn import readable
from tests.test_access import QUESTIONS, knock

# Forms of a verdict of readiness, of one number for a whole child, and of an order of children.
READY = (
    r"\bready\b", r"readiness", r"\bfit for pointe", r"\bpointe[- ](fit|able)\b",
    r"(may|should|can) (now )?go on pointe",
    r"\bbereit\b", r"spitzen(reif|tauglich|fähig)", r"reif für", r"geeignet für",
)
SUM = (
    r"total score", r"overall score", r"points met", r"\d+ of \d+ (points|criteria)", r"Gesamt(note|punktzahl|wertung)",
    r"Punktzahl", r"\d ?% (of the points|erfüllt)",
)
RANK = (
    r"\brank(s|ed|ing|ings)?\b", r"percentile", r"class average", r"above average", r"below average",
    r"\btop (three|\d)",
    r"best of the class", r"weakest", r"Rangliste", r"Perzentil", r"Klassenschnitt", r"überdurchschnittlich",
)
VERDICT = re.compile("|".join((*READY, *SUM, *RANK)), re.IGNORECASE)
DENIED = re.compile(
    r"(do|does) not say whether (a|your) child is ready for (pointe|it)|says whether a child is ready for pointe|"
    r"(says|decides) that a child is ready for (pointe|anything)|[Nn]o rank(ing)?\b|no class average|"
    r"It ranks nobody|keine Rangliste|"
    # What a tablet keeps for a time without network.
    r"Getting these classes ready|could be made ready|was made ready|"
    r"sagt nichts darüber, ob[^.]*\.|sagen nicht, ob[^.]*\.",
)


def verdicts(answer) -> list[str]:
    text = " ".join(readable(answer).split())
    return [found.group() for found in VERDICT.finditer(DENIED.sub(" ", text))]


def test_a_verdict_a_sum_and_a_rank_are_found():
    """The net has no hole of this size: each of these must be caught."""
    told = ("Ama is ready.", "Pointe readiness: high", "She may now go on pointe.", "4 of 5 points", "Rank 3",
            "in the top 3", "above average", "Ama ist bereit für die Spitze.", "spitzenreif", "Gesamtnote 2")
    assert [words for words in told if not VERDICT.search(words)] == []
    assert not VERDICT.search(DENIED.sub(" ", "They do not say whether a child is ready for pointe."))


@pytest.mark.thorough
def test_no_door_of_the_staff_says_one(cast, as_owner):
    keys = furnish(cast)
    found = {}
    for route, methods in OPEN.items():
        for question in ("", *QUESTIONS.get(route, ())) if "GET" in methods else ():
            said = verdicts(knock(as_owner, "GET", address(route, keys) + question))
            if said:
                found[route + question] = said
    assert found == {}


@pytest.mark.thorough
@pytest.mark.parametrize("language", ["en-gb", "de"])
def test_no_page_and_no_paper_of_a_family_says_one(cast, as_owner, language):
    keys = furnish(cast)
    type(cast.ama.guardians.first()).objects.update(language_code=language)
    family = family_of(cast, cast.ama, language_code=language)
    answers = {route: knock(family.client, "GET", path_of(route, keys | {"token": family.token}))
               for route, methods in FAMILY.items() if "GET" in methods}
    answers |= {route: knock(as_owner, "GET", address(route, keys))
                for route in ("progress:review-sheet", "progress:review-letter", "progress:family-letter")}
    assert {route: said for route, answer in answers.items() if (said := verdicts(answer))} == {}


def test_the_daily_mail_says_none(cast):
    furnish(cast)
    FollowUp.objects.update(acts=cast.owner, due_on=TODAY)
    mail = digest_for(cast.owner, today=TODAY, now=timezone.now())
    assert mail.body and not VERDICT.search(f"{mail.subject} {mail.body}")
