"""Workbooks into tables: dates, numbers, formulas, several sheets, and workbooks made to do harm."""

import datetime as dt
import io
import random
import struct
import zipfile

import pytest
from openpyxl import Workbook

from studio.roster_file import heading_score
from studio.sheet_file import MAX_COLUMNS, MAX_ROWS, CellTrouble, UnreadableFile, read_sheet
from studio.sheets import xlsx_archive

SHEET_PART = "xl/worksheets/sheet1.xml"
NAMESPACE = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SHEET_XML = f'<worksheet xmlns="{NAMESPACE}"><sheetData>%s</sheetData></worksheet>'


def workbook_of(*sheets, hidden=()):
    workbook = Workbook()
    workbook.remove(workbook.active)
    for index, rows in enumerate(sheets):
        worksheet = workbook.create_sheet(f"Sheet {index + 1}")
        if index in hidden:
            worksheet.sheet_state = "hidden"
        for row in rows:
            worksheet.append(row)
    stream = io.BytesIO()
    workbook.save(stream)
    return stream.getvalue()


def with_part(content, name, part, **how):
    """The workbook with one part replaced or added."""
    stream = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for member in old.namelist():
            if member != name:
                new.writestr(member, old.read(member))
        new.writestr(name, part, **how)
    return stream.getvalue()


def with_sheet(xml_rows):
    return with_part(workbook_of([["Name"], ["Ada"]]), SHEET_PART, SHEET_XML % xml_rows)


def refusal(content):
    with pytest.raises(UnreadableFile) as caught:
        read_sheet(content, "roster.xlsx")
    return str(caught.value)


def test_values_become_the_text_a_person_sees():
    values = [
        "Ada",
        dt.date(2014, 3, 25),
        dt.datetime(2014, 3, 25, 16, 30),
        12,
        4.5,
        491701234567,
        True,
        0.1 + 0.2,
    ]
    sheet = read_sheet(workbook_of([list("abcdefgh"), values]), "roster.xlsx")
    assert sheet.rows[0].cells == (
        "Ada", "2014-03-25", "2014-03-25 16:30:00", "12", "4.5", "491701234567", "TRUE", "0.3",
    )  # fmt: skip
    assert (sheet.kind, sheet.delimiter, sheet.encoding) == ("xlsx", "", "")


def test_a_date_in_1900_is_read_as_that_date():
    sheet = read_sheet(workbook_of([["Name", "Born"], ["Ada", dt.date(1900, 3, 1)]]), "roster.xlsx")
    assert sheet.rows[0].cells[1] == "1900-03-01"


def test_the_first_visible_sheet_that_holds_anything_is_read():
    content = workbook_of([], [["Secret", "x"], ["1", "2"]], [["Name", "Born"], ["Ada", "x"]], hidden=[1])
    assert read_sheet(content, "roster.xlsx").headings == ("Name", "Born")


def test_row_numbers_are_those_the_spreadsheet_shows():
    content = workbook_of([["Autumn term"], [], ["Student", "DOB"], [], ["Ada", "2014-03-25"]])
    sheet = read_sheet(content, "roster.xlsx", heading_score=heading_score)
    assert [(row.number, row.cells[0]) for row in sheet.rows] == [(5, "Ada")]


def test_notes_beside_the_table_are_left_out():
    row = read_sheet(workbook_of([["Name", "Born"], ["Ada", "x", None, "pays late"]]), "roster.xlsx").rows[0]
    assert (row.cells, row.troubles) == (("Ada", "x"), ())


def test_a_formula_never_calculated_is_marked_and_a_saved_result_is_taken():
    formula = '<row r="2"><c r="A2" t="inlineStr"><is><t>Ada</t></is></c><c r="B2"><f>1+1</f>%s</c></row>'
    heading = (
        '<row r="1"><c t="inlineStr"><is><t>Name</t></is></c><c t="inlineStr"><is><t>n</t></is></c></row>'
    )
    without = read_sheet(with_sheet(heading + formula % "<v></v>"), "r.xlsx").rows[0]
    saved = read_sheet(with_sheet(heading + formula % "<v>2</v>"), "r.xlsx").rows[0]
    assert (without.cells, without.troubles) == (("Ada", ""), (CellTrouble(1, "formula"),))
    assert (saved.cells, saved.troubles) == (("Ada", "2"), ())
    empty_text = (formula % "<v></v>").replace('"B2"', '"B2" t="str"')
    assert read_sheet(with_sheet(heading + empty_text), "r.xlsx").rows[0].troubles == ()


def test_a_row_that_holds_only_a_formula_is_not_lost():
    assert read_sheet(workbook_of([["Name", "n"], ["=1+1"]]), "r.xlsx").rows[0].troubles == (
        CellTrouble(0, "formula"),
    )


def test_a_spreadsheet_error_and_text_like_a_formula_are_marked():
    row = read_sheet(workbook_of([["Name", "Born"], ["#REF!", "'=cmd"]]), "r.xlsx").rows[0]
    assert row.troubles == (CellTrouble(0, "error_value"),)
    inline = '<row><c t="inlineStr"><is><t>%s</t></is></c></row>'
    assert read_sheet(with_sheet(inline % "Name" + inline % "=cmd"), "r.xlsx").rows[0].troubles == (
        CellTrouble(0, "formula"),
    )


def test_a_wrong_dimension_does_not_cut_the_table():
    content = workbook_of([["Name", "Born"], ["Ada", "x"], ["Ben", "y"]])
    xml = zipfile.ZipFile(io.BytesIO(content)).read(SHEET_PART).replace(b'ref="A1:B3"', b'ref="A1:A2"')
    assert b'ref="A1:A2"' in xml
    assert [row.cells for row in read_sheet(with_part(content, SHEET_PART, xml), "r.xlsx").rows] == [
        ("Ada", "x"),
        ("Ben", "y"),
    ]


def test_more_than_the_limit_of_rows_or_columns_is_refused_by_name():
    assert f"{MAX_ROWS}" in refusal(workbook_of([["Name", "Born"], *([["Ada", "x"]] * (MAX_ROWS + 1))]))
    assert f"{MAX_COLUMNS}" in refusal(workbook_of([["x"] * (MAX_COLUMNS + 1), ["y"]]))
    assert (
        len(read_sheet(workbook_of([["Name", "Born"], *([["Ada", "x"]] * MAX_ROWS)]), "r.xlsx").rows)
        == MAX_ROWS
    )


def test_a_zip_bomb_is_refused_from_its_directory(monkeypatch):
    bomb = with_part(workbook_of([["Name"], ["Ada"]]), "xl/media/big.xml", bytes(70_000_000))
    assert len(bomb) < 200_000
    monkeypatch.delattr(zipfile.ZipFile, "open")  # nothing may be unpacked
    assert "60 MB" in refusal(bomb)


def test_a_zip_bomb_whose_directory_lies_is_refused(monkeypatch):
    bomb = with_part(workbook_of([["Name"], ["Ada"]]), "xl/big.xml", b"<a>" + b" " * 5_000_000 + b"</a>")
    at = bomb.rfind(b"PK\x01\x02", 0, bomb.rfind(b"xl/big.xml"))
    lying = bytearray(bomb)
    lying[at + 24 : at + 28] = struct.pack("<I", 1000)
    assert "damaged" in refusal(bytes(lying))
    monkeypatch.setattr(xlsx_archive, "MAX_UNPACKED_BYTES", 5_000_100)
    assert "5 MB" in refusal(bomb)


def test_the_running_count_stops_what_the_directory_let_pass(monkeypatch):
    content = workbook_of([["Name"], ["Ada"]])
    members = zipfile.ZipFile(io.BytesIO(content)).infolist()
    monkeypatch.setattr(xlsx_archive, "MAX_UNPACKED_BYTES", 2000)
    with zipfile.ZipFile(io.BytesIO(content)) as archive, pytest.raises(UnreadableFile, match="too large"):
        xlsx_archive._parts(archive, members)


@pytest.mark.parametrize("part", [SHEET_PART, "xl/workbook.xml", "xl/sharedStrings.xml"])
def test_a_declared_entity_is_refused_in_every_part(part):
    bomb = '<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;">]><worksheet>&b;</worksheet>'
    assert "damaged" in refusal(with_part(workbook_of([["Name"], ["Ada"]]), part, bomb))


@pytest.mark.parametrize(
    "rows",
    [
        '<row r="1000000000000"><c><v>1</v></c></row>',
        '<row r="2"><c><v>1</v></c></row><row r="1"><c><v>1</v></c></row>',
        '<row><c r="ZZZZZZ1"><v>1</v></c></row>',
        '<row r="x"><c><v>1</v></c></row>',
        '<row><c t="s"><v>99</v></c></row>',
    ],
)
def test_a_sheet_that_lies_about_its_places_is_refused(rows):
    assert "damaged" in refusal(with_sheet(rows))


def test_a_sheet_of_a_million_empty_cells_is_refused():
    assert "too many cells" in refusal(with_sheet('<row><c s="1"/></row>' * 1_000_000))


def test_a_filled_cell_in_the_last_row_a_sheet_can_have_is_read():
    inline = '<row r="%s"><c t="inlineStr"><is><t>%s</t></is></c></row>'
    sheet = read_sheet(with_sheet(inline % (1, "Name") + inline % (1_048_576, "Ada")), "r.xlsx")
    assert [(row.number, row.cells) for row in sheet.rows] == [(1_048_576, ("Ada",))]


def test_a_number_that_no_number_can_be_is_an_error_in_its_cell():
    xml = '<row><c t="inlineStr"><is><t>Name</t></is></c></row><row><c><v>' + "9" * 6000 + "</v></c></row>"
    assert read_sheet(with_sheet(xml), "r.xlsx").rows[0].troubles == (CellTrouble(0, "error_value"),)


def test_an_empty_workbook_and_a_broken_one_say_what_they_are():
    assert "empty" in refusal(workbook_of([]))
    assert "damaged" in refusal(with_part(workbook_of([["a"]]), "content.xml", "<x"))
    assert "damaged" in refusal(b"PK\x03\x04 no archive at all")


def test_a_broken_workbook_of_any_kind_gives_the_one_error_or_a_table():
    dice = random.Random(7)
    whole = workbook_of([["Name", "Born"], ["Ada", "2014-03-25"]])
    for _ in range(300):
        broken = bytearray(whole)
        for _ in range(dice.randint(1, 12)):
            broken[dice.randrange(len(broken))] = dice.randrange(256)
        try:
            read_sheet(bytes(broken[: dice.choice([len(broken), dice.randrange(1, len(broken))])]), "r.xlsx")
        except UnreadableFile as error:
            assert str(error)


def test_cells_at_the_far_ends_of_a_sheet_take_no_more_memory_than_a_list_may():
    inline = '<row r="%s"><c r="%s" t="inlineStr"><is><t>%s</t></is></c></row>'
    far = with_sheet(inline % (1, "A1", "Name") + inline % (1_048_576, "XFD1048576", "Ada"))
    assert "damaged" in refusal(far)


@pytest.mark.parametrize("part", [SHEET_PART, "xl/sharedStrings.xml", "xl/workbook.xml"])
def test_elements_within_elements_are_refused_at_once(part):
    deep = f'<worksheet xmlns="{NAMESPACE}">' + "<a>" * 3_000_000 + "</a>" * 3_000_000 + "</worksheet>"
    assert "damaged" in refusal(with_part(workbook_of([["Name"], ["Ada"]]), part, deep))


def test_fifty_thousand_rows_are_refused_by_the_limit_of_rows():
    row = "<row>" + '<c t="inlineStr"><is><t>Ada</t></is></c>' * 10 + "</row>"
    content = with_sheet(row * 50_000)
    assert f"{MAX_ROWS} rows" in refusal(content)


def test_a_part_of_more_elements_than_any_table_has_is_refused_before_it_is_built_up():
    texts = f'<sst xmlns="{NAMESPACE}">' + "<si/>" * (xlsx_archive.MAX_OTHER_ELEMENTS + 1) + "</sst>"
    assert "too many cells" in refusal(
        with_part(workbook_of([["Name"], ["Ada"]]), "xl/sharedStrings.xml", texts)
    )


def test_a_protected_or_strangely_packed_archive_is_refused():
    content = workbook_of([["Name"], ["Ada"]])
    protected = bytearray(content)
    protected[content.index(b"PK\x01\x02") + 8] |= 1
    assert "password" in refusal(bytes(protected))
    assert "damaged" in refusal(with_part(content, "xl/more.xml", "<x/>", compress_type=zipfile.ZIP_BZIP2))


def test_a_character_written_as_its_number_is_that_character():
    sheet = read_sheet(workbook_of([["Name"], ["Ada_x000D_ Moss"], ["Zo_x00EB_"]]), "roster.xlsx")
    assert [row.cells[0] for row in sheet.rows] == ["Ada Moss", "Zoë"]
