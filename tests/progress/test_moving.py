"""A whole studio to another computer: every row goes along, no key does, and what comes back is the same text."""
import io
import json

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import transaction

from progress.actions.moving import APPS, LEFT_OUT, export_studio, import_studio, moved_models, throw_rows_away
from progress.models import Standing
from studio.actions import Refused
from studio.models import Student, User
from tests.doors import furnish
from tests.family.conftest import family_of


def exported() -> str:
    out = io.StringIO()
    export_studio(out)
    return out.getvalue()


def judged() -> list[dict]:
    return list(Standing.objects.order_by("student", "measure", "side").values("student", "verdict", "line"))


@pytest.fixture
def studio(cast):
    furnish(cast)
    cast.class_group.teachers.add(cast.other_teacher)
    return cast


@pytest.mark.django_db(transaction=True)
def test_what_is_brought_in_is_exported_again_as_the_same_text(studio):
    text = exported()
    before = judged()
    with transaction.atomic():
        throw_rows_away()
    assert import_studio(json.loads(text)) == text.count('"pk"')
    assert exported() == text
    assert judged() == before


def test_no_key_goes_along(studio):
    text = exported()
    assert studio.owner.password not in text and "argon2" not in text and "md5$" not in text
    assert {row["fields"]["password"] for row in json.loads(text)["rows"] if row["model"] == "studio.user"} == {"!"}


@pytest.mark.django_db(transaction=True)
def test_no_familys_link_goes_along_and_the_other_studio_makes_new_cards(studio):
    guardian = family_of(studio, studio.ama).guardian
    text = exported()
    assert guardian.keys.get().token_hash not in text
    with transaction.atomic():
        throw_rows_away()
    import_studio(json.loads(text))
    assert not guardian.keys.exists()


def test_every_table_goes_along_or_says_why_not():
    ours = {model._meta.label_lower for app in APPS for model in apps.get_app_config(app).get_models()}
    assert ours - {model._meta.label_lower for model in moved_models()} == set(LEFT_OUT)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"layout": "another"}, "not a file that export_studio wrote"),
        ({"tables_as_of": {}}, "another version"),
        ({"rows": [{"model": "studio.student", "pk": 1, "fields": {"nothing": 1}}]}, "damaged"),
        ({"rows": [{"model": "studio.nobody", "pk": 1, "fields": {}}]}, "damaged"),
        ({"rows": [{"model": "studio.enrolment", "pk": 1, "fields": {"student": 9, "class_group": 9, "term": 9,
                    "joined_on": "2026-01-05"}}]}, "damaged"),
        ({"rows": [3]}, "damaged"),
    ],
)
@pytest.mark.django_db(transaction=True)
def test_a_file_that_does_not_fit_is_refused_with_a_sentence_and_nothing_is_written(db, change, says):
    content = {**json.loads(exported()), **change}
    with pytest.raises(Refused, match=says), transaction.atomic():
        import_studio(content)
    assert not Student.objects.exists()


def test_a_studio_with_people_is_not_written_over(studio):
    with pytest.raises(Refused, match="not empty"):
        import_studio(json.loads(exported()))
    assert User.objects.count() == 3


def test_the_commands_end_with_a_sentence(studio, tmp_path, capsys):
    file = tmp_path / "studio.json"
    call_command("export_studio", str(file))
    assert "rows written" in capsys.readouterr().out and file.stat().st_mode & 0o077 == 0
    with pytest.raises(CommandError, match="is there already"):
        call_command("export_studio", str(file))
    with pytest.raises(CommandError, match="not empty"):
        call_command("import_studio", str(file))
    file.write_text(file.read_text()[:99])
    with pytest.raises(CommandError, match="not JSON"):
        call_command("import_studio", str(file))
