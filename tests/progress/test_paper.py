"""What is printed: the same bytes twice, nothing fetched from outside, our letters only, text that can be read.

Checked with poppler's pdffonts, pdfinfo and pdftotext, which know nothing of how the file was made.
"""
import re

import pytest

from progress.actions.standings import rebuild_standings
from progress.apps import can_print
from progress.judging.line_record import read_line
from progress.papers import paper
from tests.progress.read_back import cells, drawings, read
from tests.progress.test_measuring import past_results

PAGE = "<html lang=en><head><title>A page</title></head><body><h1>Łucja Åse</h1><p>−0.4 “ş” ✓</p></body></html>"


RISING = [9, 10, 12, 11, 13, 14, 14, 16, 15, 17]


@pytest.fixture
def measured(cast):
    """Ama's left foot over ten weeks, the right one over three results."""
    past_results(cast, RISING)
    past_results(cast, RISING[:3], side="R")
    rebuild_standings()


def test_the_same_page_gives_the_same_bytes():
    assert paper.pdf(PAGE) == paper.pdf(PAGE)
    assert paper.pdf(PAGE) != paper.pdf(PAGE, size="Letter")


def test_only_our_own_letters_are_in_it_and_they_can_be_read(tmp_path):
    printed = paper.pdf(PAGE)
    names = [row.split()[0] for row in read("pdffonts", printed, tmp_path).splitlines()[2:]]
    assert names and all("Source-Sans-3" in name for name in names)
    words = read("pdftotext", printed, tmp_path)
    assert "Łucja Åse" in words and "−0.4 “ş”" in words


def test_names_from_right_to_left_are_printed_in_our_letters_and_can_be_searched(tmp_path):
    told = "<html lang=en><head><title>A page</title></head><body><h1>%s</h1><p>%s, Ama</p></body></html>"
    printed = paper.pdf(told % ("שרה לוי", "نورة بنت يوسف"))
    names = [row.split()[0] for row in read("pdffonts", printed, tmp_path).splitlines()[2:]]
    assert all(re.search("Source-Sans-3|Noto-Sans-Hebrew|Vazirmatn", name) for name in names)
    # pdftotext wraps what runs from right to left in marks of direction.
    words = re.sub("[\u202a-\u202e]", "", read("pdftotext", printed, tmp_path))
    assert "שרה לוי" in words and "نورة بنت يوسف" in words


def test_it_is_tagged_for_screen_readers_and_names_its_title(tmp_path):
    told = read("pdfinfo", paper.pdf(PAGE), tmp_path)
    assert "Tagged:          yes" in told and "Title:           A page" in told


@pytest.mark.parametrize("address", ["http://127.0.0.1:9/a.svg", "file:///etc/hostname", "../studio/settings.py"])
def test_nothing_is_taken_from_outside_the_house(address):
    with pytest.raises(ValueError, match="takes nothing"):
        paper.OwnFiles().fetch(address if "://" in address else f"{paper._BASE}{address}")


def test_there_are_two_sizes_of_paper(as_teacher, cast):
    with pytest.raises(ValueError, match="no such paper"):
        paper.pdf(PAGE, size="B5")
    assert as_teacher.get(f"/students/{cast.ama.pk}/record/?paper=B5").status_code == 404


def test_the_record_says_what_the_page_says(as_teacher, cast, measured, tmp_path):
    screen = as_teacher.get(f"/students/{cast.ama.pk}/").content.decode()
    printed = as_teacher.get(f"/students/{cast.ama.pk}/record/")
    assert printed["Content-Type"] == "application/pdf" and printed["Cache-Control"] == "no-store, private"
    words = " ".join(read("pdftotext", printed.content, tmp_path).split())
    line = read_line(cast.ama.standings.get(side="L", measure=cast.rises).line)
    low, high = f"{line.level_low80:.0f}", f"{line.level_high80:.0f}"
    assert f"likely {low} to {high}" in screen and f"likely {low} to {high}" in words
    assert "gaining" in words and "too early" in words and "Ama Owiredu" in words
    assert "not say whether a child is ready for pointe" in words


def test_every_cell_of_the_record_is_heard_with_its_measure_and_its_column(as_teacher, cast, measured, tmp_path):
    printed = as_teacher.get(f"/students/{cast.ama.pk}/record/").content
    heard = cells(printed, tmp_path)
    assert [words for words, headers in heard if headers[1:] == ["Foot"]] == ["Left", "Right"]
    assert {headers[0].split(" since")[0] for _words, headers in heard} == {cast.rises.name}
    assert [words for words, headers in heard if headers[-1] == "Verdict"] == ["gaining", "too early"]
    # Five marks beside words are blank; the charts are told in words.
    words = drawings(printed)
    assert all(words) and words.count(" ") == 5 and all(len(each) > 40 for each in words if each != " ")


def test_a_record_without_results_says_so_on_one_page(as_teacher, cast, tmp_path):
    printed = as_teacher.get(f"/students/{cast.bettina.pk}/record/?paper=Letter").content
    assert "Nothing was measured in this term." in read("pdftotext", printed, tmp_path)
    told = read("pdfinfo", printed, tmp_path)
    assert "Pages:           1" in told and "612 x 792" in told


def test_where_the_printer_is_missing_a_page_and_a_check_say_so(as_teacher, cast, monkeypatch):
    assert can_print(None) == []
    monkeypatch.setattr(paper, "MISSING", "no pango")
    answer = as_teacher.get(f"/students/{cast.ama.pk}/record/")
    assert answer.status_code == 503 and "Nothing can be printed" in answer.content.decode()
    assert [warning.id for warning in can_print(None)] == ["progress.W001"]
    with pytest.raises(OSError, match="no pango"):
        paper.pdf(PAGE)
