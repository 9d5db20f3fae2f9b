"""One line of a student, read back from every place that writes it: the numbers are the same everywhere.

PDFs are read with poppler's pdftotext, the workbook with openpyxl; neither knows how the file was made.
"""
import base64
import html
import io
import math
import re

import openpyxl
import pytest
from django.utils import timezone

from progress.actions.papers import reports
from progress.judging.line_record import read_line
from progress.queries.family import family_page
from progress.words.speech import write_level, write_pace
from screening.models import Measure
from studio.templatetags.wording import write_number, write_signed
from tests.conftest import TODAY
from tests.progress.read_back import read
from tests.progress.test_letter import measured  # noqa: F401

WORDS = {"L": "left", "R": "right"}


def last_of_each_line(book: bytes) -> dict[tuple[str, str], float]:
    """By measure and side, what the workbook says was measured last."""
    heads, *lines = openpyxl.load_workbook(io.BytesIO(book))["Data"].iter_rows(values_only=True)
    rows = sorted((dict(zip(heads, line, strict=True)) for line in lines), key=lambda row: row["date"])
    return {(row["measure"], row["side"]): row["value"] for row in rows}


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
        "book": [dict(zip(heads, line, strict=True)) for line in lines], "last": last_of_each_line(book),
        "family": family_page(ama, term, at=timezone.now(), today=TODAY).words.rows,
    }


def test_every_number_of_a_line_is_the_same_wherever_it_is_written(measured, places):  # noqa: F811
    compared, on_sheet = 0, {}
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
        likely = f"{low} to {high}" if low != high else low
        assert f"likely {likely}" in places["screen"] and f"{likely}{unit}" in places["record"]
        assert f"{level}{unit}" in places["record"] and write_pace(line) in places["record"]
        # Class sheet and chart have the last count of each line, as the teacher saw it.
        last = places["last"][str(measure), side]
        on_sheet[str(measure), side] = write_number(last, 1 if measure.kind == "seconds" else 0)
        assert f"{side.capitalize()} {write_number(last, 0 if last == int(last) else 1)}{unit}" in places["screen"]
        [family] = [r for r in places["family"] if r.name == f"{measure.family_name}, {side} foot"]
        assert family.now == level
        assert re.search(rf"{family.name} about {family.then} .*?{family.about} {level}\b", places["letter"])
        compared += 1
    assert compared == 4
    rises, balance = str(measured.rises), str(measured.balance)
    counts = " ".join(on_sheet[measure, side] for measure in (rises, balance) for side in ("left", "right"))
    assert f"Ama Owiredu {counts} " in places["sheet"] and "numbers: the last count" in places["sheet"]


# --- every result: in the workbook, in the screen's drawing, in the figure one may touch, in the one on paper


def drawn_values(svg: str, side: str, *, is_log: bool) -> list[float]:
    """The values at which a drawing has its results, read off its own axis alone: two numbers and their lines."""
    rows = re.search(r'class="chart-stroke-line"[^>]* d="([^"]*)"', svg)[1]
    target = re.search(r'stroke-dasharray="7 5" d="M[\d.]+ ([\d.]+)L', svg)
    lines = [*re.findall(r"M[\d.]+ ([\d.]+)L", rows), *([target[1]] if target else [])]
    texts = re.findall(r'<text class="chart-fill-soft"[^>]* y="([\d.]+)"[^>]* text-anchor="end">(\d+)</text>', svg)
    # A number stands within half its height of its line.
    axis = [(y, float(n)) for text_y, n in texts for y in map(float, lines) if 0 <= float(text_y) - y < 8]
    (y1, low), (y2, high) = axis[0], axis[-1]
    assert low != high
    scale, back = (math.log, math.exp) if is_log else (float, float)
    kind = "chart-ring" if side == "left" else "chart-dot"
    group = re.search(rf'<g class="chart-point {kind}".*?</g>', svg)[0]
    places = sorted((float(x), float(y)) for x, y in re.findall(r'cx="([\d.]+)" cy="([\d.]+)"', group))
    return [back(scale(low) + (y - y1) / (y2 - y1) * (scale(high) - scale(low))) for _x, y in places]


@pytest.mark.parametrize(("key", "is_log"), [("rises", False), ("passe-balance", True)])
def test_every_result_stands_at_its_number_in_each_drawing(as_owner, measured, key, is_log):  # noqa: F811
    ama, measure = measured.ama, Measure.objects.get(key=key)
    book = openpyxl.load_workbook(io.BytesIO(as_owner.get(f"/office/terms/{measured.term.pk}/workbook/").content))
    heads, *lines = book["Data"].iter_rows(values_only=True)
    rows = [dict(zip(heads, line, strict=True)) for line in lines]
    figure = as_owner.get(f"/students/{ama.pk}/charts/{key}/").json()
    issued = reports.issue_report(
        student=ama, term=measured.term, kind="record", size="A4", issued_on=TODAY, by=measured.owner).page
    pictures = [base64.b64decode(uri).decode() for uri in re.findall(r"data:image/svg\+xml;base64,([^\"]*)", issued)]
    screen = re.findall(r'<svg [^>]*class="chart chart-(?:large|small)".*?</svg>', as_owner.get(
        f"/students/{ama.pk}/").content.decode(), re.DOTALL)
    for side in ("left", "right"):
        told = sorted((r["date"], r["value"]) for r in rows if (r["measure"], r["side"]) == (str(measure), side))
        assert len(told) == 11
        [touched] = [t for t in figure["data"] if t.get("meta") == {"side": side[0].upper()}]
        assert [(day[:10], value) for day, value in zip(touched["x"], touched["y"], strict=True)] == [
            (f"{day:%Y-%m-%d}", value) for day, value in told]
        for drawings in (screen, pictures):
            [svg] = [each for each in drawings if f">{measure}</title>" in each]
            assert drawn_values(svg, side, is_log=is_log) == pytest.approx([value for _day, value in told], abs=0.1)
