"""Writes a large file of past results in the background: class after class, then each is judged; twice is once."""
import datetime as dt
import logging
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django_tasks import task

from progress.actions.carrying import forget_carried
from progress.actions.learning import learn_values
from progress.actions.standings import judging_classes, refresh_standings
from screening import actions as screening_actions
from screening.results_check import ResultsCheck, check_draft, still_as_planned
from screening.results_rows import PlannedResult
from studio import actions as studio_actions
from studio.locale import in_the_studio
from studio.models import ClassGroup, Deed, ImportDraft, KeptImport, Student, User
from studio.queries import studio_day

log = logging.getLogger(__name__)
# More rows than this are written in the background: a page should answer within seconds. Our choice.
WRITTEN_AT_ONCE = 300
_LETTERS = {"add": "a", "change": "c"}


@transaction.atomic
def order_results(*, check: ResultsCheck, draft: ImportDraft, class_group: ClassGroup, by: User) -> KeptImport:
    """Orders that a checked file is written; its draft is what the work goes by, and how far it is."""
    kept = studio_actions.keep_import(
        kind="results", filename=draft.filename, check=check, class_group=class_group, term=None, by=by,
        written={"results": []})
    letters = "".join(_LETTERS.get(row.outcome, "-") for row in check.plan)
    groups = {row.class_group.pk for row in check.plan if row.outcome in _LETTERS}
    draft.kept = kept
    draft.work = {
        "letters": letters, "rows": 0, "row_count": len(letters) - letters.count("-"), "groups": sorted(groups),
        "touched": [], "since": None, "judge": [], "judged": 0, "at": timezone.now().isoformat(), "failed": False,
    }
    draft.save(update_fields=["kept", "work"])
    # In the same transaction: whoever is killed here has ordered everything or nothing.
    write_results.enqueue(draft.pk)
    return kept


@transaction.atomic
def go_on(*, kept: KeptImport, by: User) -> None:
    """Takes the writing of a file up again where it stopped; harmless while it is under way."""
    draft = ImportDraft.objects.select_for_update().filter(kept=kept).first()
    if draft is not None:
        draft.work |= {"failed": False, "at": timezone.now().isoformat()}
        draft.save(update_fields=["work"])
        Deed.note(kept, Deed.REOPENED, by)
        write_results.enqueue(draft.pk)


@task()
def write_results(draft_id: int) -> None:
    """Writes and judges the rest of an ordered file. Each step is a transaction that says how far it came, so whoever
    takes it up again writes nothing twice."""
    draft = ImportDraft.objects.filter(pk=draft_id, kept__isnull=False).first()
    if draft is None:
        return
    try:
        with in_the_studio():
            check, _group = check_draft(draft, today=studio_day(timezone.now()))
            while take_step(draft_id, check):
                pass
    except Exception:
        # The page says that it stopped, and offers to go on; the log has the cause.
        log.exception("Past results of draft %s", draft_id)
        _note_failed(draft_id)


@transaction.atomic
def take_step(draft_id: int, check: ResultsCheck) -> bool:
    """One class written, or one judged, or the end; True while there is more. Two workers at once take turns."""
    draft = ImportDraft.objects.select_for_update().filter(pk=draft_id, kept__isnull=False).first()
    if draft is None:
        return False
    work = draft.work
    if work["groups"]:
        _write_class(draft, check, work["groups"].pop(0))
        if not work["groups"]:
            _say_what_to_judge(work)
    elif work["judge"]:
        refresh_standings(class_ids=[work["judge"].pop(0)])
        work["judged"] += 1
    else:
        learn_values(learned_on=studio_day(timezone.now()))
        draft.delete()
        return False
    work["at"] = timezone.now().isoformat()
    draft.save(update_fields=["work"])
    return True


def _write_class(draft: ImportDraft, check: ResultsCheck, group_id: int) -> None:
    """All rows of one class together: nobody is ever judged by half of a class."""
    work = draft.work
    wanted = [
        row for row, letter in zip(check.plan, work["letters"], strict=True)
        if letter != "-" and row.class_group is not None and row.class_group.pk == group_id
    ]
    same = [row for row in wanted if _LETTERS.get(row.outcome) == work["letters"][row.at]]
    touched = sorted({row.student.pk for row in same})
    # Students first, by key, then classes: the order of lock_judgement.
    list(Student.objects.filter(pk__in=touched).order_by("pk").select_for_update(no_key=True))
    rows = still_as_planned(same)
    before = judging_classes(touched)
    made = screening_actions.import_results(plan=rows, by=draft.by)
    work["rows"] += len(wanted)
    work["touched"] = sorted(before | judging_classes(touched) | set(work["touched"]))
    days = [result.taken_on.isoformat() for result in made]
    work["since"] = min(filter(None, [*days, work["since"]]), default=None)
    taken = {row.at for row in rows}
    _keep_others(draft.kept, check, [row for row in wanted if row.at not in taken], work["letters"])
    draft.kept.written["results"] += [result.pk for result in made]
    draft.kept.save(update_fields=["counts", "left_out", "written"])


def _keep_others(kept: KeptImport, check: ResultsCheck, others: list[PlannedResult], letters: str) -> None:
    """Notes, among the rows not taken, what the studio had changed since the preview."""
    outcomes = {letter: outcome for outcome, letter in _LETTERS.items()}
    numbers = {row.number for row in others}
    cells = {row.number: list(row.cells) for row in check.sheet.rows if row.number in numbers}
    why = _("The studio changed after the preview: bring this row once more.")
    for row in others:
        kept.counts[outcomes[letters[row.at]]] -= 1
        kept.counts["refuse"] += 1
        kept.left_out.append({"row": row.number, "cells": cells[row.number], "why": why})


def _say_what_to_judge(work: dict[str, Any]) -> None:
    """The classes that the file touched; all of them where lines are read on from a state that rests on its days."""
    since = work["since"]
    work["judge"] = work["touched"] if since else []
    if since and forget_carried(since=dt.date.fromisoformat(since)):
        work["judge"] = list(ClassGroup.objects.order_by("pk").values_list("pk", flat=True))


def _note_failed(draft_id: int) -> None:
    draft = ImportDraft.objects.filter(pk=draft_id).first()
    if draft is not None:
        draft.work["failed"] = True
        draft.save(update_fields=["work"])
