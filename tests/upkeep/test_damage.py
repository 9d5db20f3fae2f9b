"""A damaged, emptied or half-restored studio is recognised before anything is written, with the way back."""
import datetime as dt
import fcntl
import os
import sqlite3
from contextlib import closing
from hashlib import sha256

import pytest
from django.core.management import CommandError, call_command

from studio.management.commands import ready_to_serve
from studio.upkeep.databases import SqliteFile
from studio.upkeep.home import BackupNote, Home, keep_note


def small_database(path, rows=2000):
    path.parent.mkdir(exist_ok=True)
    with closing(sqlite3.connect(path)) as made, made:
        made.execute("CREATE TABLE student (id INTEGER PRIMARY KEY, name TEXT)")
        made.executemany("INSERT INTO student (name) VALUES (?)", [(f"Student {n}" * 5,) for n in range(rows)])


@pytest.fixture
def here(tmp_path, monkeypatch):
    small_database(tmp_path / "var/risebook.sqlite3")
    found = Home(tmp_path / "var", SqliteFile(tmp_path / "var/risebook.sqlite3"), "s" * 60)
    found.backups.mkdir()
    keep_note(found.backups, BackupNote(made_at=dt.datetime(2026, 3, 24, 3, tzinfo=dt.UTC), path="/media/stick/a.zip"))
    monkeypatch.setattr(ready_to_serve, "home", lambda: found)
    return found


def cut_short(path):
    path.write_bytes(path.read_bytes()[:path.stat().st_size // 2])


def overwritten(path):
    content = bytearray(path.read_bytes())
    content[8192:16384] = b"\xff" * 8192
    path.write_bytes(content)


def another_file(path):
    path.write_bytes(b"%PDF-1.7" + b"x" * 20000)


@pytest.mark.parametrize("spoil", [cut_short, overwritten, another_file])
def test_a_database_that_is_damaged_stops_the_start_and_is_left_as_it_is(here, spoil):
    spoil(here.database.path)
    before = sha256(here.database.path.read_bytes()).hexdigest()
    with pytest.raises(CommandError) as said:
        call_command("ready_to_serve")
    assert "risebook.sqlite3 is damaged" in str(said.value) or "cannot be read" in str(said.value)
    assert "Nothing was changed." in str(said.value)
    assert "./risebook restore /media/stick/a.zip" in str(said.value)
    assert sha256(here.database.path.read_bytes()).hexdigest() == before


@pytest.mark.parametrize("lose", [lambda path: path.unlink(), lambda path: path.write_bytes(b"")])
def test_a_database_that_is_gone_is_not_taken_for_a_new_studio(here, lose):
    lose(here.database.path)
    with pytest.raises(CommandError, match="is gone or empty, and there was a studio in it"):
        call_command("ready_to_serve")


def test_a_new_studio_starts(here):
    here.database.path.unlink()
    (here.backups / "last.json").unlink()
    call_command("ready_to_serve")


def test_a_sound_one_starts_and_says_who_runs(here):
    call_command("ready_to_serve", "--as", "risebook.service")
    call_command("ready_to_serve", "--as", "risebook.service")
    assert (here.var / "run.lock").read_text() == "risebook.service\n"


def test_who_runs_already_stays_named(here):
    with (here.var / "run.lock").open("w") as lock:
        lock.write("process 7\n")
        lock.flush()
        fcntl.flock(lock, fcntl.LOCK_EX)
        with pytest.raises(CommandError, match="It was left alone."):
            call_command("ready_to_serve", "--as", "risebook.service")
    assert (here.var / "run.lock").read_text() == "process 7\n"


def test_a_restore_that_did_not_end_stops_the_start(here):
    (here.var / "restoring").mkdir()
    with pytest.raises(CommandError, match="A restore was begun here and did not end"):
        call_command("ready_to_serve")


@pytest.mark.parametrize("name", ["", "risebook.sqlite3"])
def test_a_studio_that_cannot_be_written_does_not_start(here, monkeypatch, name):
    closed = here.var / name
    monkeypatch.setattr(os, "access", lambda path, mode: path != closed)
    with pytest.raises(CommandError, match=f"{closed} cannot be written"):
        call_command("ready_to_serve")
