"""Keeps the one stored judgement in step with the facts: standings and what the whole class shares."""
import datetime as dt
from collections.abc import Collection, Iterable
from dataclasses import replace

from django.db import transaction
from django.db.models import Q
from django.db.models.signals import post_save
from django.dispatch import receiver
from django.utils import timezone

from progress.actions.carrying import Judging, Known, forget_carried
from progress.actions.finished_terms import keep_finished_terms, open_again_where_nothing_is_newer
from progress.actions.follow_ups import open_judged_follow_ups
from progress.judging import judgement
from progress.judging.line_record import read_line, write_line, write_stall
from progress.models import CarriedOver, ClassStanding, Standing
from progress.queries.judged import how_far_back, last_seen
from screening.models import Result
from studio.models import ClassGroup, Student, Term


def judging_classes(student_ids: Collection[int]) -> set[int]:
    """The classes these students are judged in: each in the class of their latest result."""
    # Mostly that is a result of late; only students without one are looked for in everything.
    seen = last_seen(student_ids, since=how_far_back().reads_from(dt.date.max))
    older = last_seen(set(student_ids) - seen.keys()) if len(seen) < len(set(student_ids)) else {}
    return {each.class_id for each in (seen | older).values()}


def lock_judgement(*, student_ids: Collection[int], class_ids: Collection[int]) -> None:
    """Keeps others from writing about these students, or judging a class that they may be judged in, meanwhile.

    Always students first, then classes, each by key, so that no two writers wait for each other. Not a lock of the
    keys: rows that only refer to a student or class need not wait.
    """
    list(Student.objects.filter(pk__in=student_ids).order_by("pk").select_for_update(no_key=True))
    theirs = Result.objects.filter(student__in=student_ids).order_by().values("screening__class_group")
    groups = ClassGroup.objects.filter(Q(pk__in=class_ids) | Q(pk__in=theirs))
    list(groups.order_by("pk").select_for_update(no_key=True))


def refresh_standings(
    *, class_ids: Iterable[int], since: dt.date | None = None, over_on: dt.date | None = None,
    today: dt.date | None = None,
) -> None:
    """Judges classes anew and stores what changed; to be called in the transaction of the fact that changed it.

    since: the first day whose results changed; none, where something else did. What was measured before and since
    then no more stays as it was judged; where lines are read on from a state that rests on that day, everybody is
    judged anew from there. over_on: today, where no result changed but what results are held to (a stage, a target, a
    typical error): terms that are over by then keep what was judged of them.
    """
    with transaction.atomic():
        if since is not None and forget_carried(since=since):
            class_ids, since = ClassGroup.objects.values_list("pk", flat=True), None
        judging = Judging()
        groups = ClassGroup.objects.filter(pk__in=set(class_ids)).order_by("pk")
        for class_group in groups.select_for_update(no_key=True):
            _refresh_class(class_group, judging, since, over_on, today)


def rebuild_standings(*, today: dt.date | None = None) -> int:
    """Throws every standing and everything carried over away and judges every class anew; follow-ups and finished
    terms stay as they are."""
    with transaction.atomic():
        for model in (Standing, ClassStanding, CarriedOver):
            model.objects.all().delete()
        judging = Judging()
        groups = list(ClassGroup.objects.order_by("pk").select_for_update(no_key=True))
        for class_group in groups:
            _refresh_class(class_group, judging, today=today)
    return len(groups)


@receiver(post_save, sender=Term)
def judge_by_the_terms(raw: bool, **_told) -> None:
    """How far back results are read goes by the first days of the terms, and those are saved by a lower app."""
    if not raw and ClassStanding.objects.exists():
        refresh_standings(class_ids=ClassGroup.objects.values_list("pk", flat=True), over_on=timezone.localdate())


def judge_where_nothing_is_judged(*, today: dt.date) -> None:
    """Judges a studio that has results and no standing at all, as an upgrade leaves it."""
    if Result.objects.exists() and not ClassStanding.objects.exists():
        rebuild_standings(today=today)


def _refresh_class(
    class_group: ClassGroup, judging: Judging, since: dt.date | None = None, over_on: dt.date | None = None,
    today: dt.date | None = None,
) -> None:
    known = judging.known(class_group.pk)
    stored = list(Standing.objects.filter(class_group=class_group))
    before = ClassStanding.objects.filter(class_group=class_group).first()
    if not known.facts:
        Standing.objects.filter(class_group=class_group).delete()
        ClassStanding.objects.filter(class_group=class_group).delete()
        return
    as_of = known.as_of
    if over_on is None:
        open_again_where_nothing_is_newer(class_group=class_group, as_of=as_of)
    keep_finished_terms(judging=judging, facts=known.facts, before=over_on or as_of)
    keys = {measure.pk: measure.key for measure in judging.measures}
    settled = _settled(known, stored, keys, since) if _is_the_same_class(known, stored, before, judging) else set()
    judged = known.judged(as_of)
    rows = _rows(class_group, known, judged, judging, settled)
    kept = [row for row in stored if keys.get(row.measure_id) in settled]
    again = set(judged.measure_again)
    asked = {_place(row): (row.student_id, keys[row.measure_id], row.side) in again for row in kept}
    _store(rows, stored, asked)
    stalls = [write_stall(each) for each in judged.class_stalls]
    if before is None or (before.as_of, before.stalls) != (as_of, stalls):
        ClassStanding.objects.update_or_create(class_group=class_group, defaults={"as_of": as_of, "stalls": stalls})
    today = today or timezone.localdate()
    open_judged_follow_ups(class_group=class_group, standings=rows, as_of=as_of, today=today)


def _is_the_same_class(known: Known, stored: list[Standing], before: ClassStanding | None, judging: Judging) -> bool:
    """Whether the same students were judged by results since the same day: else every line is judged anew."""
    if before is None or judging.reach.reads_from(before.as_of) != known.since:
        return False
    return {row.student_id for row in stored} == {fact.student for fact in known.facts}


def _settled(known: Known, stored: list[Standing], keys: dict[int, str], since: dt.date | None) -> set[str]:
    """The measures of which nothing changed since that day: they stand as they were judged on their own last day."""
    judged_on: dict[str, set[dt.date]] = {}
    for row in stored:
        judged_on.setdefault(keys.get(row.measure_id, ""), set()).add(row.as_of)
    return {
        measure for measure, day in known.last_days.items()
        if since is not None and day < since and judged_on.get(measure) == {day}
    }


def _rows(
    class_group: ClassGroup, known: Known, now: judgement.ClassJudgement, judging: Judging, settled: set[str]
) -> list[Standing]:
    """The lines of every other measure, each as of its last day."""
    by_key, again = {measure.key: measure for measure in judging.measures}, set(now.measure_again)
    rows = []
    for day in sorted({day for measure, day in known.last_days.items() if measure not in settled}):
        judged = now if day == now.as_of else known.judged(day)
        drawn_from = judging.reach.term_of(day)
        for key, line in judged.lines.items():
            if key[1] in settled or known.last_days[key[1]] != day:
                continue
            line = replace(line.drawn_from(drawn_from), measure_again=key in again)
            rows.append(Standing(
                student_id=key[0], measure=by_key[key[1]], side=key[2], class_group=class_group, as_of=day,
                verdict=line.verdict, measure_again=line.measure_again, line=write_line(line),
            ))
    return rows


def _store(rows: list[Standing], stored: list[Standing], asked: dict[tuple, bool]) -> None:
    """Writes what changed and deletes what is judged no more. asked: the place of those that stand as they were, and
    whether they are to be measured again now."""
    was = {_place(row): row for row in stored}
    changed = [row for row in rows if _place(row) not in was or _said(was[_place(row)]) != _said(row)]
    for place, again in asked.items():
        row = was[place]
        if again != row.measure_again:
            row.measure_again, row.line = again, write_line(replace(read_line(row.line), measure_again=again))
            changed.append(row)
    there = {_place(row) for row in rows} | asked.keys()
    Standing.objects.filter(pk__in=[row.pk for place, row in was.items() if place not in there]).delete()
    Standing.objects.bulk_create(
        [_without_key(row) for row in changed],
        update_conflicts=True, unique_fields=["student", "measure", "side"],
        update_fields=["class_group", "as_of", "verdict", "measure_again", "line"],
    )


def _place(row: Standing) -> tuple:
    return row.student_id, row.measure_id, row.side


def _said(row: Standing) -> tuple:
    return row.as_of, row.verdict, row.measure_again, row.line


def _without_key(row: Standing) -> Standing:
    # Found by what it is about: a key would be another thing to collide on.
    row.pk = None
    return row
