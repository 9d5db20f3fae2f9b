"""The readable copy of everything: whatever the JSON holds is said on paper in words, in the family's language."""
import datetime as dt
import io
import uuid
import zipfile
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext

from progress.actions import measuring
from progress.actions.growth import correct_height
from progress.models import (
    Decision,
    FollowUpNote,
    Height,
    IssuedReport,
    PainAnswer,
    PainReport,
    PointeTime,
    PointSeen,
    ReturnLadder,
    ReturnStep,
)
from progress.queries.everything import in_sections
from progress.queries.hanging import everything_about, rows_about_her
from progress.rules import feet, pain
from progress.rules.pointe_points import POINTS
from progress.rules.resting import may_do
from progress.words.speech import verdict_word
from screening.actions import Entry
from screening.models import Result
from studio.audit.models import AuditRow
from studio.audit.page_words import page_words, pages
from studio.models import Guardian
from studio.templatetags.wording import full_day, write_number
from tests.conftest import TODAY
from tests.doors import furnish, routes
from tests.reading import words_of

# Kept for the program only: by which it finds a row again, or what another column says in words. In the JSON.
TECHNICAL = {
    "number", "uuid", "key", "origin", "supersedes", "replaces", "report", "follow_up", "change", "exercise",
    "position", "page", "line", "is_nameless", "attempt", "person_key", "student_key", "class_key", "tablet_key",
    "ladder", "log", "review", "run", "stopped_result", "clearance", "class_log",
}
# What a column with a key or a yes is called on paper.
SPOKEN = {
    "is_present": {True: "came", False: "was away"}, "is_given": {True: "given", False: "taken back, or not given"},
    "side": {"L": "left", "R": "right"}, "is_confirmed": {True: "confirmed", False: ""},
    "is_spared": {True: "goes without", False: ""}, "measure_again": {True: "to be measured again", False: ""},
    "is_withdrawn": {True: "taken back", False: ""}, "reached_cap": {True: "at least", False: ""},
    "is_first_side": {True: "this foot first", False: ""}, "stopped": dict(pain.STOPPED),
    "since": dict(pain.SINCE), "despite_rest": dict(Result.DESPITE), "allows": {"small_jumps": may_do("small_jumps")},
    "language_code": {"de": "Deutsch"},
    "asks": {"stop": "next step was: stop", "doctor_today": "a doctor today", "watch": "watch it", "ease": "ease off"},
    "kind": {"no_gain": "Stalled or slipping", "stop_sign": "Stop signs", "clinician": "cleared by a clinician",
             "record": "Student record", "closed": "closed", "start": "starts"},
    "role": dict(AuditRow.ROLES), "outcome": dict(AuditRow.OUTCOMES), "scope": {
        "measurements": "easurements", "pain": "pain notes", "family": "the family’s page",
        "clinician": "sharing with a clinician"},
    "way": {"form": "signed form"}, "point": {point.key: point.title for point in POINTS},
    "answer": dict(PointSeen.ANSWERS), "said": dict(PointeTime.SAID), "whose": dict(PointSeen.WHOSE),
    "dominant_foot": {"R": "right"}, "control": {"corrected": "corrected"},
}
# A list of keys, each of which is said in words.
OF_PAIN = {
    "asked": Decision.ASKED, "feels": pain.FEELS, "signs": pain.SIGNS,
    "not_meant": (*pain.FEELS, *pain.SIGNS, *pain.WORD_SIGNS),
}


@pytest.fixture
def kept(cast, as_teacher):
    """Something of every kind about Ama."""
    furnish(cast)
    student, owner = cast.ama, cast.owner
    student.called, student.training_since_year, student.classes_per_week, student.dominant_foot = "Amy", 2021, 3, "R"
    student.save()
    both = Guardian.objects.create(name="Ines Both", phone="0555 17", email="ines@example.org", language_code="de")
    both.students.add(student, cast.bettina)
    day = {"screening": cast.screening, "student": student, "measure": cast.balance, "by": owner}
    for attempt, value in enumerate(("7.5", "31.4"), start=1):
        measuring.record_result(
            key=uuid.UUID(int=90 + attempt), side="R", entry=Entry(value=Decimal(value), despite_rest="before"), **day)
    correct_height(height=Height.objects.get(student=student), height_cm=Decimal("149.5"),
                   measured_on=TODAY, by=owner)
    report = student.pain_reports.get()
    PainAnswer.objects.create(report=report, kind="clinician", note="No swelling.", said_by="Dr Vane",
                              said_on=TODAY - dt.timedelta(days=1), allowed="full class", allows="small_jumps",
                              until_on=TODAY + dt.timedelta(days=9), see_again_on=TODAY + dt.timedelta(days=8),
                              by=owner)
    # A report that says all that one can say.
    PainReport.objects.filter(pk=report.pk).update(
        feels=["sharp", "limps"], signs=["night", "twisted", "rest"], not_meant=["numb", "collapse"], since="week",
        at_count=5, stopped_result=student.results.last())
    ReturnStep.objects.create(student=student, step=0, kind="start", note="gently", on=TODAY, by=owner,
                              ladder=ReturnLadder.objects.create(steps=[{"words": "Floor work", "loads": ""}]))
    FollowUpNote.objects.create(follow_up=student.follow_ups.get(kind="no_gain"), kind="closed", text="Spoke to her.",
                                by=owner)
    IssuedReport.objects.create(student=student, term=cast.term, kind="record", size="A4", page="<p>", digest="x",
                                issued_on=TODAY, issued_by=owner)
    Decision.objects.filter(review__student=student).update(look_again_on=TODAY + dt.timedelta(days=80))
    as_teacher.get(reverse("progress:student", args=[student.pk]))
    return student


def paper_of(client, student) -> str:
    answer = client.get(reverse("progress:student-copy", args=[student.pk]))
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        answer.content, answer.headers["Content-Type"] = archive.read("everything.pdf"), "application/pdf"
    return " ".join(words_of(answer).split())


def spoken(column: str, value) -> list[str]:
    """Every part of a value as it must be read on paper."""
    if column in SPOKEN and not isinstance(value, list) and value in SPOKEN[column]:
        return [str(SPOKEN[column][value])]
    if column in OF_PAIN:
        return [str(dict(OF_PAIN[column])[key]) for key in value]
    if column == "places":
        return [feet.place_words(value, gettext=gettext)]
    if column == "protocol":
        return [f"protocol {value.split()[-1]}"]
    if column == "verdict":
        return [verdict_word(value)]
    if isinstance(value, list):
        return [str(each) for each in value]
    if isinstance(value, dt.datetime):
        local = timezone.localtime(value)
        return [f"{local:%H:%M}", full_day(local.date())]
    if isinstance(value, dt.date):
        return [full_day(value)]
    if isinstance(value, Decimal):
        return [write_number(value, 0 if value == int(value) else 1)]
    return [" ".join(str(value).split())]


def test_every_value_of_the_json_is_said_on_paper(cast, kept, client):
    client.force_login(cast.owner, backend="django.contrib.auth.backends.ModelBackend")
    Guardian.objects.update(language_code="")
    told = [
        (table.key, column, words)
        for table in everything_about(kept) for row in table.rows for column, value in row.items()
        if column not in TECHNICAL for words in spoken(column, value)
    ]
    text = paper_of(client, kept).lower()
    assert len(told) > 150
    assert [each for each in told if each[2].lower() not in text] == []


def test_every_kind_of_row_that_hangs_on_a_student_has_words_of_its_own(cast):
    assert {model._meta.model_name for model, _rows in rows_about_her(cast.ama)} <= in_sections()
    assert in_sections() >= {"painreport", "standing", "lettertext", "runsheet", "auditrow"}


def test_the_paper_has_no_key_no_column_and_no_route(cast, kept, client):
    client.force_login(cast.owner, backend="django.contrib.auth.backends.ModelBackend")
    text = paper_of(client, kept)
    found = [word for word in ("progress:", "studio:", "recorded_by", "short-foot", "L-achilles", "as_planned", "None",
                               "True", "False", str(uuid.UUID(int=2)), "Bettina") if word in text]
    assert found == []


def test_the_paper_is_in_the_familys_language_and_the_rest_is_not(cast, kept, client):
    client.force_login(cast.owner, backend="django.contrib.auth.backends.ModelBackend")
    text = paper_of(client, kept)
    assert all(words in text for words in (
        "Alles, was wir speichern", "Was gemessen wurde", "1. Mai 2014", "Achillessehne", "Wer es gesehen hat",
        "149,5 cm", "die Seite des Kindes")), text


def test_what_is_empty_has_no_heading(cast, client):
    client.force_login(cast.owner, backend="django.contrib.auth.backends.ModelBackend")
    text = paper_of(client, cast.bettina)
    assert "Who the student is" in text and "What hurt" not in text and "Growth" not in text


def test_a_letter_that_cannot_be_printed_keeps_the_copy_from_nobody(cast, client):
    client.force_login(cast.owner, backend="django.contrib.auth.backends.ModelBackend")
    type(cast.ama).objects.filter(pk=cast.ama.pk).update(called="ნინო")
    text = paper_of(client, cast.ama)
    assert "[…]" in text and "cannot be printed here" in text and "1 May 2014" in text


@pytest.mark.parametrize("language", ["en-gb", "de"])
def test_every_route_that_names_a_child_or_a_class_is_called_in_words(language):
    hers = {"student_id", "class_id", "result_id", "report_id"}
    of_hers = {route for route, names in routes().items() if hers & set(names)}
    # A class's own particulars are nobody's.
    assert of_hers - set(pages()) == {"studio:edit-class", "studio:add-meeting"}
    with translation.override(language):
        told = {"en-gb": "the student’s results", "de": "die Ergebnisse des Kindes"}
        assert page_words("progress:results") == told[language]


def test_a_route_about_nobody_goes_by_its_own_name():
    assert page_words("studio:edit-term") == "edit term"
