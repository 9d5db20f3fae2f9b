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
from tests.conftest import PASSWORD
from tests.doors import furnish
from tests.family.conftest import family_of
from tests.test_settings import started


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


@pytest.mark.django_db(transaction=True)
def test_a_password_and_rights_that_somebody_wrote_into_the_file_open_nothing(studio, client):
    content = json.loads(exported())
    for row in content["rows"]:
        if row["model"] == "studio.user":
            row["fields"] |= {
                "password": studio.owner.password, "is_superuser": True, "last_login": "2026-01-01T00:00Z",
            }
    with transaction.atomic():
        throw_rows_away()
    import_studio(content)
    owner = User.objects.get(username="ottoline")
    assert not owner.has_usable_password() and owner.last_login is None and not owner.is_superuser
    assert client.post("/login/", {"username": "ottoline", "password": PASSWORD}).status_code == 200


@pytest.mark.parametrize("model, fields", [
    ("studio.pin", {"hashed": "md5$x$y", "set_at": "2026-01-01T00:00Z"}),
    ("studio.tablet", {"name": "Mine", "token_hash": "0" * 64, "enrolled_at": "2026-01-01T00:00Z"}),
    ("studio.guardiankey", {"guardian": 1, "token_hash": "0" * 64, "valid_until": "2027-01-01"}),
    ("studio.visit", {"session_data": "", "expire_date": "2027-01-01T00:00Z"}),
    ("otp_totp.totpdevice", {"user": 1, "name": "app"}),
])
def test_a_key_that_somebody_wrote_into_the_file_is_refused(db, model, fields):
    content = json.loads(exported())
    content["rows"].append({"model": model, "pk": 1, "fields": fields})
    with pytest.raises(Refused, match="no table that export_studio writes"), transaction.atomic():
        import_studio(content)


def test_no_visit_goes_along(studio, as_owner):
    assert as_owner.session.session_key not in exported()


def test_before_the_tables_are_made_the_import_is_one_sentence(tmp_path):
    file = tmp_path / "studio.json"
    file.write_text('{"layout": "risebook-studio-1", "tables_as_of": {}, "rows": []}')
    stopped = started(tmp_path / "var", "import_studio", str(file))
    assert stopped.returncode == 1 and "Traceback" not in stopped.stderr
    assert stopped.stderr.strip() == "CommandError: The database has no tables yet. Run: ./risebook manage migrate"


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
