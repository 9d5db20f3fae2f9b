"""Whoever is named in an answer has a row in the audit: every page, part, list, copy and piece of news of the table."""
import pytest
from django.core.cache import cache
from django.db import transaction

from studio.audit.models import AuditRow
from studio.models import Enrolment, Student
from tests.doors import OPEN, address, furnish
from tests.reading import words_of
from tests.test_access import QUESTIONS, entered

# What the forms understand in a post that only asks.
ASKED = {"studio:students": {"name": "Ama"}}


@pytest.fixture
def keys(cast):
    return furnish(cast)


def answers(client, keys):
    """(where, answer, the rows that it left), each as if nobody had looked before."""
    for route, methods in OPEN.items():
        if route in ("studio:logout", "studio:lock", "studio:login", "studio:pin-login"):
            continue
        path = address(route, keys)
        questions = ("", *QUESTIONS.get(route, ())) if "GET" in methods else ()
        asked = [("GET", path + question) for question in questions] + [("POST", path)] * ("POST" in methods)
        for method, where in asked:
            cache.clear()
            before = AuditRow.objects.count()
            with transaction.atomic():
                how = {"data": ASKED.get(route, {"x": "1"})} if method == "POST" else {}
                answer = getattr(client, method.lower())(where, **how)
                left = list(AuditRow.objects.order_by("pk")[before:])
                transaction.set_rollback(True)
            yield f"{method} {route} {where}", answer, left


def has_row(student, rows, classes) -> bool:
    """A row about her, about a class she is in, or of a copy of everything."""
    return any(
        row.student_key == student.pk or row.class_key in classes[student.pk]
        or (row.student_key, row.class_key, row.outcome) == (None, None, AuditRow.EXPORTED) for row in rows
    )


@pytest.mark.parametrize("person", ["owner", "teacher"])
def test_whoever_is_named_in_an_answer_has_a_row(cast, keys, person):
    students = list(Student.objects.filter(is_nameless=False))
    classes = {each.pk: set() for each in students}
    for student, group in Enrolment.objects.values_list("student", "class_group"):
        classes[student].add(group)
    unwritten = {}
    for where, answer, rows in answers(entered(cast, person), keys):
        if answer.status_code >= 300 and answer.status_code != 422:
            continue
        told = words_of(answer)
        lacking = [s.name for s in students if s.name.split()[0] in told and not has_row(s, rows, classes)]
        if lacking:
            unwritten[where] = lacking
    assert sorted(f"{where}: {names}" for where, names in unwritten.items()) == []
