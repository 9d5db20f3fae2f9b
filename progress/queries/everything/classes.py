"""Writes what is kept of a student's classes and papers: who came, what was done, an own programme, letters."""
from collections.abc import Iterator
from itertools import groupby

from django.utils import timezone
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from progress.models import Attendance, HandoverText, IssuedReport, LetterText, LogEntry, ProgrammeEntry, RunSheet
from progress.queries.classwork.exercises import dose_words, versions_by_exercise
from progress.queries.everything.words import Entry, dated, replaced, stamp
from progress.rules.dose import Dose
from studio.templatetags.wording import full_day


def attendance(rows: list[Attendance]) -> Iterator[Entry]:
    old = {row.supersedes_id for row in rows}
    for row in rows:
        came = {True: _("came"), False: _("was away"), None: _("taken back")}[row.is_present]
        words = f"{row.log.class_group}: {came}"
        yield dated(row.log.held_on, replaced(words, row.pk in old), key=0, soft=stamp(row.by, row.received_at))


def log_entries(rows: list[LogEntry]) -> Iterator[Entry]:
    """What was done in one class and written down at one time is one entry, an exercise a line."""
    old = {row.supersedes_id for row in rows}

    def together(row: LogEntry) -> tuple:
        return row.log.held_on, row.log_id, stamp(row.by, row.received_at)

    for (on, _log, kept), found in groupby(sorted(rows, key=lambda row: (*together(row), row.pk)), together):
        group = list(found)
        lines = tuple(replaced(_done(row), row.pk in old) for row in group)
        yield dated(on, str(group[0].log.class_group), key=group[0].pk, lines=lines, soft=kept)


def _done(row: LogEntry) -> str:
    """ "Short foot (doming), Short foot 2: 2 × 10 × 5 s, clean; planned 2 × 10 × 5 s"."""
    name = ", ".join(str(part) for part in (row.version, row.step) if part)
    if row.is_withdrawn:
        return f"{name}: {_('taken back')}"
    done = [dose_words(row.dose, row.version)]
    done += [_(row.get_control_display())] if row.control else []
    done += [_(fault) for fault in row.faults]
    planned = Dose(row.planned_sets, row.planned_reps, row.planned_hold_seconds)
    return _("%(name)s: %(done)s; planned %(dose)s") % {
        "name": name, "done": ", ".join(done), "dose": dose_words(planned, row.version)}


def programme(rows: list[ProgrammeEntry]) -> Iterator[Entry]:
    versions = versions_by_exercise() if rows else {}
    for row in rows:
        version = versions[row.exercise_id]
        what = _("goes without") if row.is_spared else dose_words(row.dose, version)
        gone = _("left out since: %(who)s") % {"who": stamp(row.left_out_by, row.left_out_at)}
        name = ", ".join(str(part) for part in (version, row.step) if part)
        lines = (row.note, row.reason, f"{row.class_group}, {row.term}", gone if row.left_out_at else "")
        yield dated(row.added_on, f"{name}: {what}", key=row.pk, lines=lines, soft=stamp(row.added_by, row.added_at))


def handed_over(rows: list[HandoverText]) -> Iterator[Entry]:
    for row in rows:
        words = _("Words for the next teacher, %(term)s") % {"term": row.term}
        yield dated(timezone.localdate(row.written_at), words, key=row.pk,
                    lines=tuple(row.text.splitlines()) or (_("taken out"),), soft=stamp(row.written_by, row.written_at))


def letters(rows: list[LetterText]) -> Iterator[Entry]:
    for row in rows:
        words = _("Words in the letter to the family, %(term)s") % {"term": row.term}
        text = tuple(row.text.splitlines()) or (_("taken out"),)
        yield dated(timezone.localdate(row.written_at), words, key=row.pk, lines=text,
                    soft=stamp(row.written_by, row.written_at))


def issued_reports(rows: list[IssuedReport]) -> Iterator[Entry]:
    issued = {row.pk: row.issued_on for row in rows}
    for row in rows:
        words = f"{row.get_kind_display()}, {row.term}, {row.size}"
        before = issued.get(row.replaces_id)
        lines = (_("replaces the one of %(day)s") % {"day": full_day(before)} if before else "",)
        yield dated(row.issued_on, capfirst(words), key=row.pk, lines=lines,
                    soft=stamp(row.issued_by, row.issued_at))


def run_sheets(rows: list[RunSheet]) -> Iterator[Entry]:
    for row in rows:
        what = f"{row.run.get_kind_display()}, {row.run.term}"
        words = _("Printed with the class: %(what)s, place %(n)s: %(state)s") % {
            "what": what, "n": row.position, "state": row.get_state_display()}
        on = timezone.localdate(row.done_at) if row.done_at else row.run.asked_on
        yield dated(on, words, key=row.pk, lines=(row.reason,), soft=stamp(row.run.asked_by, row.done_at))
