"""Files that are no tables, or were made to do harm: each one sentence, or what it says; never half a write."""
import io
import zipfile
from urllib.parse import urlencode

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import Workbook

from studio.models import ImportDraft, Student

SCRIPT = "<script>alert(1)</script>"


def workbook(*rows):
    book = Workbook()
    for row in rows:
        book.active.append(row)
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()


def bomb():
    """A workbook of some kilobytes whose sheet unpacks to two hundred megabytes."""
    stream = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(workbook(["Name"], ["Nele Vance"]))) as old,
        zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for member in old.namelist():
            if member != "xl/worksheets/sheet1.xml":
                new.writestr(member, old.read(member))
        with new.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as sheet:
            for _megabyte in range(200):
                sheet.write(b" " * 1_000_000)
    return stream.getvalue()


def bring(client, cast, content, filename="roster.csv", kind="roster"):
    content = content.encode() if isinstance(content, str) else content
    route = {"roster": "studio:bring-roster", "results": "progress:bring-results"}[kind]
    data = {"file": SimpleUploadedFile(filename, content), "class_group": cast.class_group.pk, "term": cast.term.pk}
    return client.post(reverse(route), data, follow=True)


# --- files ---------------------------------------------------------------------------------------


FILES = {
    "ten megabytes": (lambda: b"Name,Born\n" + b"Nele Vance,2014-06-01\n" * 450_000, "larger than 5 MB"),
    "fifty thousand rows": (lambda: b"Name,Born\n" + b"Nele Vance,2014-06-01\n" * 50_000, "rows"),
    "an archive that explodes": (bomb, "unpack"),
    "an archive of something else": (lambda: b"PK\x03\x04" + b"\x00" * 200, ""),
    "nothing": (lambda: b"", "This file is empty."),
    "nothing but blank lines": (lambda: b"\n\n ; ;\n", "The file is empty."),
    "a page to look at": (lambda: b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n", "This is a page to look at, not a table."),
    "a web page": (lambda: b"<html><table><tr><td>Name</td></tr></table>", "This is a page to look at, not a table."),
    "an old office file": (lambda: b"\xd0\xcf\x11\xe0" + b"\x00" * 500, "spreadsheet is protected or damaged"),
    "a picture": (lambda: b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20, "not a table"),
    "an open quotation mark": (lambda: b'Name,Born\n"Nele Vance,2014-06-01\n', "never closed"),
    "a heading without rows": (lambda: b"Name,Born\n", "row"),
}


@pytest.mark.parametrize("kind", ["roster", "results"])
@pytest.mark.parametrize("name", FILES)
def test_a_file_that_is_no_table_is_refused_with_a_sentence(as_owner, cast, kind, name):
    content, sentence = FILES[name]
    before = Student.objects.count()
    answer = bring(as_owner, cast, content(), kind=kind)
    assert answer.status_code == 422
    assert sentence.lower() in " ".join(answer.context["form"].errors.get("file", [])).lower()
    assert answer.context["form"].errors["file"]
    assert (ImportDraft.objects.count(), Student.objects.count()) == (0, before)


def test_a_file_that_is_far_too_large_is_not_even_read(as_owner, cast, monkeypatch):
    def read(*_self, **_how):
        raise AssertionError("it was read into memory")

    monkeypatch.setattr("django.core.files.uploadedfile.TemporaryUploadedFile.read", read, raising=False)
    answer = bring(as_owner, cast, b"x" * 7_000_000)
    assert "larger than 5 MB" in answer.content.decode()


def test_a_file_without_headings_asks_what_its_columns_are_and_writes_nothing(as_owner, cast):
    page = bring(as_owner, cast, "Nele Vance,2014-06-01\nOren Pike,2013-11-20\n")
    assert "Choose the column for this field. It is needed." in page.content.decode()
    assert "Bring these in" not in page.content.decode()


@pytest.mark.parametrize("cell, sentence", [
    ('=HYPERLINK(""http://example.org"")', "holds a formula"),
    ("@SUM(1)", "begins like a formula"),
    ("+441234", "begins like a formula"),
    ("N" * 300, "is too long: 300 characters, at most 120"),
    ("12345", "is not a name"),
    ("Vance, Nele, Jo", "more than one comma"),
])
def test_a_cell_that_is_no_name_is_refused_with_its_reason(as_owner, cast, cell, sentence):
    page = bring(as_owner, cast, f'Name,Born\n"{cell}",2014-06-01\n')
    [planned] = page.context["check"].plan
    assert planned.outcome == "refuse"
    assert sentence in " ".join(planned.reasons)


def test_a_formula_in_a_workbook_is_refused(as_owner, cast):
    page = bring(as_owner, cast, workbook(["Name", "Born"], ['=CONCAT("Nele";"Vance")', "2014-06-01"]), "a.xlsx")
    [planned] = page.context["check"].plan
    assert planned.outcome == "refuse"


@pytest.mark.parametrize("written, kept", [
    ("Ne\x07le Vance", "Nele Vance"),
    ("\u202eecnaV eleN\u202c", "ecnaV eleN"),
    ("נלי ונס", "נלי ונס"),
    ("ناله\u200cونس", "ناله\u200cونس"),
    ("Nele\u00a0 Vance", "Nele Vance"),
    ("O’Neil-Vance, Nele", "Nele O’Neil-Vance"),
])
def test_names_of_every_script_come_in_and_invisible_signs_do_not(as_owner, cast, written, kept):
    preview = bring(as_owner, cast, f'Name,Born\n"{written}",2014-06-01\nOren Pike,2013-11-20\n')
    data = {"digest": preview.context["check"].digest}
    as_owner.post(reverse("progress:confirm-roster", args=[preview.context["draft"].pk]), data)
    assert Student.objects.filter(name=kept).exists()


def test_a_script_in_a_file_is_shown_as_text(as_owner, cast):
    page = bring(as_owner, cast, f"Name,{SCRIPT}\n{SCRIPT},{SCRIPT}\n", f"{SCRIPT}.csv").content.decode()
    assert SCRIPT not in page
    assert page.count("&lt;script&gt;alert(1)") >= 2


@pytest.mark.parametrize("filename", ["a" * 400 + ".csv", "../../etc/passwd", "roster", ".csv", "نموذج.csv"])
def test_the_name_of_a_file_does_no_harm(as_owner, cast, filename):
    assert bring(as_owner, cast, "Name,Born\nNele Vance,2014-06-01\n", filename).status_code == 200
    assert len(ImportDraft.objects.get().filename) <= 200
    assert "/" not in ImportDraft.objects.get().filename


@pytest.mark.parametrize("answers", [
    {"column-99": "name"}, {"column-" + "9" * 5000: "name"}, {"column--1": "name"}, {"column-0": "nothing"},
    {"column-0": "name", "column-1": "name"}, {"column-\x00": "name"}, {"order": "sideways"}, {"column-٣": "name"},
])
def test_odd_answers_about_the_columns_do_no_harm(as_owner, cast, answers):
    preview = bring(as_owner, cast, "Name,Born\nNele Vance,2014-06-01\n")
    path = reverse("studio:check-roster", args=[preview.context["draft"].pk])
    sent = {"data": urlencode(answers), "content_type": "application/x-www-form-urlencoded"}
    assert as_owner.post(path, **sent, follow=True).status_code == 200
