"""A backup is one file that nobody reads without the passphrase, and all of the studio comes back from it."""
import datetime as dt
import functools
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import uuid
import zipfile
from collections import namedtuple
from contextlib import closing
from decimal import Decimal
from pathlib import Path

import psycopg
import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from progress.actions import measuring
from progress.models import Erasure
from screening.actions import Entry
from studio.models import Student
from studio.upkeep import backing_up, restoring, sealing
from studio.upkeep.backing_up import BackupTrouble, make_backup, make_key
from studio.upkeep.databases import PostgresDatabase, SqliteFile, sqlite_tables
from studio.upkeep.home import Home, home, note_of
from studio.upkeep.restoring import RestoreTrouble

NOW = dt.datetime(2026, 3, 24, 3, 0, tzinfo=dt.UTC)
WORDS = "abcd-efgh-jkmn-pqrs-tuvw-2345"
CHECKOUT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module", autouse=True)
def quick_passphrases():
    """A passphrase is slow to try on purpose; one key for all tests is slow once."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("new_key", "opened_key"):
            patch.setattr(sealing, name, functools.cache(getattr(sealing, name)))
        yield


@pytest.fixture
def small(tmp_path):
    """A home with a small database of its own, a network and a printed report."""
    var = tmp_path / "var"
    (var / "network").mkdir(parents=True)
    (var / "network/authority.pem").write_text("the authority")
    (var / "reports/one").mkdir(parents=True)
    (var / "reports/one/7.pdf").write_bytes(b"%PDF" + bytes(range(256)) * 50)
    with closing(sqlite3.connect(var / "risebook.sqlite3")) as made, made:
        made.execute("PRAGMA journal_mode=WAL")
        made.execute("CREATE TABLE student (id INTEGER PRIMARY KEY, name TEXT)")
        made.executemany("INSERT INTO student (name) VALUES (?)", [("Ama Owiredu",), ("Bettina Krall",)])
    here = Home(var, SqliteFile(var / "risebook.sqlite3"), "s" * 60)
    make_key(here, WORDS)
    return here


def backup_of(here, at=NOW, to=None):
    return make_backup(here, to=to or here.backups, now=lambda: at)


def empty(tmp_path):
    return Home(tmp_path / "new", SqliteFile(tmp_path / "new/risebook.sqlite3"), "other" * 12)


def test_what_was_committed_a_moment_ago_is_in_it_while_somebody_goes_on_writing(small, tmp_path):
    """What lies in the write-ahead file alone, too."""
    with closing(sqlite3.connect(small.database.path)) as writer:
        writer.execute("INSERT INTO student (name) VALUES ('Carys')")
        writer.commit()
        writer.execute("INSERT INTO student (name) VALUES ('not said yet')")
        note = backup_of(small)
        writer.rollback()
    unpacked = restoring.unpack(Path(note.path), WORDS, empty(tmp_path))
    with closing(sqlite3.connect(unpacked.folder / "database")) as back:
        assert [name for name, in back.execute("SELECT name FROM student")] == ["Ama Owiredu", "Bettina Krall", "Carys"]


def test_nobody_reads_a_name_or_the_secret_key_in_it(small):
    content = Path(backup_of(small).path).read_bytes()
    for secret in (b"Ama", b"student", b"ssssss", b"the authority", WORDS.encode()):
        assert secret not in content
    assert Path(note_of(small.backups).path).stat().st_mode & 0o077 == 0


def test_it_says_in_words_how_it_is_opened(small):
    with zipfile.ZipFile(backup_of(small).path) as outer:
        said = outer.read("READ-ME.txt").decode()
    assert "bash risebook restore risebook-2026-03-24-030000.zip" in said


def test_all_files_come_back_and_the_passphrase_stays_the_same(small, tmp_path, monkeypatch):
    note = backup_of(small)
    new = empty(tmp_path)
    monkeypatch.setattr(restoring, "manage", lambda *words, environment: "")
    unpacked = restoring.unpack(Path(note.path), WORDS.upper().replace("-", " "), new)
    restoring.stand_up(unpacked, new)
    restoring.move_in(unpacked, new)
    assert sqlite_tables(new.database.path) == sqlite_tables(small.database.path)
    for name in ("network/authority.pem", "reports/one/7.pdf"):
        assert (new.var / name).read_bytes() == (small.var / name).read_bytes()
    assert (new.var / "secret-key").read_text() == small.secret_key
    assert json.loads((new.var / "backup-key").read_text()) == json.loads((small.var / "backup-key").read_text())
    assert not restoring.is_half_done(new.var)
    for path in new.var.rglob("*"):
        assert path.stat().st_mode & 0o077 == 0, path


@pytest.mark.parametrize("words", ["abcd-efgh-jkmn-pqrs-tuvw-2346", "", "AGE-SECRET-KEY-1NOT"])
def test_another_passphrase_opens_nothing(small, tmp_path, words):
    note = backup_of(small)
    with pytest.raises(RestoreTrouble, match="does not open this backup"):
        restoring.unpack(Path(note.path), words, empty(tmp_path))


@pytest.mark.parametrize("share", [0.2, 0.5, 0.9, 0.999])
def test_a_file_that_was_cut_short_is_refused(small, tmp_path, share):
    path = Path(backup_of(small).path)
    path.write_bytes(path.read_bytes()[:int(path.stat().st_size * share)])
    with pytest.raises(RestoreTrouble, match="cut short|damaged"):
        restoring.unpack(path, WORDS, empty(tmp_path))


def test_a_file_in_which_one_letter_changed_is_refused(small, tmp_path):
    path = Path(backup_of(small).path)
    content = bytearray(path.read_bytes())
    content[len(content) * 2 // 3] ^= 1
    path.write_bytes(content)
    with pytest.raises(RestoreTrouble, match="damaged"):
        restoring.unpack(path, WORDS, empty(tmp_path))


def test_nothing_is_written_over_a_studio_that_is_there(small):
    with pytest.raises(RestoreTrouble, match="There is a studio in .* already"):
        restoring.ask_whether_empty(small)


def test_a_copy_that_differs_from_the_studio_is_not_kept(small, monkeypatch):
    backup_of(small)
    good = note_of(small.backups)
    real = SqliteFile.copy

    def losing_a_row(self, to):
        tables = real(self, to)
        with closing(sqlite3.connect(to)) as copy, copy:
            copy.execute("DELETE FROM student WHERE id = 1")
        return tables

    monkeypatch.setattr(SqliteFile, "copy", losing_a_row)
    with pytest.raises(BackupTrouble, match="The copy differs from the studio in student."):
        backup_of(small, NOW + dt.timedelta(days=1))
    note = note_of(small.backups)
    assert (note.path, note.made_at) == (good.path, good.made_at)
    assert (note.failed_at, note.is_there) == (NOW + dt.timedelta(days=1), True)
    assert sorted(path.name for path in small.backups.iterdir()) == [
        "backup.lock", "last.json", "risebook-2026-03-24-030000.zip"]


def test_a_disk_that_writes_something_else_is_noticed(small, monkeypatch):
    real = backing_up._write

    def and_spoil(*args):
        digests = real(*args)
        digests["network/authority.pem"] = "0" * 64
        return digests

    monkeypatch.setattr(backing_up, "_write", and_spoil)
    with pytest.raises(BackupTrouble, match="not what was read"):
        backup_of(small)


def test_a_disk_without_room_is_left_alone_and_named(small, monkeypatch):
    Usage = namedtuple("Usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda folder: Usage(10 ** 9, 10 ** 9 - 10 ** 7, 10 ** 7))
    with pytest.raises(BackupTrouble, match=r"The disk of .*backups has 9 MB free, and a backup needs 30\d MB"):
        backup_of(small)
    assert not list(small.backups.glob("risebook-*"))
    assert "has 9 MB free" in note_of(small.backups).why


def test_a_damaged_database_makes_no_backup_and_no_good_one_goes(small):
    good = backup_of(small)
    with small.database.path.open("r+b") as file:
        file.seek(4096)
        file.write(b"\xff" * 4096)
    with pytest.raises(BackupTrouble, match="malformed|damaged"):
        backup_of(small, NOW + dt.timedelta(days=1))
    assert Path(good.path).is_file()


def test_older_ones_make_room_by_the_rule_and_other_files_stay(small, tmp_path):
    folder = tmp_path / "stick"
    folder.mkdir()
    for days in range(1, 80):
        (folder / f"risebook-{NOW - dt.timedelta(days=days):%Y-%m-%d-%H%M%S}.zip").touch()
    (folder / "risebook-of-last-year.zip").touch()
    backup_of(small, to=folder)
    left = sorted(path.name for path in folder.iterdir())
    # Seven days, the last of five weeks, of which one is among the days, and of three months, of which one is.
    assert left == [
        "risebook-2026-01-31-030000.zip", "risebook-2026-02-28-030000.zip", "risebook-2026-03-01-030000.zip",
        "risebook-2026-03-08-030000.zip", "risebook-2026-03-15-030000.zip", *(
            f"risebook-2026-03-{day}-030000.zip" for day in range(18, 25)), "risebook-of-last-year.zip"]


def test_two_at_once_are_one(small, monkeypatch):
    real = SqliteFile.copy

    def and_meanwhile_another(self, to):
        with pytest.raises(BackupTrouble, match="being made already"):
            backup_of(small)
        return real(self, to)

    monkeypatch.setattr(SqliteFile, "copy", and_meanwhile_another)
    assert backup_of(small).bytes > 0


def test_without_a_key_it_says_how_one_is_made(small):
    (small.var / "backup-key").unlink()
    with pytest.raises(BackupTrouble, match="Run ./risebook backup once in a terminal"):
        backup_of(small)


def test_a_note_that_cannot_be_read_is_no_backup(small):
    backup_of(small)
    (small.backups / "last.json").write_text('{"made_at": 7')
    assert note_of(small.backups).made_at is None


def test_a_backup_of_a_newer_risebook_waits_for_the_newer_risebook(small, tmp_path, monkeypatch):
    monkeypatch.setattr(backing_up, "VERSION", "9.0.0")
    note = backup_of(small)
    with pytest.raises(RestoreTrouble, match="Risebook 9.0.0 made this backup, and this is"):
        restoring.unpack(Path(note.path), WORDS, empty(tmp_path))


@pytest.mark.parametrize("name", ["../secret", "network/../../secret", "settings.py", "/etc/passwd"])
def test_a_file_of_a_backup_goes_nowhere_else(tmp_path, name):
    with pytest.raises(ValueError, match="nobody knows"):
        restoring._place_of(name, tmp_path)


# --- a whole studio, on the engine of these tests ------------------------------------------------


@pytest.fixture
def whole(transactional_db, cast, settings, tmp_path):
    """The cast's studio, with results, as the commands find it."""
    settings.VAR_DIR = tmp_path / "var"
    settings.VAR_DIR.mkdir()
    for number, (child, value) in enumerate(((cast.ama, 14), (cast.bettina, 9)), start=1):
        measuring.record_result(
            key=uuid.UUID(int=number), screening=cast.screening, student=child, measure=cast.rises, side="L",
            entry=Entry(value=Decimal(value)), by=cast.teacher,
        )
    (tmp_path / "words").write_text(WORDS)
    call_command("backup", "--passphrase-file", str(tmp_path / "words"))
    return cast


@pytest.fixture
def elsewhere(tmp_path, monkeypatch):
    """An empty place on the same engine: its folder, its database, and how commands are told of it."""
    new = tmp_path / "elsewhere"
    new.mkdir()
    if connection.vendor == "sqlite":
        database = SqliteFile(new / "risebook.sqlite3")
        monkeypatch.setenv("DATABASE_URL", f"sqlite:///{database.path}")
        monkeypatch.setenv("RISEBOOK_VAR_DIR", str(new))
        yield Home(new, database, "o" * 60)
        return
    address = home().database.address
    with psycopg.connect(**address, autocommit=True) as server:
        server.execute("CREATE DATABASE elsewhere TEMPLATE template0")
    monkeypatch.setenv("DATABASE_URL", f"postgres://{address['user']}@/{address['host']}/elsewhere")
    monkeypatch.setenv("RISEBOOK_VAR_DIR", str(new))
    yield Home(new, PostgresDatabase({**address, "dbname": "elsewhere"}), "o" * 60)
    with psycopg.connect(**address, autocommit=True) as server:
        server.execute("DROP DATABASE elsewhere WITH (FORCE)")


def manage(*words):
    return subprocess.run(
        [sys.executable, CHECKOUT / "manage.py", *words], env=os.environ, capture_output=True, text=True,
        stdin=subprocess.DEVNULL,
    )


def asked(query):
    done = manage("shell", "-v", "0", "-c", query)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_a_whole_studio_comes_back_and_who_was_erased_since_does_not(whole, elsewhere, tmp_path, settings):
    [path] = (settings.VAR_DIR / "backups").glob("risebook-*.zip")
    number, people = whole.ama.pk, Student.objects.count()
    words = ("restore", str(path), "--passphrase-file", str(tmp_path / "words"))
    refused = manage(*words)
    assert (refused.returncode, "Say who was erased since that backup" in refused.stderr) == (1, True)
    assert elsewhere.database.is_empty()
    done = manage(*words, "--erased", str(number), "99999")
    assert done.returncode == 0, done.stderr
    assert "1 of 2 erased again" in done.stdout
    told = asked("from studio.models import Student; from screening.models import Result; from studio.models import "
                 "User; print(sorted(Student.objects.filter(is_nameless=False).values_list('name', flat=True)), "
                 "Result.objects.count(), User.objects.get(username='ottoline').password)")
    names = sorted(Student.objects.exclude(pk=number).values_list("name", flat=True))
    assert told == f"{names} 1 {whole.owner.password}"
    assert len(names) == people - 1
    assert Erasure.objects.count() == 0
    assert (elsewhere.var / "secret-key").read_text() == settings.SECRET_KEY
    again = manage(*words, "--none-erased")
    assert (again.returncode, "already" in again.stderr or "not empty" in again.stderr) == (1, True)


def test_the_studio_goes_on_after_its_backup(whole, settings):
    note = note_of(settings.VAR_DIR / "backups")
    assert note.is_there and note.bytes > 1000 and not note.why
    measuring.record_result(
        key=uuid.UUID(int=7), screening=whole.screening, student=whole.ama, measure=whole.rises, side="R",
        entry=Entry(value=Decimal(12)), by=whole.teacher,
    )


def test_an_empty_place_has_nothing_to_back_up(settings, tmp_path, monkeypatch):
    settings.VAR_DIR = tmp_path
    monkeypatch.setattr("studio.management.commands.backup.home", lambda: empty(tmp_path))
    with pytest.raises(CommandError, match="nothing to back up"):
        call_command("backup")


def test_of_a_backup_on_a_stick_that_was_pulled_out_the_note_stays(small):
    path = Path(backup_of(small).path)
    path.rename(path.with_name("elsewhere"))
    note = note_of(small.backups)
    assert (note.made_at, note.is_there) == (NOW, False)
