"""Every part that Risebook runs with has a licence that goes with its own, as the list of parts (CycloneDX) says."""
import json
import re
import subprocess
import sys
from importlib.metadata import distribution
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[1]
# Each may be run beside a program under the MIT licence. The LGPL and MPL ask that their own files stay theirs, which
# a library that is installed unchanged does; of pyphen's three licences the MPL is taken.
FITS = re.compile(
    r"MIT|BSD|Apache|Unlicense|PSF|Python Software Foundation|Python-2.0|MPL|Mozilla|LGPL|Lesser|0BSD|Zlib|CC0",
    re.IGNORECASE,
)
# Its list of words names no licence; the text that comes with it is the MIT licence.
BY_ITS_TEXT = {"pyrage": "The MIT License"}
LISTER = Path(sys.executable).with_name("cyclonedx-py")


def runs_with() -> set[str]:
    lock = (CHECKOUT / "requirements.txt").read_text()
    return {name.lower().replace("_", "-") for name in re.findall(r"^([\w.-]+)==", lock, re.MULTILINE)}


def words_of_licences(component: dict) -> list[str]:
    said = [each.get("expression") or each["license"].get("id") or each["license"]["name"]
            for each in component.get("licenses", ())]
    return [word for words in said for word in re.split(r" (?:AND|OR) ", words)]


def fits_by_its_text(name: str) -> bool:
    return name in BY_ITS_TEXT and distribution(name).read_text("licenses/LICENSE").startswith(BY_ITS_TEXT[name])


@pytest.mark.thorough
def test_the_list_of_parts_names_every_part_and_each_has_a_licence_that_goes_with_ours(tmp_path):
    if not LISTER.exists():
        pytest.skip("cyclonedx-py is not beside this Python")
    subprocess.run([LISTER, "environment", sys.executable, "-o", tmp_path / "parts.json"], check=True, timeout=300)
    listed = json.loads((tmp_path / "parts.json").read_text())
    parts = {each["name"].lower().replace("_", "-"): each for each in listed["components"]}
    # Of these one takes the other's place, by the kind of Python.
    assert runs_with() - set(parts) <= {"brotlicffi", "brotli"}
    unfit = {
        name: words_of_licences(parts[name]) for name in runs_with() & set(parts)
        if not any(FITS.search(word) for word in words_of_licences(parts[name])) and not fits_by_its_text(name)
    }
    assert unfit == {}


def test_the_house_has_a_licence_of_its_own_and_says_which():
    assert (CHECKOUT / "LICENSE").read_text().startswith("MIT License\n")
    assert 'license = "MIT"' in (CHECKOUT / "pyproject.toml").read_text()
