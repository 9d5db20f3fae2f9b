"""The scripts of the pages: their linter, and their own tests by node's runner (the node that Playwright brings)."""
import os
import re
import subprocess
import sys
from pathlib import Path

from playwright._impl._driver import compute_driver_executable

CHECKOUT = Path(__file__).resolve().parents[1]


def test_the_scripts_keep_the_rules_of_the_linter():
    linter = Path(sys.executable).with_name("oxlint")
    said = subprocess.run([linter, "static/js", "tests/script"], cwd=CHECKOUT, capture_output=True, text=True)
    assert said.returncode == 0, said.stdout


def test_the_tests_of_the_scripts_pass():
    node, _cli = compute_driver_executable()
    tests = sorted(CHECKOUT.glob("tests/script/*.test.mjs"))
    said = subprocess.run([node, "--test", *tests], cwd=CHECKOUT, capture_output=True, text=True)
    assert tests and said.returncode == 0, said.stdout + said.stderr


def test_every_import_of_a_collected_module_names_the_file_by_its_contents(tmp_path):
    """A kept page asks for the module that it was drawn with, also where one module asks for another."""
    settings = {**os.environ, "RISEBOOK_VAR_DIR": str(tmp_path), "RISEBOOK_STATIC_MANIFEST": "yes"}
    words = [sys.executable, "manage.py", "collectstatic", "--noinput"]
    subprocess.run(words, cwd=CHECKOUT, env=settings, capture_output=True, check=True)
    folder = tmp_path / "static" / "js"
    named = [path for path in folder.rglob("*.js") if re.search(r"\.[0-9a-f]{12}\.js$", path.name)]
    asked = [
        (path, found) for path in named if path.parent.name != "vendor"
        for found in re.findall(r'^import .*?"(\..*?)";$', path.read_text(), re.MULTILINE)
    ]
    assert len(asked) > 40
    assert [(path.name, found) for path, found in asked if (path.parent / found).resolve() not in named] == []
