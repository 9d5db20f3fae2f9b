"""The words that families read, and the catalogue of their translation: `python -m tests.words` brings both up to date.

It collects every msgid of the families' pages, adds the new ones to locale/de/LC_MESSAGES/django.po, drops those
that are gone, and writes the compiled catalogue beside it, so that nobody needs the gettext tools.
"""
import datetime as dt
import io
import json
import re
from pathlib import Path

from babel.messages import Catalog
from babel.messages.extract import extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from django.utils.translation.template import templatize

from progress.drawing.body.poses import POSES
from progress.rules.pain import FEELS, SIGNS, SINCE, STOPPED, WORD_SIGNS
from progress.rules.pointe_points import POINTS
from progress.words.family import AT_HOME

CHECKOUT = Path(__file__).resolve().parents[1]
PO = CHECKOUT / "locale" / "de" / "LC_MESSAGES" / "django.po"
MO = PO.with_suffix(".mo")
# One day for every catalogue, so that writing it again changes nothing but words.
WRITTEN = dt.datetime(2026, 1, 1, tzinfo=dt.UTC)
# Every file a word of which may come before a family, on a page, a card, a form or in a mail.
FILES = (
    "progress/words/family.py", "progress/words/family_pain.py", "progress/words/family_strands.py",
    "progress/rules/feet.py", "progress/rules/resting.py",
    "progress/queries/family.py",
    "studio/family/actions.py", "studio/family/cards.py", "studio/family/forms.py", "studio/family/mail.py",
    "studio/family/models.py", "studio/audit/models.py", "studio/audit/queries.py", "studio/audit/page_words.py",
    "progress/urls.py", "studio/urls.py",
    "progress/models/pain.py", "progress/models/follow_ups.py", "progress/models/reports.py",
    "progress/models/pointe_weeks.py", "progress/models/reviews.py", "templates/progress/paper/review_sheet.html",
    "templates/progress/paper/review_letter.html", "progress/models/class_log.py",
    "progress/rules/dose.py", "progress/words/speech.py", "progress/queries/pain.py",
    *sorted(str(path.relative_to(CHECKOUT)) for path in (CHECKOUT / "progress/queries/everything").glob("*.py")),
    "screening/wording.py", "templates/progress/paper/everything.html",
    "templates/studio/_consent_form.html", "templates/studio/_error_summary.html",
    "templates/studio/_field.html", "studio/field_words.py", "templates/studio/cards.html",
    "templates/progress/paper/letter.html",
    *sorted(str(path.relative_to(CHECKOUT)) for path in (CHECKOUT / "templates" / "family").glob("*.html")),
)
# Out of files whose other words no family reads: a day without a name, why nothing was measured, the foot of a paper.
OF_CHOICES = (
    "Screening", "absent", "declined", "pain", "not today", "taken back", "Printed %(day)s",
    "Printed %(day)s; replaces the one of %(earlier)s",
)
STRING = r"u?(?:'(?:[^'\\]|\\.)*'|\"\"\".*?\"\"\"|\"(?:[^\"\\]|\\.)*\")"
CALL = re.compile(rf"\b(?:n?p?gettext|_)\((?:{STRING}|[^()'\"])*\)", re.DOTALL)
CALLS = {
    "_": None, "say": None, "gettext": None, "gettext_noop": None, "gettext_lazy": None, "ngettext": (1, 2),
    "pgettext": ((1, "c"), 2), "pgettext_lazy": ((1, "c"), 2), "npgettext": ((1, "c"), 2, 3),
}


def wanted() -> set[tuple[str | None, str | tuple[str, str]]]:
    """(context, msgid) of everything a family may read; of a plural both of its English forms."""
    found = set()
    for name in FILES:
        text = (CHECKOUT / name).read_text(encoding="utf-8")
        code = _as_calls(text) if name.endswith(".html") else text
        for _line, message, _comments, context in extract("python", io.BytesIO(code.encode()), CALLS):
            found.add((context, message))
    pain = {(None, words) for _key, words in (*FEELS, *SIGNS, *WORD_SIGNS, *SINCE, *STOPPED)}
    drawn = {(None, POSES[key].says) for key in AT_HOME if key}
    points = {(None, words) for point in POINTS for words in (point.title, point.at_home)}
    return found | points | {(None, word) for word in (*_of_the_catalogue(), *OF_CHOICES)} | pain | drawn


def _as_calls(template: str) -> str:
    """A template's words as calls, one a line; what Django writes between them is no Python."""
    return "\n".join(CALL.findall(templatize(template)))


def _of_the_catalogue() -> set[str]:
    """What the catalogue says to families, on their page and in a copy; and the line that is written from a number."""
    measures = _rows("measures.json", "measures")
    words = {row[name] for row in measures for name in ("name", "family_name", "practice", "unit") if row[name]}
    protocols = [row["protocol"] for row in measures]
    words |= {each["short_name"] for each in protocols}
    words |= {grade for each in protocols for grade, _anchor in each.get("grades", [])}
    words |= {row["name"] for kind in ("exercises", "ladders") for row in _rows("exercises.json", kind)}
    words |= {row["words"] for file in ("return_ladder", "pointe_ladder") for row in _rows(f"{file}.json", "steps")}
    return words | {"%(n)s of 10"}


def _rows(file: str, kind: str) -> list[dict]:
    return json.loads((CHECKOUT / "fixtures" / file).read_text(encoding="utf-8"))[kind]


def catalogue() -> Catalog:
    with PO.open("rb") as file:
        return read_po(file, locale="de")


def compiled(words: Catalog) -> bytes:
    out = io.BytesIO()
    write_mo(out, words)
    return out.getvalue()


def refresh() -> None:
    old = catalogue() if PO.exists() else Catalog(locale="de")
    new = Catalog(
        locale="de", project="Risebook", version="1", charset="utf-8", fuzzy=False, msgid_bugs_address="",
        last_translator="Risebook", language_team="de", creation_date=WRITTEN, revision_date=WRITTEN,
    )
    new.header_comment = "# German for what families read. Written and kept with `python -m tests.words`."
    for context, msgid in sorted(wanted(), key=lambda each: (str(each[1]), each[0] or "")):
        known = old.get(msgid[0] if isinstance(msgid, tuple) else msgid, context)
        new.add(msgid, known.string if known else None, context=context)
    PO.parent.mkdir(parents=True, exist_ok=True)
    with PO.open("wb") as file:
        write_po(file, new, omit_header=False, width=110)
    MO.write_bytes(compiled(catalogue()))
    print(f"{sum(1 for message in new if message.id and not any(_strings(message)))} of {len(new)} still to translate")


def _strings(message) -> tuple[str, ...]:
    return message.string if isinstance(message.string, tuple) else (message.string or "",)


if __name__ == "__main__":
    refresh()
