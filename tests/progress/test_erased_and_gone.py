"""An erased name is nowhere, however it was written and wherever it lies; only then is there a certificate."""
import datetime as dt
import sqlite3
from pathlib import Path

import pytest
from django.db import connection
from django.urls import reverse

from progress.actions.erasing import erase_student
from progress.actions.follow_ups import add_note
from progress.actions.papers.reports import folder_of
from progress.models import Erasure, FollowUpNote, RunSheet
from studio.entrance.actions import enrol_tablet
from studio.entrance.keys import Tablet
from tests.progress.test_erasing import NAME, SECRET, full  # noqa: F401
from tests.reading import words_of


@pytest.mark.parametrize("said", [
    "Quillfeather, Zenobia", "Zenobia  Quillfeather", "QUILLFEATHER ZENOBIA", "zenobia\u00a0quillfeather",
])
@pytest.mark.django_db(transaction=True)
def test_her_name_goes_however_it_was_written_about_another(full, said):  # noqa: F811
    add_note(follow_up=full.other_student.follow_ups.first(), text=f"Asks why {said} rests.", by=full.owner)
    erase_student(student=full.ama, by=full.owner)
    assert FollowUpNote.objects.get(follow_up__student=full.other_student).text == "Asks why […] rests."


@pytest.mark.django_db(transaction=True)
def test_an_accent_as_one_letter_or_two_is_the_same_name(full):  # noqa: F811
    full.ama.name = "Zo\u00eb \u00c5berg"
    full.ama.save()
    add_note(follow_up=full.other_student.follow_ups.first(), text="With Zoe\u0308 A\u030aberg.", by=full.owner)
    erase_student(student=full.ama, by=full.owner)
    assert FollowUpNote.objects.get(follow_up__student=full.other_student).text == "With […]."


@pytest.mark.django_db(transaction=True)
def test_what_a_killed_printer_left_half_written_goes_too(full):  # noqa: F811
    sheet = RunSheet.objects.filter(student=full.ama).last()
    run = sheet.run
    left = [folder_of(run) / name for name in (f"{sheet.pk}.pdf.4711.part", "all.pdf.4712.part", "all.zip.4713.part")]
    for file in left:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(NAME)
    erase_student(student=full.ama, by=full.owner)
    assert [file for file in left if file.exists()] == []


@pytest.mark.skipif(connection.vendor != "sqlite", reason="only SQLite keeps a log of changes beside its file")
@pytest.mark.django_db(transaction=True)
def test_while_somebody_reads_there_is_no_certificate_and_afterwards_no_byte(full, client):  # noqa: F811
    client.force_login(full.owner, backend="django.contrib.auth.backends.ModelBackend")
    file = Path(connection.settings_dict["NAME"])
    reader = sqlite3.connect(file)
    reader.execute("BEGIN")
    reader.execute("SELECT count(*) FROM studio_student").fetchone()
    page = client.post(reverse("progress:erase-student", args=[full.ama.pk]), {"name": NAME}, follow=True)
    erasure = Erasure.objects.first()
    assert "Erased, not yet certified" in words_of(page) and erasure.gone_at is None
    reader.close()
    again = client.get(reverse("progress:erasure", args=[erasure.pk]))
    told = words_of(again)
    assert "not yet certified" not in told and "In no file of the database since 24 March" in told
    kept = b"".join(each.read_bytes() for each in file.parent.glob(f"{file.name}*"))
    assert SECRET.encode() not in kept and NAME.encode() not in kept


@pytest.mark.django_db(transaction=True)
def test_the_erase_page_and_the_certificate_name_the_tablets_and_when_each_was_reached(full, client):  # noqa: F811
    client.force_login(full.owner, backend="django.contrib.auth.backends.ModelBackend")
    enrol_tablet(name="Tablet by the piano", by=full.owner)
    Tablet.objects.filter(name="Tablet by the window").update(seen_at=dt.datetime(2026, 3, 20, 16, 5, tzinfo=dt.UTC))
    erasure = erase_student(student=full.ama, by=full.owner)
    pages = ("progress:erase-student", full.bettina.pk), ("progress:erasure", erasure.pk)
    for name, key in pages:
        told = " ".join(words_of(client.get(reverse(name, args=[key]))).split())
        assert "Tablet by the window, last reached on 20 March 2026 at 16:05" in told
        assert "Tablet by the piano, not reached yet" in told
