"""`./risebook upgrade` puts a newer Risebook in, and everything is as it was where a step fails."""
import json
import os
import shutil
import subprocess
import zipfile
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from studio.management.commands import set_aside
from studio.models import Student
from tests.test_start import checkout, installed, stand_in  # noqa: F401

CHECKOUT = Path(__file__).resolve().parents[1]


def version_of(folder, version):
    (folder / "studio").mkdir(exist_ok=True)
    (folder / "studio/version.py").write_text(f'"""The version."""\nVERSION = "{version}"\n')


@pytest.fixture
def older(installed):  # noqa: F811
    """A Risebook 0.2.0 whose Python is a stand-in that notes what it is asked."""
    checkout = installed()  # noqa: F811
    stand_in(checkout / ".venv/bin/python", '[ "$1" = -c ] && exit 0\necho "$2 $3" >>asked\n')
    version_of(checkout, "0.2.0")
    (checkout / "progress").mkdir()
    (checkout / "progress/words.py").write_text("old")
    (checkout / "var").mkdir()
    (checkout / "var/risebook.sqlite3").write_text("the studio")
    (checkout / "my notes.txt").write_text("mine")
    return checkout


def newer(folder, version="0.3.0", name="risebook-main"):
    """Its ZIP file."""
    code = folder / "made" / name
    code.mkdir(parents=True)
    shutil.copy(CHECKOUT / "risebook", code)
    shutil.copy(CHECKOUT / "requirements.txt", code)
    version_of(code, version)
    (code / "studio/settings.py").touch()
    (code / "static").mkdir()
    (code / "progress").mkdir()
    (code / "progress/words.py").write_text("new")
    (code / "CHANGELOG.md").write_text("# What is new")
    with zipfile.ZipFile(folder / "new.zip", "w") as archive:
        for path in code.rglob("*"):
            archive.write(path, path.relative_to(folder / "made"))
    return folder / "new.zip"


def upgraded(checkout, source):  # noqa: F811
    return subprocess.run(
        ["bash", checkout / "risebook", "upgrade", source], capture_output=True, text=True, timeout=120,
        env={"PATH": f"{checkout}/bin:{os.environ['PATH']}", "HOME": str(checkout)}, stdin=subprocess.DEVNULL,
    )


def asked(checkout):  # noqa: F811
    return [line.strip() for line in (checkout / "asked").read_text().splitlines()]


def as_it_was(checkout):  # noqa: F811
    return (
        (checkout / "progress/words.py").read_text() == "old"
        and "0.2.0" in (checkout / "studio/version.py").read_text()
        and (checkout / "var/risebook.sqlite3").read_text() == "the studio"
        and (checkout / ".venv/bin/python").exists() and not (checkout / ".upgrade").exists()
        and (checkout / "my notes.txt").read_text() == "mine"
    )


@pytest.mark.thorough
def test_a_newer_one_is_put_in_after_a_backup(older, tmp_path):
    done = upgraded(older, newer(tmp_path / "elsewhere"))
    assert done.returncode == 0, done.stdout + done.stderr
    assert "From 0.2.0 to 0.3.0" in done.stdout
    assert "Risebook 0.3.0 is in." in done.stdout
    assert (older / "progress/words.py").read_text() == "new"
    assert (older / "var/risebook.sqlite3").read_text() == "the studio"
    assert (older / "my notes.txt").read_text() == "mine"
    assert not (older / ".upgrade").exists()
    steps = [line for line in asked(older) if line.split()[0] in ("backup", "set_aside", "migrate", "ready_to_serve")]
    assert steps == ["backup", "set_aside", "ready_to_serve --no-color", "migrate --noinput",
                     "set_aside --nothing-lost", "set_aside --forget"]


@pytest.mark.thorough
@pytest.mark.parametrize("fails", [
    'step "Database" bring_database_forward', 'step "Style sheets and scripts" static_files',
    'set_up run requirements.txt',
])
def test_when_a_step_fails_everything_is_as_it_was(older, tmp_path, fails):
    # The stand-in of the newer one fails where its own upgrade takes that step.
    source = newer(tmp_path / "elsewhere")
    with zipfile.ZipFile(source) as archive:
        archive.extractall(tmp_path / "again")
    script = tmp_path / "again/risebook-main/risebook"
    before, finish, after = script.read_text().partition("finish_upgrade() {")
    assert fails in after
    script.write_text(before + finish + after.replace(fails, "false", 1))
    done = upgraded(older, script.parent)
    assert done.returncode != 0
    assert "Risebook 0.2.0 is as it was before the upgrade." in done.stderr
    assert as_it_was(older)
    assert asked(older)[-1] == "set_aside --bring-back"


@pytest.mark.thorough
@pytest.mark.parametrize("word, last", [("backup", "backup"), ("set_aside", "set_aside")])
def test_without_a_good_backup_nothing_is_touched(older, tmp_path, word, last):
    stand_in(older / ".venv/bin/python", f'[ "$1" = -c ] && exit 0\necho "$2 $3" >>asked\n'
             f'[ "$2" = {word} ] && echo "CommandError: The disk is full." >&2 && exit 1; true')
    done = upgraded(older, newer(tmp_path / "elsewhere"))
    assert done.returncode == 1
    assert "The disk is full." in done.stderr
    assert as_it_was(older)
    assert asked(older)[-1].split()[0] == last


@pytest.mark.thorough
def test_rows_that_went_missing_bring_the_older_one_back(older, tmp_path):
    stand_in(older / ".venv/bin/python", '[ "$1" = -c ] && exit 0\necho "$2 $3" >>asked\n'
             '[ "$3" = --nothing-lost ] || exit 0\necho "CommandError: Rows are missing." >&2\nexit 1')
    done = upgraded(older, newer(tmp_path / "elsewhere"))
    assert (done.returncode, "Rows are missing." in done.stderr) == (1, True)
    assert as_it_was(older)
    assert asked(older)[-1] == "set_aside --bring-back"


@pytest.mark.thorough
@pytest.mark.parametrize("version, name, sentence", [
    ("0.1.0", "risebook-main", "is Risebook 0.1.0, older than this one. Nothing was changed."),
    ("0.3.0", "a/b/c/d", "is no Risebook. Nothing was changed."),
])
def test_what_is_older_or_no_risebook_is_refused(older, tmp_path, version, name, sentence):
    done = upgraded(older, newer(tmp_path / "elsewhere", version, name=name))
    assert (done.returncode, sentence in done.stderr) == (1, True)
    assert as_it_was(older)
    assert not (older / "asked").exists()


def test_without_a_file_it_says_what_it_wants(older):
    done = upgraded(older, "not-there.zip")
    assert (done.returncode, "Say where the newer Risebook is" in done.stderr) == (2, True)


# --- the database, on the engine of these tests --------------------------------------------------


@pytest.fixture
def aside(transactional_db, cast, settings, tmp_path):
    settings.VAR_DIR = tmp_path / "var"
    settings.VAR_DIR.mkdir()
    call_command("set_aside")
    return settings.VAR_DIR / "before-upgrade"


def test_the_database_that_was_set_aside_comes_back(aside, cast):
    call_command("set_aside", "--nothing-lost")
    names = sorted(Student.objects.values_list("name", flat=True))
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM studio_auditrow")
        cursor.execute("CREATE TABLE a_newer_table (id INTEGER)")
    Student.objects.filter(pk=cast.ama.pk).update(name="Somebody else")
    connection.close()
    call_command("set_aside", "--bring-back")
    assert sorted(Student.objects.values_list("name", flat=True)) == names
    assert "a_newer_table" not in connection.introspection.table_names()
    assert not aside.exists()


def test_the_copy_goes_when_nothing_was_lost(aside):
    call_command("set_aside", "--nothing-lost")
    call_command("set_aside", "--forget")
    assert not aside.exists()


def test_rows_that_an_upgrade_lost_are_named(aside):
    counts = json.loads((aside / set_aside.COUNTS).read_text())
    (aside / set_aside.COUNTS).write_text(json.dumps(counts | {"studio_student": counts["studio_student"] + 1}))
    with pytest.raises(CommandError, match="Rows are missing in studio_student."):
        call_command("set_aside", "--nothing-lost")
