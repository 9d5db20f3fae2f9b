"""One line of a student, read back from every place that writes it: the numbers are the same everywhere.

PDFs are read with poppler's pdftotext, the workbook with openpyxl; neither knows how the file was made.
"""
import html
import io
import re

import openpyxl
import pytest
from django.utils import timezone

from progress.papers.line_record import read_line
from progress.queries.family import family_page
from progress.speech import write_level, write_pace
from studio.templatetags.wording import write_number, write_signed
from tests.conftest import TODAY
from tests.progress.test_letter import measured  # noqa: F401
from tests.progress.test_paper import read

WORDS = {"L": "left", "R": "right"}


@pytest.fixture
def places(as_owner, measured, tmp_path):  # noqa: F811
    """Everything that is written of Ama, as text by place; the workbook as its lines."""
    ama, term = measured.ama, measured.term

    def pdf(path):
        return " ".join(read("pdftotext", as_owner.get(path).content, tmp_path).split())

    book = as_owner.get(f"/office/terms/{term.pk}/workbook/").content
    heads, *lines = openpyxl.load_workbook(io.BytesIO(book))["Pre-pointe A"].iter_rows(values_only=True)
    page = html.unescape(re.sub(r"<[^>]*>", " ", as_owner.get(f"/students/{ama.pk}/").content.decode()))
    return {
        "screen": " ".join(page.split()), "record": pdf(f"/students/{ama.pk}/record/"),
        "letter": pdf(f"/students/{ama.pk}/letter/print/"), "sheet": pdf(f"/classes/{measured.class_group.pk}/print/"),
        "book": [dict(zip(heads, line, strict=True)) for line in lines],
        "family": family_page(ama, term, at=timezone.now(), today=TODAY).words.rows,
    }


def test_every_number_of_a_line_is_the_same_wherever_it_is_written(measured, places):  # noqa: F811
    compared = 0
    for standing in measured.ama.standings.select_related("measure"):
        line, measure = read_line(standing.line), standing.measure
        level = write_level(line.level, measure)
        low, high = (write_level(limit, measure) for limit in (line.level_low80, line.level_high80))
        side = WORDS[standing.side]
        [row] = [r for r in places["book"] if (r["measure"], r["side"]) == (str(measure), side)]
        told = [write_number(row[head]) for head in ("level", "likely from", "likely to")]
        assert told == [level, low, high]
        assert write_pace(line).startswith(write_signed(row["a week"], 0 if line.scale == "hold" else 1))
        unit = f" {measure.unit}" if measure.kind == "seconds" else ""
        assert f"{side.capitalize()} {level}" in places["screen"]
        likely = f"{low} to {high}" if low != high else low
        assert f"likely {likely}" in places["screen"] and f"{likely}{unit}" in places["record"]
        assert f"{level}{unit}" in places["record"] and write_pace(line) in places["record"]
        assert f"{row['verdict']} {level}" in places["sheet"]
        [family] = [r for r in places["family"] if r.name == f"{measure.family_name}, {side} foot"]
        assert family.now == level
        assert re.search(rf"{family.name} about {family.then} .*?{family.about} {level}\b", places["letter"])
        compared += 1
    assert compared == 4
