"""A sentence is chosen by the view or the words, never by a chain of conditions in a template."""
import re

import pytest
from django.conf import settings

TEMPLATES = sorted((settings.BASE_DIR / "templates").rglob("*.html"))
TAG = re.compile(r"{% (if|elif|else|endif)\b.*?%}")
SAYS = re.compile(
    r"(?:<(?:strong|span)[^>]*>)?\s*(?:{% translate\b(?:(?!%}).)*%}|{% blocktranslate\b.*?endblocktranslate %})\s*"
    r"(?:</(?:strong|span)>)?[.,:]?",
    re.DOTALL,
)
ENDS = re.compile(r"\s*{% (?:elif|else|endif)")


def chosen(text: str) -> list[int]:
    """Lines on which conditions begin that choose among three sentences, or among two within a branch of others."""
    found, open_ = [], []
    for tag in TAG.finditer(text):
        if tag[1] == "if":
            open_.append((tag.start(), tag.end(), []))
            continue
        start, from_, says = open_.pop()
        says.append(bool(SAYS.fullmatch(text[from_ : tag.start()].strip())))
        if tag[1] != "endif":
            open_.append((start, tag.end(), says))
            continue
        is_whole_branch = bool(
            open_ and not text[open_[-1][1] : start].strip() and ENDS.match(text, tag.end())
        )
        if sum(says) >= 3 or (says == [True, True] and is_whole_branch):
            found.append(text[:start].count("\n") + 1)
    return found


def test_no_template_chooses_a_sentence_by_a_chain_of_conditions():
    found = {path.name: lines for path in TEMPLATES if (lines := chosen(path.read_text()))}
    assert found == {}


@pytest.mark.parametrize("text, lines", [
    ('{% if a %}{% translate "Yes" %}{% elif b %}{% translate "No" %}{% else %}{% translate "Open" %}{% endif %}', [1]),
    ('{% if a %}\n{% if b %}{% translate "Yes" %}{% else %}{% translate "No" %}{% endif %}\n{% endif %}', [2]),
    ('{% if a %}{% translate "Yes" %}{% else %}{% translate "No" %}{% endif %}', []),
    ('{% if a %}<p>{{ words }}</p>{% elif b %}{{ other }}{% else %}{% translate "Open" %}{% endif %}', []),
])
def test_the_search_for_chosen_sentences_finds_them(text, lines):
    assert chosen(text) == lines
