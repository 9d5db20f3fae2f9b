"""Gives back what a killed worker had begun, so that nothing stays half-done for ever; knows no report."""
import datetime as dt

from django.db import transaction
from django.utils import timezone
from django_tasks import TaskResultStatus
from django_tasks_db.models import DBTaskResult

# A task that took its worker down this often is not tried again. Our choice.
TRIES = 3
# For so long the queue says what became of a task; without an end it would grow for ever. Our choice.
REMEMBERED = dt.timedelta(days=14)


@transaction.atomic
def give_back(*, alive: set[str]) -> int:
    """Every running task whose worker is not alive waits again, or has failed after three tries; says how many."""
    running = DBTaskResult.objects.select_for_update().filter(status=TaskResultStatus.RUNNING)
    given_back = 0
    for row in running:
        if row.worker_ids and row.worker_ids[-1] in alive:
            continue
        if len(row.worker_ids) >= TRIES:
            row.status, row.finished_at, row.traceback = TaskResultStatus.FAILED, timezone.now(), "Its worker ended."
        else:
            row.status, row.started_at = TaskResultStatus.READY, None
            given_back += 1
        row.save(update_fields=["status", "started_at", "finished_at", "traceback"])
    return given_back


def forget_finished(*, now: dt.datetime) -> None:
    """Takes tasks that ended long ago out of the queue's table."""
    DBTaskResult.objects.finished().filter(finished_at__lt=now - REMEMBERED).delete()
