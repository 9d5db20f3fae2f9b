"""The developers' notes name no test that is not there."""
import ast
import re
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[1]


def test_every_test_that_the_notes_name_is_there():
    notes = [CHECKOUT / "DEVELOPERS.md", CHECKOUT / "tests" / "COMPLIANCE.md"]
    named = {name for path in notes for name in re.findall(r"`(test_\w+)`", path.read_text(encoding="utf-8"))}
    there = {
        node.name for path in (CHECKOUT / "tests").rglob("test_*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.FunctionDef)
    }
    assert len(named) > 40
    assert named - there == set()
