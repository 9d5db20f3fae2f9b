"""The small font of the family's page: every letter it promises, the very shapes it was cut from, another name."""
from fontTools.subset import Subsetter
from fontTools.ttLib import TTFont
from fontTools.varLib.instancer import instantiateVariableFont

from tests.family_font import FONTS, NAME, RESERVED, SMALL, WEIGHTS, WHOLE, letters

# Letters of the demo's names and of the second language.
NAMES = "Sarıgöl Róisín Inés Dilnoza Lucía Maëlle Łukasz Şeyma Žofia Ștefan größer Ångström"


def test_it_has_every_letter_it_was_cut_for():
    there = TTFont(SMALL).getBestCmap()
    whole = TTFont(WHOLE).getBestCmap()
    assert [chr(code) for code in letters() if code in whole and code not in there] == []
    assert [letter for letter in NAMES if ord(letter) not in there] == []


def test_its_figures_are_as_wide_as_those_it_was_cut_from():
    asked = "0123456789−aWß"
    whole, cutter = TTFont(WHOLE), Subsetter()
    # Without the letters that are not asked about: to bring all of them to one weight takes a dozen seconds.
    cutter.populate(text=asked)
    cutter.subset(whole)
    small, whole = TTFont(SMALL), instantiateVariableFont(whole, {"wght": WEIGHTS[0]})
    for letter in asked:
        code = ord(letter)
        assert small["hmtx"][small.getBestCmap()[code]] == whole["hmtx"][whole.getBestCmap()[code]], letter


def test_it_reaches_from_the_light_of_titles_to_the_semibold_of_headings():
    axis = TTFont(SMALL)["fvar"].axes[0]
    assert (axis.minValue, axis.maxValue) == WEIGHTS


def test_it_has_another_name_than_the_reserved_one_and_keeps_its_copyright_and_licence():
    """SIL Open Font Licence 1.1, 3): a modified version may not use the reserved name."""
    names = {record.nameID: str(record) for record in TTFont(SMALL)["name"].names}
    assert names[1] == names[4] == NAME
    assert [text for name_id, text in names.items() if RESERVED in text and name_id != 0] == []
    assert "Reserved Font Name" in names[0] and "Open Font License" in names[13]
    assert (SMALL.parent / "LICENSE.md").read_text() == (FONTS / "source-sans-3-3.052/LICENSE.md").read_text()


def test_it_weighs_a_seventh_of_the_whole():
    assert SMALL.stat().st_size * 7 < WHOLE.stat().st_size
