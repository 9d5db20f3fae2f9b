"""The German catalogue: nothing is missing, nothing is left over, places and plurals are right, compiled as written."""
import re

from django.utils import translation
from django.utils.translation import gettext, ngettext, pgettext

from tests import words

PLACE = re.compile(r"%\((\w+)\)s|%%")


def strings(message) -> tuple[str, ...]:
    return message.string if isinstance(message.string, tuple) else (message.string or "",)


def ids(message) -> tuple[str, ...]:
    return message.id if isinstance(message.id, tuple) else (message.id,)


def test_every_word_a_family_may_read_is_in_the_catalogue_and_no_other():
    there = {(message.context, message.id) for message in words.catalogue() if message.id}
    assert there == words.wanted()


def test_no_word_is_untranslated():
    lacking = [message.id for message in words.catalogue() if message.id and not all(strings(message))]
    assert lacking == []


def test_every_place_of_a_sentence_is_in_its_translation():
    wrong = [
        message.id for message in words.catalogue() if message.id
        for msgid, text in zip(ids(message), strings(message), strict=True)
        if sorted(PLACE.findall(text)) != sorted(PLACE.findall(msgid))
    ]
    assert wrong == []


def test_the_compiled_catalogue_is_the_one_that_is_written():
    assert words.MO.read_bytes() == words.compiled(words.catalogue())


def test_one_and_many_are_told_apart():
    sentence = "%(name)s came to %(came)s of %(held)s class.", "%(name)s came to %(came)s of %(held)s classes."
    with translation.override("de"):
        told = [ngettext(*sentence, held) % {"name": "Ama", "came": 1, "held": held} for held in (1, 2, 0)]
    assert told == ["Ama war in 1 von 1 Stunde da.", "Ama war in 1 von 2 Stunden da.", "Ama war in 1 von 0 Stunden da."]


def test_a_word_with_two_meanings_is_translated_by_its_context():
    with translation.override("de"):
        assert (pgettext("foot", "left"), gettext("back"), gettext("Back")) == ("links", "Rücken", "Zurück")


def test_the_search_for_words_finds_those_of_templates_and_of_code():
    wanted = words.wanted()
    assert (None, "When to stop") in wanted
    assert (None, "Your children") in wanted
    assert any(isinstance(msgid, tuple) and "after leaving" in msgid[0] for _context, msgid in wanted)
