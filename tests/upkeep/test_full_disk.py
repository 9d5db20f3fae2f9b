"""On a full disk pages are read, the pain page too; what must be written says so, and nothing of it is."""
import os
import shutil
import subprocess
import uuid
from pathlib import Path

import pytest
from django.db import OperationalError, connection
from django.test import Client
from django.urls import reverse

from progress.models import FollowUp, PainReport
from studio.models import Studio
from studio.upkeep.wellness import says_disk_full

BACKEND = "django.contrib.auth.backends.ModelBackend"


@pytest.fixture
def small_disk(tmp_path):
    """A disk of its own, a few megabytes in memory."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=16m", "tmpfs", disk], capture_output=True)
    if mounted.returncode:
        pytest.skip("only root may make a small disk")
    yield disk
    subprocess.run(["umount", "--lazy", disk], check=True)


@pytest.fixture
def studio_on_it(transactional_db, cast, small_disk):
    """The cast's studio moved onto the small disk; a teacher is logged in."""
    if connection.vendor != "sqlite":
        pytest.skip("the server's disk is not this test's")
    client = Client(raise_request_exception=False)
    client.force_login(cast.teacher, backend=BACKEND)
    client.get("/barre/")
    usual = connection.settings_dict["NAME"]
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    connection.settings_dict["NAME"] = str(shutil.copy(usual, small_disk / "risebook.sqlite3"))
    # The disk fills while Risebook runs.
    client.get("/barre/")
    yield client
    connection.close()
    connection.settings_dict["NAME"] = usual


def fill(disk: Path) -> Path:
    """Not a byte is left."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as file:
        for size in (1 << 16, 1 << 12, 1):
            try:
                while True:
                    file.write(b"x" * size)
            except OSError:
                continue
    return filler


def test_pages_are_read_and_what_must_be_written_says_so_and_goes_on_when_there_is_room(
    studio_on_it, cast, small_disk, time_machine, on_the_day,
):
    client, screening = studio_on_it, cast.screening.pk
    hurts = reverse("progress:report-pain", args=[screening, cast.ama.pk])
    addresses = [reverse("progress:today"), reverse("progress:student", args=[cast.ama.pk]), hurts,
                 reverse("progress:sheet", args=[screening, "rises"]), reverse("progress:follow-ups")]
    said = {"key": str(uuid.UUID(int=2)), "region": "L-achilles", "feels": "sharp"}
    filler = fill(small_disk)
    # So long after the last page that a note of who was here would be due.
    time_machine.shift(600)
    with pytest.raises(OperationalError) as refused:
        Studio.objects.update(name="x" * 100)
    assert says_disk_full(refused.value)
    assert {address: client.get(address).status_code for address in addresses} == dict.fromkeys(addresses, 200)
    told = client.post(hurts, said)
    assert (told.status_code, told.headers["Retry-After"]) == (503, "60")
    assert "The disk of the studio’s computer is full" in told.content.decode()
    assert (PainReport.objects.count(), FollowUp.objects.count()) == (0, 0)
    filler.unlink()
    assert client.post(hurts, said).status_code == 302
    assert (PainReport.objects.count(), FollowUp.objects.count()) == (1, 1)


@pytest.mark.parametrize("method, header", [("get", "5"), ("post", None)])
def test_a_database_that_is_away_is_told_and_a_page_asks_again_by_itself(cast, monkeypatch, method, header):
    def away():
        raise OperationalError("connection to server failed: Connection refused")

    monkeypatch.setattr(Studio, "current", away)
    answer = getattr(Client(raise_request_exception=False), method)("/login/")
    assert (answer.status_code, answer.headers.get("Refresh"), answer.headers["Retry-After"]) == (503, header, "5")
    assert "records do not answer just now" in answer.content.decode()


def test_any_other_trouble_is_told_as_before(cast, monkeypatch):
    def broken():
        raise ZeroDivisionError

    monkeypatch.setattr(Studio, "current", broken)
    answer = Client(raise_request_exception=False).get("/login/")
    assert (answer.status_code, "Something went wrong here" in answer.content.decode()) == (500, True)


@pytest.mark.parametrize("words, is_full", [
    ("database or disk is full", True), ("could not extend file: No space left on device", True),
    ("database is locked", False), ("disk I/O error", False), ("attempt to write a readonly database", False),
])
def test_a_full_disk_is_told_from_other_trouble(words, is_full):
    assert says_disk_full(OperationalError(words)) is is_full


def test_root_or_not_the_small_disk_is_a_disk(small_disk):
    assert os.path.ismount(small_disk)
