"""The version is one, wherever it is read: by the program, the packaging, the changelog and the terminal."""
import re
import subprocess
import tomllib
from pathlib import Path

from studio.version import VERSION

CHECKOUT = Path(__file__).resolve().parents[1]


def test_the_version_is_one():
    project = tomllib.loads((CHECKOUT / "pyproject.toml").read_text())["project"]
    newest = re.search(r"^## (\S+)$", (CHECKOUT / "CHANGELOG.md").read_text(), re.MULTILINE)[1]
    said = subprocess.run(["bash", "risebook", "--version"], cwd=CHECKOUT, capture_output=True, text=True, check=True)
    assert {project["version"], newest, said.stdout.removeprefix("Risebook ").strip()} == {VERSION}
