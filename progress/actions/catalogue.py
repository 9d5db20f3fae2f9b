"""Changes of the catalogue that change judgements: a typical error, a target; everyone is judged anew with them."""
import datetime as dt
from collections.abc import Iterable
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from progress.actions.standings import refresh_standings
from screening import actions as screening_actions
from screening.models import Measure
from studio.models import ClassGroup, Stage, User


def _refresh_everyone() -> None:
    refresh_standings(class_ids=ClassGroup.objects.values_list("pk", flat=True), over_on=timezone.localdate())


@transaction.atomic
def save_measure(*, measure: Measure, by: User) -> None:
    screening_actions.save_measure(measure=measure, by=by)
    _refresh_everyone()


@transaction.atomic
def set_targets(
    *, wanted: Iterable[tuple[Measure, Stage, Decimal | None, str]], set_on: dt.date, by: User
) -> None:
    """All targets of the page at once; those that are the same stay as they are."""
    for measure, stage, value, basis in wanted:
        screening_actions.set_target(measure=measure, stage=stage, value=value, basis=basis, set_on=set_on, by=by)
    _refresh_everyone()
