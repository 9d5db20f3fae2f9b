"""The copy of everything about one student: a readable PDF, JSON and CSV, with every row that hangs on her."""
import csv
import io
import json
import zipfile

import pytest
from django.urls import reverse

from progress.actions.follow_ups import add_note
from progress.queries.hanging import everything_about, hanging
from studio.audit.models import AuditRow
from studio.models import Student
from tests.doors import furnish
from tests.reading import words_of


@pytest.fixture
def files(as_owner, cast) -> dict[str, bytes]:
    furnish(cast)
    answer = as_owner.get(reverse("progress:student-copy", args=[cast.ama.pk]))
    assert answer.headers["Content-Type"] == "application/zip"
    assert 'filename="ama-owiredu.zip"' in answer.headers["Content-Disposition"]
    with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def test_the_archive_has_a_readable_copy_each_terms_record_and_two_files_for_programs(files):
    assert set(files) == {"everything.pdf", "everything.json", "results.csv", "record-spring-term.pdf"}
    assert files["everything.pdf"].startswith(b"%PDF-") and files["record-spring-term.pdf"].startswith(b"%PDF-")


def test_the_json_has_every_row_that_hangs_on_her(files, cast):
    told = json.loads(files["everything.json"])
    kept = hanging({Student: {cast.ama.pk}})
    for model, keys in kept.items():
        if not model._meta.auto_created:
            assert {row["number"] for row in told[model._meta.model_name]} == keys
    assert told["student"][0]["birth_on"] == "2014-05-01"
    assert told["guardian"][0]["name"] == "Guardian of Ama Owiredu"
    assert told["painreport"][0]["note"] == "since Monday"
    assert told["result"][0]["value"] == "14.00" and told["result"][0]["by"] == "Ottoline Brack"


def test_no_row_repeats_whose_copy_it_is_or_holds_an_empty_cell(files):
    tables = [rows for rows in json.loads(files["everything.json"]).values() if isinstance(rows, list)]
    columns = {column for rows in tables for row in rows for column in row}
    assert "student" not in columns and "measure" in columns
    assert not any(value in ("None", "", None) for rows in tables for row in rows for value in row.values())


def test_the_copy_names_no_other_child_and_holds_no_key(files, cast):
    text = files["everything.json"].decode() + files["results.csv"].decode()
    shared = [name for name in ("Bettina", "Greta", "Zuzanna", "token_hash") if name in text]
    assert shared == []


def test_a_sentence_that_names_another_child_is_shown_and_left_out_unless_it_is_ticked(as_owner, cast):
    furnish(cast)
    said = "Landed on Krall, Bettina’s foot.", "Limped off & sat with Greta.", "Better since <Monday>."
    follow_up = cast.ama.follow_ups.first()
    add_note(follow_up=follow_up, text=" ".join(said), by=cast.owner)
    path = reverse("progress:student-copy", args=[cast.ama.pk])
    asked = as_owner.get(path)
    assert [each.words for each in asked.context["sentences"]] == list(said[:2])
    assert {cast.bettina.pk, cast.other_student.pk} <= set(AuditRow.objects.values_list("student_key", flat=True))
    copy = words_of(as_owner.post(path))
    assert "Bettina" not in copy and "Greta" not in copy and said[2] in copy and "[…]" in copy
    first, _second = asked.context["sentences"]
    ticked = words_of(as_owner.post(path, {"goes": first.key}))
    assert "Krall, Bettina" in ticked and "Greta" not in ticked


def test_a_name_that_is_the_students_own_is_nobody_elses(as_owner, cast):
    Student.objects.create(name="Ama Vance")
    furnish(cast)
    add_note(follow_up=cast.ama.follow_ups.first(), text="Ama is better. Ama Vance is not.", by=cast.owner)
    asked = as_owner.get(reverse("progress:student-copy", args=[cast.ama.pk]))
    assert [each.words for each in asked.context["sentences"]] == ["Ama Vance is not."]


def test_the_results_are_in_the_layout_of_the_terms_data(files):
    rows = list(csv.DictReader(io.StringIO(files["results.csv"].decode("utf-8-sig"))))
    assert [(row["student"], row["measure"], row["side"], row["value"]) for row in rows] == [
        ("Ama Owiredu", "Rises, one foot", "left", "14")
    ]


def test_who_saw_her_is_in_it_and_the_copy_itself_is_written_down(as_owner, cast):
    as_owner.get(reverse("progress:student", args=[cast.ama.pk]))
    [audit] = [table for table in everything_about(cast.ama) if table.key == "auditrow"]
    assert [(row["role"], row["outcome"], row["page"]) for row in audit.rows] == [("owner", "saw", "progress:student")]
    as_owner.get(reverse("progress:student-copy", args=[cast.ama.pk]))
    assert AuditRow.objects.filter(outcome="exported", student_key=cast.ama.pk, page="progress:student-copy").exists()
