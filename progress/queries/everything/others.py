"""Which sentences of a copy of everything name another student, and the copy without them."""
import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

from django.db import models
from django.utils.html import escape

from progress.queries.everything.words import Entry
from progress.queries.hanging import Table, rows_about_her
from progress.rules.names import any_of, sentences
from studio.models import Guardian, Student

LEFT_OUT = "[…]"


@dataclass(frozen=True)
class Sentence:
    """One sentence about the student that names somebody else's child, too. `key`: what a form calls it."""

    words: str
    key: str


def sentences_about_others(student: Student) -> tuple[list[Sentence], set[int]]:
    """The sentences, each once, in the order of the tables; and the keys of the students whom they name.

    A given name alone counts, too, unless it is the student's own: whoever hands the copy out looks at each.
    """
    others = list(Student.objects.filter(is_nameless=False).exclude(pk=student.pk))
    own = {student.first_name, student.called, *student.name.split()}
    names = {other.pk: any_of([other.name], {other.first_name, other.called} - own) for other in others}
    of_all = any_of([o.name for o in others], {n for o in others for n in (o.first_name, o.called)} - own)
    found: dict[str, Sentence] = {}
    for text in _typed(student) if of_all else ():
        for words in sentences(text):
            if of_all.search(words):
                found[words] = Sentence(words, hashlib.sha256(words.encode()).hexdigest()[:16])
    named = {pk for pk, name in names.items() if name and any(name.search(words) for words in found)}
    return list(found.values()), named


def _typed(student: Student) -> Iterable[str]:
    """Every text that somebody typed in a row about the student; the family's own names are no others'."""
    for model, rows in rows_about_her(student):
        fields = [
            field.name for field in model._meta.concrete_fields
            if isinstance(field, models.CharField | models.TextField) and not field.choices and not field.unique
        ]
        if model not in (Student, Guardian) and fields:
            yield from (text for row in rows.values_list(*fields) for text in row if text)


def without(left_out: Iterable[Sentence]) -> Callable[[str], str]:
    """Takes these sentences out of a text, or of a page, where their signs are escaped."""
    words = sorted({form for each in left_out for form in (each.words, str(escape(each.words)))}, key=len, reverse=True)

    def cleared(text: str) -> str:
        for each in words:
            text = text.replace(each, LEFT_OUT)
        return text

    return cleared


def cleared_entry(entry: Entry, cleared: Callable[[str], str]) -> Entry:
    return replace(entry, words=cleared(entry.words), lines=tuple(map(cleared, entry.lines)), soft=cleared(entry.soft))


def cleared_table(table: Table, cleared: Callable[[str], str]) -> Table:
    def value(of: Any) -> Any:
        return cleared(of) if isinstance(of, str) else of

    return Table(table.key, tuple({name: value(of) for name, of in row.items()} for row in table.rows))
