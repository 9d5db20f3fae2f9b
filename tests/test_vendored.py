"""Whether vendored files are the versions their names say, licensed, and enough for the text we write."""
from pathlib import Path

import plotly.offline
import pytest
from fontTools.ttLib import TTFont

STATIC = Path(__file__).resolve().parents[1] / "static"
FONTS = sorted((STATIC / "fonts").glob("*sans-[1-3]*/*.[tw]*f*"))
# Arrows, ticks, comparison and list signs of the pages and reports, and letters of European names.
SIGNS = "→←↑↓✓×±−–—…·≥≤≈½°′″“”‘’€£" "ñçşğıİłđøåæœßžčřůőűțșāšēįųõÞðŁ"


def test_the_chart_library_is_the_one_the_figures_are_checked_against():
    version = plotly.offline.get_plotlyjs_version()
    script = STATIC / f"js/vendor/plotly-basic-{version}.min.js"
    assert f"plotly.js (basic - minified) v{version}\n" in script.read_text()[:200]
    assert (STATIC / f"css/vendor/plotly-basic-{version}.css").exists()


def test_htmx_is_the_version_in_its_name():
    [script] = (STATIC / "js/vendor").glob("htmx-*.min.js")
    version = script.name.removeprefix("htmx-").removesuffix(".min.js")
    assert f'version:"{version}"' in script.read_text()


@pytest.mark.parametrize("folder", ["js/vendor", "css/vendor"])
def test_every_vendored_file_has_its_licence_beside_it(folder):
    names = {path.name for path in (STATIC / folder).iterdir()}
    licensed = {name.removesuffix(".LICENSE.txt") for name in names if name.endswith(".LICENSE.txt")}
    stems = {name.removesuffix(".js").removesuffix(".css").removesuffix(".min") for name in names}
    assert licensed and licensed == {stem for stem in stems if not stem.endswith("LICENSE.txt")}


@pytest.mark.parametrize("path", FONTS, ids=lambda path: path.name)
def test_a_font_has_every_sign_we_write_and_figures_of_one_width(path):
    font = TTFont(path)
    letters = font.getBestCmap()
    assert [sign for sign in SIGNS if ord(sign) not in letters] == []
    assert len({font["hmtx"][letters[ord(sign)]][0] for sign in "0123456789−"}) == 1


@pytest.mark.parametrize("sheet", ["fonts.css", "fonts-print.css"])
def test_a_font_sheet_names_only_files_that_are_there(sheet):
    urls = [part.split('"')[0] for part in (STATIC / "css" / sheet).read_text().split('url("')[1:]]
    assert urls
    assert [url for url in urls if not (STATIC / "css" / url).is_file()] == []
    assert (STATIC / "fonts/source-sans-3-3.052/LICENSE.md").read_text().count("SIL OPEN FONT LICENSE") >= 1
    assert all((path.parent / "LICENSE.md").is_file() for path in (STATIC / "fonts").glob("*/*.[tw]*f*"))


@pytest.mark.parametrize(("family", "letters"), [
    ("noto-sans-hebrew", "אבגדהוזחטיכלמנסעפצקרשתךםןףץ"), ("vazirmatn", "ابتثجحخدذرزسشصضطظعغفقكلمنهويةىءآأإئؤپچژگ"),
])
def test_a_font_of_another_script_has_its_letters_in_both_weights(family, letters):
    [folder] = (STATIC / "fonts").glob(f"{family}-*")
    files = sorted(folder.glob("*.ttf"))
    assert [path.stem.split("-")[1] for path in files] == ["Regular", "SemiBold"]
    for path in files:
        font = TTFont(path)
        assert [letter for letter in letters if ord(letter) not in font.getBestCmap()] == []
        assert font["name"].getDebugName(5).removeprefix("Version ") == folder.name.rsplit("-", 1)[1]
