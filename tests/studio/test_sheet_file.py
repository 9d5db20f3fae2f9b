"""Text files into tables: encodings, delimiters, quotation marks, and what must be refused kindly."""

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.roster_file import heading_score
from studio.sheet_file import (
    MAX_BYTES,
    MAX_CELL_CHARS,
    MAX_COLUMNS,
    MAX_ROWS,
    CellTrouble,
    UnreadableFile,
    read_sheet,
)
from studio.sheets.cells import clean_cell

NAMES = "Zoë Moss", "Jürgen Weiß", "Inés Peña", "Chloé Lefèvre"


def csv_bytes(rows, delimiter=",", encoding="utf-8", line_end="\r\n"):
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=delimiter, lineterminator=line_end).writerows(rows)
    return text.getvalue().encode(encoding)


def cells_of(content, filename="roster.csv", **how):
    return [row.cells for row in read_sheet(content, filename, **how).rows]


def refusal(content, filename="roster.csv"):
    with pytest.raises(UnreadableFile) as caught:
        read_sheet(content, filename)
    return str(caught.value)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize(
    ("encoding", "found"),
    [
        ("utf-8", "utf-8"),
        ("utf-8-sig", "utf-8-sig"),
        ("cp1252", "windows-1252"),
        ("utf-16", "utf-16"),
    ],
)
def test_the_same_table_comes_out_of_every_delimiter_and_encoding(delimiter, encoding, found):
    rows = [["Name", "Born"], *([name, "25.03.2014"] for name in NAMES)]
    sheet = read_sheet(csv_bytes(rows, delimiter, encoding), "roster.csv")
    assert (sheet.headings, sheet.delimiter, sheet.encoding) == (("Name", "Born"), delimiter, found)
    assert [row.cells[0] for row in sheet.rows] == list(NAMES)


def test_utf_16_with_its_bytes_the_other_way_round_is_read():
    content = b"\xfe\xff" + "Name;Born\nZoë;2014-03-25".encode("utf-16-be")
    assert cells_of(content) == [("Zoë", "2014-03-25")]


def test_decimal_commas_and_names_with_commas_do_not_hide_the_semicolons():
    content = b"Name;Value\nMoss, Ada;4,5\nMoss, Eva;3,5\n"
    assert cells_of(content) == [("Moss, Ada", "4,5"), ("Moss, Eva", "3,5")]


def test_a_file_of_one_column_is_not_cut_at_the_comma_inside_the_names():
    sheet = read_sheet(b"Name\nMoss, Ada\nLi, Ben\n", "roster.csv", heading_score=heading_score)
    assert [row.cells for row in sheet.rows] == [("Moss, Ada",), ("Li, Ben",)]
    assert sheet.delimiter == ""


def test_a_line_that_names_the_delimiter_is_obeyed_and_is_no_row():
    sheet = read_sheet(b"sep=;\r\nName;Born\r\nAda;2014-03-25\r\n", "roster.csv")
    assert (sheet.headings, sheet.rows[0].number) == (("Name", "Born"), 2)


def test_blank_lines_are_left_out_and_still_counted():
    sheet = read_sheet(b"Name,Born\r\n\r\nAda,2014-03-25\r\n , \r\nBen,2013-01-02\r\n", "roster.csv")
    assert [(row.number, row.cells[0]) for row in sheet.rows] == [(3, "Ada"), (5, "Ben")]


def test_a_quoted_line_break_becomes_a_space_and_starts_no_row():
    sheet = read_sheet(b'Name,Note\n"Ada\r\nMoss","says ""hello"""\nBen,x\n', "roster.csv")
    assert [(row.number, row.cells) for row in sheet.rows] == [
        (2, ("Ada Moss", 'says "hello"')),
        (3, ("Ben", "x")),
    ]


def test_old_line_ends_of_a_carriage_return_alone_are_read():
    assert cells_of(b"Name,Born\rAda,2014-03-25\r") == [("Ada", "2014-03-25")]


def test_a_title_above_the_headings_is_passed_over():
    content = b"Autumn term;all classes;\nprinted 3 September;;\nStudent;DOB;Level\nAda;2014-03-25;A\n"
    sheet = read_sheet(content, "roster.csv", heading_score=heading_score)
    assert (sheet.headings, sheet.rows[0].number) == (("Student", "DOB", "Level"), 4)


def test_without_known_headings_a_title_alone_on_its_line_is_passed_over():
    assert read_sheet(b"Autumn term\nFoo,Bar\n1,2\n", "x.csv").headings == ("Foo", "Bar")


def test_a_row_with_a_stray_comma_is_marked_and_a_short_row_is_filled_up():
    rows = read_sheet(b"Name,Born\nMoss, Ada,2014-03-25\nBen\nCem,2013-01-02,,\n", "roster.csv").rows
    assert rows[0].troubles == (CellTrouble(2, "extra"),)
    assert rows[1].cells == ("Ben", "")
    assert rows[2].troubles == ()


def test_a_formula_in_a_text_file_is_marked():
    row = read_sheet(b'Name,Born\n"=HYPERLINK(""x"")",2014-03-25\n', "roster.csv").rows[0]
    assert row.troubles == (CellTrouble(0, "formula"),)


def test_a_very_long_cell_is_cut_and_marked_and_its_row_stays():
    row = read_sheet(f"Name,Note\nAda,{'x' * 5000}\n".encode(), "roster.csv").rows[0]
    assert (len(row.cells[1]), row.troubles) == (MAX_CELL_CHARS, (CellTrouble(1, "too_long"),))


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("  Ada\u00a0 Moss \t", "Ada Moss"),
        ("Ada\x07 Mo\x00ss\x9f", "Ada Moss"),
        ("\u202eAda\u202c", "Ada"),
        ("\u200fנועה לוי\u200e", "נועה לוי"),
        ("مریم\u200cسادات", "مریم\u200cسادات"),
        ("Zoe\u0308", "Zoë"),
        ("A\u200bda\ufeff", "Ada"),
        ("one\r\ntwo\u2028three", "one two three"),
    ],
)
def test_invisible_characters_go_and_letters_of_every_script_stay(typed, kept):
    assert clean_cell(typed) == kept


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf \r\n ,,, \n", "empty"),
        (b"Name,Born\n", "no rows below"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "protected or damaged"),
        (b"Name,Born\n" + b"Ada,2014-03-25\n" * 50 + b"B\x00en,x\n", "not a table we can read"),
        (b"%PDF-1.7\n...", "not a table"),
        (b"<html><table><tr><td>Name</td></tr></table></html>", "not a table"),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 4, "not a table we can read"),
        ("Name;Born\nAda;2014".encode("utf-16-le"), "not a table we can read"),
        (b'Name,Born\nAda,2014-03-25\n"Ben,2013-01-02\nCem,2012-01-02\n', "row 3 is never closed"),
    ],
)
def test_what_is_no_table_is_refused_with_its_reason(content, words):
    assert words in refusal(content)


def test_too_many_rows_columns_or_bytes_name_their_limit():
    assert f"{MAX_ROWS}" in refusal(b"Name,Born\n" + b"Ada,2014-03-25\n" * (MAX_ROWS + 1))
    assert f"{MAX_COLUMNS}" in refusal(b",".join([b"x"] * (MAX_COLUMNS + 1)) + b"\n1,2\n")
    assert f"{MAX_BYTES // 1_000_000} MB" in refusal(b"Name,Born\n" + b"x" * MAX_BYTES)


def test_a_file_exactly_at_the_limit_of_rows_is_read():
    assert len(read_sheet(b"Name,Born\n" + b"Ada,2014-03-25\n" * MAX_ROWS, "roster.csv").rows) == MAX_ROWS


def test_an_error_can_be_told_in_another_language():
    english = "The file has more than %(limit)s rows. Please split it into smaller files."
    german = {english: "Mehr als %(limit)s Zeilen."}
    with pytest.raises(UnreadableFile) as caught:
        read_sheet(b"Name,Born\n" + b"Ada,2014-03-25\n" * (MAX_ROWS + 1), "roster.csv")
    assert caught.value.text(german.__getitem__) == f"Mehr als {MAX_ROWS} Zeilen."


def test_large_files_are_read_or_refused_by_what_is_too_much():
    row = "Ada Moss,2014-03-25,Foundation,2020,2,left,Jo Moss,jo@example.org,020 7946 0000,Tuesday\n"
    full = (
        "name,born,stage,since,classes per week,foot,guardian,email,phone,class\n" + row * MAX_ROWS
    ).encode()
    assert len(read_sheet(full, "roster.csv").rows) == MAX_ROWS
    assert "rows" in refusal(full + row.encode() * 48_000)
    assert "MB" in refusal(full * 60)
    assert "rows" in refusal(b"a,b\n" * 1_200_000)


@given(st.binary(max_size=400))
@settings(max_examples=400, deadline=None)
def test_bytes_of_any_kind_give_a_table_or_the_one_error(content):
    try:
        sheet = read_sheet(content, "roster.csv", heading_score=heading_score)
    except UnreadableFile as error:
        assert str(error)
    else:
        assert all(len(row.cells) == len(sheet.headings) for row in sheet.rows)


@given(
    st.text(st.sampled_from(',;\t|"\n\r =Aé1\x00\x1a\u202e'), max_size=80),
    st.sampled_from(["utf-8", "utf-16"]),
)
@settings(max_examples=400, deadline=None)
def test_any_mix_of_delimiters_and_quotation_marks_gives_a_table_or_the_one_error(text, encoding):
    test_bytes_of_any_kind_give_a_table_or_the_one_error.hypothesis.inner_test(text.encode(encoding))


words = (
    st.text(st.sampled_from("abcdXYZéüñßŒ ,;'\"-.0123456789"), min_size=1, max_size=12)
    .map(clean_cell)
    .filter(bool)
)


@given(
    st.integers(2, 5).flatmap(
        lambda n: st.lists(st.lists(words, min_size=n, max_size=n), min_size=1, max_size=8)
    ),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from(["utf-8", "utf-8-sig", "cp1252", "utf-16"]),
)
@settings(max_examples=300, deadline=None)
def test_what_was_written_is_read_again(rows, delimiter, encoding):
    headings = ["Student", "DOB", "Level", "Class", "Phone"][: len(rows[0])]
    sheet = read_sheet(
        csv_bytes([headings, *rows], delimiter, encoding), "r.csv", heading_score=heading_score
    )
    assert (list(sheet.headings), sheet.delimiter) == (headings, delimiter)
    assert [list(row.cells) for row in sheet.rows] == rows
