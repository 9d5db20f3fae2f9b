"""Families of the cast: Ama's guardian with an open page, Greta's with hers, one who was, and one whose link ended."""
import datetime as dt
from dataclasses import dataclass

import pytest
from django.test import Client
from django.utils import timezone

from studio.family.actions import make_key, record_consent
from studio.models import Consent, Guardian, Student
from tests import factories

EVERYTHING = [scope for scope, _words in Consent.SCOPES]


def agree(cast, student: Student, *scopes: str, is_given: bool = True, at: dt.datetime | None = None) -> None:
    record_consent(
        student=student, scopes=scopes or EVERYTHING, is_given=is_given, said_by="Family", way=Consent.FORM,
        at=at or timezone.now(), by=cast.owner,
    )


@dataclass
class Family:
    """A guardian, the token on her card, and a browser in which she has opened it."""

    guardian: Guardian
    token: str
    client: Client

    @property
    def link(self) -> str:
        return f"/family/card/{self.token}/"


def family_of(cast, student: Student, *, opened: bool = True, **guardian) -> Family:
    made = factories.GuardianFactory(name=f"Guardian of {student.name}", **guardian)
    made.students.add(student)
    agree(cast, student)
    family = Family(made, make_key(guardian=made, term=cast.term, by=cast.owner), Client())
    if opened:
        open_page(family, student.birth_on)
    return family


def open_page(family: Family, birth_on: dt.date, client: Client | None = None):
    client = client or family.client
    client.get(family.link)
    return client.post("/family/entrance/", {"birth_on": birth_on.isoformat()})


@pytest.fixture
def amas(cast) -> Family:
    return family_of(cast, cast.ama)


@pytest.fixture
def gretas(cast) -> Family:
    return family_of(cast, cast.other_student)
