"""Everything that is kept about one student as a reader wants it: in the studio's words, by what it is about.

Each kind of row has a writer here or in its neighbours; one that has none yet is written by its columns, so that
nothing is ever left out of a copy.
"""
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.db import models
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from progress.queries.everything import classes, person, reviews, seen
from progress.queries.everything.words import Entry
from progress.queries.hanging import cells, rows_about_her
from studio.models import Student


@dataclass(frozen=True)
class Section:
    """One heading with what stands under it; one without entries is not there."""

    heading: str
    entries: tuple[Entry, ...]


# Heading, then the kinds of rows that are told under it and who tells them, all of a kind at once.
Writer = Callable[[list], Iterable[Entry]]
SECTIONS: tuple[tuple[str, tuple[tuple[str, Writer], ...]], ...] = (
    (gettext_noop("Who the student is"), (("student", person.particulars),)),
    (gettext_noop("The family"), (("guardian", person.guardians),)),
    (gettext_noop("What the family agreed to"), (("consent", person.consents),)),
    (gettext_noop("Classes and stages"), (
        ("enrolment", person.enrolments), ("stagechange", person.stages),
    )),
    (gettext_noop("What was measured"), (("result", seen.results),)),
    (gettext_noop("What the results said"), (
        ("standing", seen.standings), ("termstanding", seen.standings),
        ("carriedover", seen.carried_over),
    )),
    (gettext_noop("Growth"), (("height", person.heights),)),
    (gettext_noop("What hurt"), (
        ("painreport", seen.pain_reports), ("painanswer", seen.pain_answers),
        ("returnstep", seen.return_steps), ("hometold", seen.home_told),
    )),
    (gettext_noop("Follow-ups"), (
        ("followup", seen.follow_ups), ("followupnote", seen.follow_up_notes),
    )),
    (gettext_noop("Pointe work: reviews and first weeks"), (
        ("review", reviews.reviews), ("pointseen", reviews.points_seen), ("decision", reviews.decisions),
        ("pointestep", reviews.pointe_steps), ("pointetime", reviews.pointe_times),
    )),
    (gettext_noop("What was done in class"), (
        ("attendance", classes.attendance), ("logentry", classes.log_entries),
    )),
    (gettext_noop("Exercises of the student’s own"), (("programmeentry", classes.programme),)),
    (gettext_noop("Letters and reports"), (
        ("lettertext", classes.letters), ("handovertext", classes.handed_over),
        ("issuedreport", classes.issued_reports),
        ("runsheet", classes.run_sheets),
    )),
    (gettext_noop("Who saw it"), (("auditrow", seen.who_saw),)),
)


def everything_in_words(student: Student) -> list[Section]:
    """The sections that have something in them, in the active language, days in order."""
    rows = {model._meta.model_name: list(found) for model, found in rows_about_her(student)}
    made = []
    for heading, writers in SECTIONS:
        entries = [entry for kind, write in writers for entry in write(rows.pop(kind, []))]
        made.append(Section(_(heading), tuple(sorted(entries, key=lambda entry: entry.at))))
    for found in rows.values():
        made.append(Section(capfirst(str(found[0]._meta.verbose_name_plural)) if found else "", _plain(found, student)))
    return [section for section in made if section.entries]


def _plain(rows: list[models.Model], student: Student) -> tuple[Entry, ...]:
    return tuple(
        Entry(words="; ".join(f"{name}: {value}" for name, value in cells(row, student) if name != "number"))
        for row in rows
    )


def in_sections() -> set[str]:
    """The kinds of rows that have words of their own."""
    return {kind for _heading, writers in SECTIONS for kind, _write in writers}


