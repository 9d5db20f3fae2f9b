"""Lists as front desks keep them, made by code: each with what must become of its rows. No real person is in them."""
import datetime as dt
import io
import zipfile
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

import xlwt
from openpyxl import Workbook
from openpyxl.styles import Font

ROW = "Nele Vance,2014-06-01"
TWO = (ROW, "Oren Pike,2013-11-20")


@dataclass(frozen=True)
class RosterFile:
    """rows: filled lines below the headings, counted by hand; of them new, left out, asked, refused."""

    content: bytes
    rows: int
    new: int
    left: int = 0
    asked: int = 0
    refused: int = 0
    filename: str = "list.csv"


def lines(*rows: str, encoding: str = "utf-8", end: str = "\n") -> bytes:
    return (end.join(rows) + end).encode(encoding)


def book(*rows: list, change: Callable[[Workbook], None] = lambda _book: None) -> bytes:
    made, page = Workbook(), io.BytesIO()
    for row in rows:
        made.active.append(row)
    change(made)
    made.save(page)
    return page.getvalue()


def sheets(named: Mapping[str, Sequence[list]], hidden: Sequence[str] = ()) -> bytes:
    """A workbook with a sheet for each name."""
    def change(workbook: Workbook) -> None:
        workbook.remove(workbook.active)
        for name, rows in named.items():
            page = workbook.create_sheet(name)
            page.sheet_state = "hidden" if name in hidden else "visible"
            for row in rows:
                page.append(row)

    return book(change=change)


def xls(named: Mapping[str, Sequence[list]]) -> bytes:
    """A workbook of the kind before 2007."""
    made, page = xlwt.Workbook(), io.BytesIO()
    day = xlwt.easyxf(num_format_str="DD.MM.YYYY")
    for name, rows in named.items():
        sheet = made.add_sheet(name)
        for at, row in enumerate(rows):
            for column, cell in enumerate(row):
                sheet.write(at, column, cell, *((day,) if isinstance(cell, dt.date) else ()))
    made.save(page)
    return page.getvalue()


_ODS = (
    '<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"'
    ' xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"'
    ' xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" office:version="1.3">'
    "<office:body><office:spreadsheet>%s</office:spreadsheet></office:body></office:document-content>"
)

_MANIFEST = (
    '<m:manifest xmlns:m="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"><m:file-entry m:full-path="/"'
    ' m:media-type="application/vnd.oasis.opendocument.spreadsheet"/></m:manifest>'
)


def _ods_cell(value: object) -> str:
    if value in (None, ""):
        return "<table:table-cell/>"
    kind = f'office:value-type="string"><text:p>{escape(str(value))}'
    if isinstance(value, dt.date):
        kind = f'office:value-type="date" office:date-value="{value}"><text:p>{value:%d.%m.%Y}'
    elif isinstance(value, int | float):
        kind = f'office:value-type="float" office:value="{value}"><text:p>{value}'
    return f"<table:table-cell {kind}</text:p></table:table-cell>"


def ods(named: Mapping[str, Sequence[list]], more: str = "") -> bytes:
    """An OpenDocument spreadsheet (OASIS OpenDocument 1.3, part 3, chapter 9: tables)."""
    tables = [
        f'<table:table table:name="{escape(name)}">' + "".join(
            f"<table:table-row>{''.join(map(_ods_cell, row))}</table:table-row>" for row in rows
        ) + more + "</table:table>"
        for name, rows in named.items()
    ]
    page = io.BytesIO()
    with zipfile.ZipFile(page, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet", zipfile.ZIP_STORED)
        archive.writestr("META-INF/manifest.xml", _MANIFEST)
        archive.writestr("content.xml", _ODS % "".join(tables))
    return page.getvalue()


def xlsx(content: bytes, **counts) -> RosterFile:
    return RosterFile(content, filename="list.xlsx", **counts)


def csv(*rows: str, new: int, left: int = 0, asked: int = 0, refused: int = 0, **how) -> RosterFile:
    return RosterFile(lines("Name,Born,Stage", *rows, **how), len(rows), new, left, asked, refused)


def _merge(workbook: Workbook) -> None:
    workbook.active.merge_cells("A3:C3")


def _hide(workbook: Workbook) -> None:
    workbook.active.row_dimensions[3].hidden = True


def _second_sheet(workbook: Workbook) -> None:
    workbook.active["A1"].font = Font(bold=True)
    workbook.create_sheet("Waiting list").append(["Name", "Born"])


HEAD = ["Name", "Born", "Stage"]
BORN = (dt.date(2014, 6, 1), dt.date(2013, 11, 20))
LIST = [HEAD, ["Nele Vance", BORN[0], ""], ["Oren Pike", BORN[1], "foundation"]]
FILES: dict[str, RosterFile] = {
    "plain": csv(f"{ROW},", "Oren Pike,2013-11-20,foundation", new=2),
    "semicolons, Windows": RosterFile(lines("Name;Born", "Zoë Müßig;01.06.2014", "Ida Holt;25.03.2013",
                                            encoding="cp1252", end="\r\n"), 2, 2),
    "tabs, UTF-16": RosterFile(lines("Name\tBorn", "Zoë Moss\t2014-06-01", encoding="utf-16"), 1, 1),
    "byte order mark": RosterFile(b"\xef\xbb\xbf" + lines("Name,Born", *TWO), 2, 2),
    "title and date above": RosterFile(lines("Our dancers,", "Printed 3 September,", "Name,Born", *TWO), 2, 2),
    "title rows and blank lines": RosterFile(lines("Autumn", "", "Name,Born,", TWO[0], "", TWO[1], ""), 2, 2),
    "bands of classes": csv("Pre-pointe A,,", f"{ROW},", "Pre-pointe B,,", "Oren Pike,2013-11-20,", new=2, left=2),
    "bands of weekdays": csv("Monday 16:30,,", f"{ROW},", "Tuesday,,", "Oren Pike,2013-11-20,", new=2, left=2),
    "a total": csv(f"{ROW},", "Oren Pike,2013-11-20,", "Total: 2,,", new=2, left=1),
    "a total with its number beside": csv(f"{ROW},", "Total,2,", new=1, left=1),
    "counted": csv(f"{ROW},", "1 student,,", "Summe,1,", new=1, left=2),
    "footnotes": csv("Nele Vance *,2014-06-01,", "Oren Pike †,2013-11-20,", "* new this term,,", "† trial,,",
                     new=2, left=2),
    "a remark": csv(f"{ROW},", "Note: Oren comes in October,,", new=1, left=1),
    "headings on every page": csv(f"{ROW},", "Name,Born,Stage", "Oren Pike,2013-11-20,", new=2, left=1),
    "a name alone": csv("Nele Vance,2014-06-01,pre-pointe", "Oren Pike,2013-11-20,foundation", "Junior Company,,",
                        new=2, asked=1),
    "typed twice with a slip": csv("Mia Vance,2014-06-01,", "Mila Vance,2014-06-01,", new=1, asked=1),
    "day and month turned round": csv("Nele Vance,2014-06-01,", "Nele Vance,2014-01-06,", new=1, asked=1),
    "the same line twice": csv(f"{ROW},", f"{ROW},", new=1, refused=1),
    "no name": csv(f"{ROW},", ",2013-11-20,foundation", new=1, refused=1),
    "impossible birth dates": csv("Nele Vance,1900-01-01,", "Oren Pike,2026-12-01,", "Ida Holt,31/31/2014,", new=0,
                                  refused=3),
    "an unknown stage": csv("Nele Vance,2014-06-01,Swans", f"{TWO[1]},", new=1, refused=1),
    "a formula": csv("Nele Vance,=TODAY(),", f"{TWO[1]},", new=1, refused=1),
    "shifted cells": RosterFile(lines("Name,Born", "Vance, Nele,2014-06-01", TWO[1]), 2, 1, refused=1),
    "known already": csv("Ama Owiredu,2014-05-01,pre-pointe", new=0),
    "known with another birth date": csv("Ama Owiredu,2014-05-09,", new=0, asked=1),
    "known, typed otherwise": csv("Ama Owiredo,2014-05-01,", new=0, asked=1),
    "parents' cells full of words": RosterFile(lines(
        "Name,Born,E-mail,Phone", f"{ROW},a@x; b@x,ask", f"{TWO[1]},,see list"), 2, 2),
    "mother and father": RosterFile(lines(
        "Child,DOB,Mother,Father,Mother's e-mail,Father's e-mail", f"{ROW},Jo Vance,Al Vance,jo@x.org,al@x.org"), 1, 1),
    "German headings and months": RosterFile(lines(
        "Nachname;Vorname;Geburtsdatum", "Vance;Nele;1. Juni 2014", "Pike;Oren;20. März 2013"), 2, 2),
    "French months": RosterFile(lines("Nom complet;Date de naissance", "Nele Vance;1 juin 2014"), 1, 1),
    "Spanish months": RosterFile(lines("Nombre completo;Fecha de nacimiento", "Nele Vance;1 junio 2014"), 1, 1),
    "Italian months": RosterFile(lines("Nome completo;Data di nascita", "Nele Vance;1 giugno 2014"), 1, 1),
    "line breaks within cells": RosterFile(lines('Name,Born', '"Nele\nVance",2014-06-01', TWO[1]), 2, 2),
    "workbook": xlsx(book(HEAD, ["Nele Vance", "2014-06-01", ""], ["Oren Pike", "2013-11-20", ""]), rows=2, new=2),
    "merged band": xlsx(book(HEAD, ["Nele Vance", "2014-06-01", "foundation"], ["Pre-pointe B", None, None],
                             ["Oren Pike", "2013-11-20", ""], change=_merge), rows=3, new=2, left=1),
    "a hidden row": xlsx(book(HEAD, ["Nele Vance", "2014-06-01", ""], ["Oren Pike", "2013-11-20", ""], change=_hide),
                         rows=2, new=2),
    "an empty second sheet": xlsx(book(HEAD, ["Nele Vance", "2014-06-01", ""], change=_second_sheet), rows=1, new=1),
    "a formula that was never calculated": xlsx(book(HEAD, ["Nele Vance", "=DATE(2014,6,1)", ""]), rows=1, new=0,
                                                refused=1),
    "an error of the spreadsheet": xlsx(book(HEAD, ["Nele Vance", "#REF!", ""], ["Oren Pike", "2013-11-20", ""]),
                                        rows=2, new=1, refused=1),
    "numbers as text": xlsx(book([*HEAD, "Classes a week"], ["Nele Vance", "2014-06-01", "", 2.0]), rows=1, new=1),
    "wrongly named": RosterFile(book(HEAD, ["Nele Vance", "2014-06-01", ""]), 1, 1, filename="list.csv"),
    "two thousand rows": csv(*(f"Child{n} Pupil{n},2014-06-{n % 28 + 1:02}," for n in range(1999)), "Total,1999,",
                             new=1999, left=1),
    "Mac line ends": RosterFile(lines("Name,Born", *TWO, end="\r"), 2, 2),
    "bars between cells": RosterFile(lines("Name|Born", "Nele Vance|2014-06-01"), 1, 1),
    "said which separator": RosterFile(lines("sep=;", "Name;Born", "Nele Vance;2014-06-01"), 1, 1),
    "first and family names": RosterFile(lines("First name,Last name,DOB", "Nele,Vance,2014-06-01"), 1, 1),
    "family name first": RosterFile(lines("Name;Born", "Vance, Nele;2014-06-01"), 1, 1),
    "too many commas": RosterFile(lines("Name;Born", "Vance, Nele, Ms;2014-06-01"), 1, 0, refused=1),
    "two of one name": csv("Nele Vance,2014-06-01,", "Nele Vance,2012-09-09,", new=2),
    "two of one name, undated": csv("Nele Vance,,", "Nele Vance,,", new=0, refused=2),
    "known without a birth date": csv("Ama Owiredu,,pre-pointe", new=0),
    "known, names turned round": csv("Owiredu Ama,2014-05-01,", new=0, asked=1),
    "known, day and month turned round": csv("Ama Owiredu,2014-01-05,", new=0, asked=1),
    "known and a namesake": csv("Ama Owiredu,2014-05-01,", "Ama Owiredu,2012-02-02,", new=1),
    "a class for each row": RosterFile(lines("Name,Born,Class", f"{ROW},Pre-pointe B", f"{TWO[1]},Pre-pointe A"), 2, 2),
    "a class that is not there": RosterFile(lines("Name,Born,Class", f"{ROW},Tap"), 1, 0, refused=1),
    "other columns beside": RosterFile(lines(
        "No,Name,Born,Shoe,Allergies", f"1,{ROW},33,nuts", f"2,{TWO[1]},34,"), 2, 2),
    "guardian's two addresses": RosterFile(lines(
        "Name;Born;Parent;E-mail", "Nele Vance;2014-06-01;Jo Vance;j@x.org, a@x.org"), 1, 1),
    "sums of every group": csv("Monday,,", f"{ROW},", "Subtotal: 1,,", "Tuesday,,", f"{TWO[1]},", "Subtotal: 1,,",
                               "Total: 2,,", new=2, left=5),
    "weekly classes that are no number": RosterFile(lines("Name,Born,Classes per week", f"{ROW},2-3", f"{TWO[1]},2 x"),
                                                    2, 1, refused=1),
    "letters from right to left": csv("נועה לוי,2014-06-01,", "王小明,2013-11-20,", new=2),
    "invisible marks": csv("\u200eNele\u00a0 Vance\u200f,2014-06-01,", new=1),
    "a workbook of the kind before 2007": RosterFile(xls({"List": LIST}), 2, 2, filename="list.xls"),
    "the same with a total and a remark": RosterFile(
        xls({"List": [["Autumn"], *LIST, ["Total", 2, ""], ["* trial", "", ""]]}), 4, 2, left=2, filename="list.xls"),
    "an open document": RosterFile(ods({"Liste": LIST}), 2, 2, filename="list.ods"),
    "an open document with a million empty rows": RosterFile(ods({"Liste": LIST}, (
        '<table:table-row table:number-rows-repeated="1048000"><table:table-cell '
        'table:number-columns-repeated="16000"/></table:table-row>')), 2, 2, filename="list.ods"),
    "an open document of band and total": RosterFile(
        ods({"Liste": [HEAD, ["Pre-pointe A", "", ""], *LIST[1:], ["Summe", 2, ""]]}), 4, 2, left=2,
        filename="list.ods"),
    "a sheet for each class": RosterFile(sheets({
        "Pre-pointe A": LIST, "Pre-pointe B": [HEAD, ["Ida Holt", BORN[0], ""], ["Total", 1, ""]]}), 4, 3, left=1,
        filename="list.xlsx"),
    "a sheet for each class, of the kind before 2007": RosterFile(xls({
        "Pre-pointe A": LIST, "Pre-pointe B": [HEAD, ["Ida Holt", BORN[0], ""]]}), 3, 3, filename="list.xls"),
    "a cover sheet in front": RosterFile(sheets({
        "Cover": [["Our school"], ["Season 2026"]], "List": LIST}), 2, 2, filename="list.xlsx"),
    "a hidden sheet": RosterFile(sheets({"Old": [HEAD, ["Ida Holt", BORN[0], ""]], "List": LIST}, hidden=["Old"]),
                                 2, 2, filename="list.xlsx"),
    "the same child on two sheets": RosterFile(sheets({"Monday": LIST, "Tuesday": LIST}), 4, 2, refused=2,
                                               filename="list.xlsx"),
    "two tables on one sheet": RosterFile(sheets({"List": [
        *LIST, [], ["Waiting list"], HEAD, ["Ida Holt", BORN[0], ""]]}), 5, 3, left=2, filename="list.xlsx"),
    "five thousand rows in a workbook": RosterFile(sheets({"List": [HEAD, *(
        [f"Child{n} Pupil{n}", dt.date(2014, n // 28 % 12 + 1, n % 28 + 1), ""] for n in range(4999))]}), 4999, 4999,
        filename="list.xlsx"),
}
