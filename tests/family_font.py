"""Cuts the small font of the family's page out of the vendored one: `python -m tests.family_font`.

A phone on a slow line should not wait for 170 kB. The licence (SIL OFL 1.1) asks a changed font to have another
name than the original's reserved one, so it is called Risebook Sans; whatever it lacks comes from the whole font.
"""
import io
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont
from fontTools.varLib import instancer

FONTS = Path(__file__).resolve().parents[1] / "static" / "fonts"
WHOLE = FONTS / "source-sans-3-3.052" / "SourceSans3VF-Upright.ttf.woff2"
SMALL = FONTS / "risebook-sans-1" / "RisebookSans.woff2"
NAME, RESERVED = "Risebook Sans", "Source"
# Western and Central European letters (Latin-1, Latin Extended-A, Romanian and the large sharp s) and our signs.
RANGES = ((0x20, 0x7E), (0xA0, 0x17F), (0x218, 0x21B), (0x1E9E, 0x1E9E))
SIGNS = "→←↑↓✓−–—…≥≤≈′″“”„‘’‚€"
# From the light of the titles to the semibold of the headings.
WEIGHTS = (300, 600)


def letters() -> list[int]:
    return [code for low, high in RANGES for code in range(low, high + 1)] + [ord(sign) for sign in SIGNS]


def cut() -> bytes:
    font = instancer.instantiateVariableFont(TTFont(WHOLE), {"wght": WEIGHTS})
    font.flavor = None
    plain = io.BytesIO()
    font.save(plain)
    font = TTFont(plain)
    options = subset.Options(layout_features=["kern"], hinting=False, name_IDs=[0, 1, 2, 3, 4, 5, 6, 13, 14])
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=letters())
    cutter.subset(font)
    _rename(font)
    font.flavor = "woff2"
    small = io.BytesIO()
    font.save(small)
    return small.getvalue()


def _rename(font: TTFont) -> None:
    """The copyright line (0), the licence (13, 14) and the version (5) stay as they are."""
    font["fvar"].instances = []
    font["fvar"].axes[0].axisNameID = 256
    del font["STAT"]
    names = font["name"]
    names.names = [record for record in names.names if record.nameID in (0, 5, 13, 14)]
    for name_id, text in ((1, NAME), (2, "Regular"), (3, NAME), (4, NAME), (6, NAME.replace(" ", "")), (256, "Weight")):
        names.setName(text, name_id, 3, 1, 0x409)


if __name__ == "__main__":
    SMALL.write_bytes(cut())
    print(SMALL.name, SMALL.stat().st_size)
