"""A student is erased: whatever table, file or line of the log, nothing of her is left; the class's figures stay."""
import datetime as dt
import logging
import uuid
from decimal import Decimal
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings as django_settings
from django.db import connection, models, transaction
from django.urls import reverse
from django.utils import timezone

from progress.actions import erasing
from progress.actions.erasing import erase_student, free_texts
from progress.actions.follow_ups import add_note
from progress.actions.papers.reports import folder_of, order_reports
from progress.actions.returning import start_return
from progress.actions.standings import rebuild_standings
from progress.models import CarriedOver, ClassStanding, Erasure, FollowUp, ReportRun, Standing, TermStanding
from progress.queries.hanging import hanging
from progress.views.erasing import REMOVED
from screening.models import Protocol, Result
from studio.actions import note_stage
from studio.audit.models import AuditRow
from studio.entrance.keys import Visit
from studio.entrance.sessions import SessionStore
from studio.models import Guardian, Student
from tests import factories
from tests.doors import furnish
from tests.test_query_counts import newcomers, weekly_screenings

NAME, CALLED, SECRET = "Zenobia Quillfeather", "Zenzi", "whispered-quince-note"
BORN = dt.date(2013, 11, 29)
BORN_WRITTEN = ("2013-11-29", "29 November 2013", "November 29, 2013", "29 Nov 2013", "29/11/2013", "11/29/2013",
                "29.11.2013", "29112013", "20131129")
# Words about the house, its catalogue and its people; a child is named there by somebody's mistake only, and then the
# name is taken out. A new column of text stands either here or on rows that hang on a student.
NOT_ABOUT_A_STUDENT = {
    "studio.Studio", "studio.User", "studio.Term", "studio.Holiday", "studio.ClassGroup", "studio.Stage",
    "studio.Tablet", "studio.Pin", "screening.Measure", "screening.Protocol", "screening.Battery", "screening.Target",
    "screening.Screening", "progress.Exercise", "progress.ExerciseVersion", "progress.Ladder", "progress.LadderStep",
    "progress.ReturnLadder", "progress.ClassStanding", "progress.LearnedValue", "progress.Erasure",
    "progress.TermClassStanding", "progress.StricterPainRule", "progress.PointeLadder",
    # Thrown away whole.
    "studio.ImportDraft", "studio.KeptImport",
    # Read as the server reads it, below.
    "studio.Visit",
    # Numbers, route names and names of browsers only: tests/studio/test_audit.py.
    "studio.AuditRow",
    # Names of tables and keys only.
    "studio.Deed",
}


def told_of(model) -> list[models.Field]:
    """Columns that hold words; twelve letters are a code of ours."""
    kinds = models.CharField | models.TextField | models.JSONField | models.BinaryField
    return [
        field for field in model._meta.concrete_fields
        if isinstance(field, kinds) and not (field.choices or field.unique or field.is_relation)
        and (field.max_length is None or field.max_length > 12)
    ]


def whose_rows() -> dict[type[models.Model], set[int]]:
    ama = Student.objects.get(name=NAME)
    return hanging({Student: {ama.pk}, Guardian: set(ama.guardians.values_list("pk", flat=True))})


def tell_everywhere() -> None:
    """The secret into every column of text or JSON of every row that hangs on her."""
    for model, keys in whose_rows().items():
        for field in told_of(model):
            if model is Student and field.name in ("name", "called"):
                continue
            words = [SECRET] if isinstance(field, models.JSONField) else f"{SECRET} {NAME} {BORN}"[: field.max_length]
            model._base_manager.filter(pk__in=keys).update(**{field.name: words})


@pytest.fixture
def full(cast, settings, tmp_path):
    """Ama under a name that nothing else holds, with something of hers in every table, in a class of nine."""
    settings.VAR_DIR = tmp_path
    settings.TASKS = {"default": {"BACKEND": "django_tasks.backends.immediate.ImmediateBackend"}}
    cast.ama.name, cast.ama.called, cast.ama.birth_on = NAME, CALLED, BORN
    cast.ama.save()
    furnish(cast)
    _measure(cast, [cast.ama, cast.bettina, *newcomers(cast, 6)])
    note_stage(student=cast.ama, on=cast.screening.held_on, by=cast.owner)
    start_return(student=cast.ama, step=0, on=cast.screening.held_on, note="easy", by=cast.owner)
    cast.ama.pain_reports.get().answers.create(kind="teacher", note="rests", by=cast.teacher)
    add_note(follow_up=cast.ama.follow_ups.first(), text="seen", by=cast.teacher)
    order_reports(
        term=cast.term, kind="record", size="A4", students=[cast.ama, cast.bettina], asked_on=cast.screening.held_on,
        by=cast.owner,
    )
    tell_everywhere()
    return cast


def _measure(cast, children) -> None:
    protocol, screenings = Protocol.objects.get(measure=cast.rises), weekly_screenings(cast)
    Result.objects.bulk_create(
        Result(screening=screening, student=child, measure=cast.rises, protocol=protocol, side=side, fault="wobble",
               value=Decimal(8 + (3 * number + week) % 6), taken_on=screening.held_on, by=cast.teacher)
        for number, child in enumerate(children) for week, screening in enumerate(screenings)
        for side in "LR" if (child, screening) != (cast.ama, cast.screening)
    )
    # Before the figures are made: they tell one assessor from another.
    Result.objects.filter(student=cast.ama).update(assessor_name=f"{SECRET} {NAME} {BORN}")
    rebuild_standings()
    _keep_a_term(cast)


def _keep_a_term(cast) -> None:
    """What was judged of her in the term before, as it was kept."""
    before = factories.TermFactory(name="Autumn", starts_on=dt.date(2025, 9, 8), ends_on=dt.date(2025, 12, 6))
    row = Standing.objects.filter(student=cast.ama).first()
    TermStanding.objects.create(
        term=before, student=row.student, measure=row.measure, side=row.side, class_group=row.class_group,
        as_of=before.ends_on, verdict=row.verdict, line=row.line,
    )
    CarriedOver.objects.create(student=row.student, until=before.starts_on, made_from="what was known", lines=[])


def everything_stored() -> str:
    """Every column of every row of every table, as text; sessions are read as the server reads them."""
    told = [str(SessionStore().decode(data)) for data in Visit.objects.values_list("session_data", flat=True)]
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names():
            cursor.execute("SELECT * FROM " + connection.ops.quote_name(table))  # noqa: S608
            for row in cursor.fetchall():
                told += [bytes(v).decode("latin-1") if isinstance(v, bytes | memoryview) else str(v) for v in row]
    return "\n".join(told)


def traces_in(text: str) -> list[str]:
    sought = (NAME, "Zenobia", "Quillfeather", CALLED, SECRET, *BORN_WRITTEN)
    return [words for words in sought if words.lower() in text.lower()]


# --- nothing is left -------------------------------------------------------------------------------


@pytest.mark.django_db(transaction=True)
def test_every_column_of_text_is_of_a_student_and_filled_or_known_to_be_of_none(full):
    filled = {model._meta.label for model in whose_rows()}
    ours = [model for app in erasing.APPS for model in apps.get_app_config(app).get_models() if told_of(model)]
    assert {model._meta.label for model in ours} - filled - NOT_ABOUT_A_STUDENT == set()
    assert filled & NOT_ABOUT_A_STUDENT == set()


@pytest.mark.django_db(transaction=True)
def test_nothing_of_her_is_left_in_any_table_file_or_line_of_the_log(full, client, caplog):
    caplog.set_level(logging.DEBUG)
    client.force_login(full.owner, backend="django.contrib.auth.backends.ModelBackend")
    before = traces_in(everything_stored())
    assert {NAME, CALLED, SECRET, "2013-11-29"} <= set(before)
    caplog.clear()
    answer = client.post(reverse("progress:erase-student", args=[full.ama.pk]), {"name": NAME}, follow=True)
    assert answer.status_code == 200
    assert traces_in(everything_stored()) == []
    assert traces_in(answer.content.decode()) == []
    assert traces_in("\n".join(r.getMessage() for r in caplog.records if r.name != "django.db.backends")) == []
    if connection.vendor == "sqlite":
        from_disk = Path(connection.settings_dict["NAME"]).read_bytes().decode("latin-1")
        assert traces_in(from_disk) == []


@pytest.mark.django_db(transaction=True)
def test_her_printed_pages_go_and_the_bound_file_is_bound_without_her(full):
    run = ReportRun.objects.latest("pk")
    hers = run.sheets.get(student=full.ama)
    folder = folder_of(run)
    assert (folder / f"{hers.pk}.pdf").exists()
    with_her = (folder / "all.pdf").stat().st_size
    erase_student(student=full.ama, by=full.owner)
    assert not (folder / f"{hers.pk}.pdf").exists()
    assert 0 < (folder / "all.pdf").stat().st_size < with_her
    names = [path.name for path in django_settings.VAR_DIR.rglob("*")]
    assert traces_in("\n".join(names)) == []


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(("days", "is_bound"), [(0, True), (1, True), (2, False)])
def test_the_bound_file_is_bound_anew_till_the_day_after_its_last(full, days, is_bound):
    """Nothing clears files away before the next morning."""
    run = ReportRun.objects.latest("pk")
    ReportRun.objects.filter(pk=run.pk).update(expires_on=timezone.localdate() - dt.timedelta(days=days))
    erase_student(student=full.ama, by=full.owner)
    assert (folder_of(run) / "all.pdf").exists() == is_bound


@pytest.mark.django_db(transaction=True)
def test_her_name_is_taken_out_of_what_was_said_of_another(full):
    row = FollowUp.objects.filter(student=full.other_student).first()
    add_note(follow_up=row, text=f"ran into {NAME.upper()} at the barre", by=full.owner)
    mentions = erase_student(student=full.ama, by=full.owner).removed["mentions"]
    assert row.notes.last().text == "ran into […] at the barre"
    assert mentions == 1


# --- what stays --------------------------------------------------------------------------------------


def standings_of_others(ama) -> list:
    rows = Standing.objects.filter(student__is_nameless=False).exclude(student=ama).order_by("pk")
    return list(rows.values_list("student", "measure", "side", "verdict", "line"))


@pytest.mark.django_db(transaction=True)
def test_the_figures_of_the_class_stay_right_without_her(full):
    before, stalls = standings_of_others(full.ama), list(ClassStanding.objects.order_by("pk").values("stalls"))
    erasure = erase_student(student=full.ama, by=full.owner)
    assert erasure.results_kept > 0
    assert standings_of_others(full.ama) == before
    assert list(ClassStanding.objects.order_by("pk").values("stalls")) == stalls
    rebuild_standings()
    assert [row[2:] for row in standings_of_others(full.ama)] == [row[2:] for row in before]


@pytest.mark.django_db(transaction=True)
def test_what_stays_is_values_of_nobody_that_no_number_leads_to(full):
    number = full.ama.pk
    erase_student(student=full.ama, by=full.owner)
    nameless = Student.objects.get(is_nameless=True)
    assert nameless.pk != number
    assert (nameless.birth_on, nameless.called, nameless.added_by) == (None, "", None)
    kept = Result.objects.filter(student=nameless)
    assert set(kept.values_list("fault", "reason_missing", "supersedes")) == {("", "", None)}
    assert set(kept.values_list("assessor_name", flat=True)) == {f"[…] {nameless.pk}.1"}
    assert {model for model in hanging({Student: {nameless.pk}})} == {Student, Result, Standing}


@pytest.mark.django_db(transaction=True)
def test_an_assessor_who_measured_others_too_is_kept_so_that_the_judge_knows_them(full):
    Result.objects.filter(student__in=[full.ama, full.bettina]).update(assessor_name="Visiting Assessor")
    erase_student(student=full.ama, by=full.owner)
    kept = Result.objects.filter(student__is_nameless=True)
    assert set(kept.values_list("assessor_name", flat=True)) == {"Visiting Assessor"}


@pytest.mark.django_db(transaction=True)
def test_what_was_measured_despite_a_rest_or_stopped_by_pain_is_no_figure_of_the_class_and_goes(full):
    hers = full.ama.results.filter(measure=full.rises).order_by("-taken_on")
    despite, stopped = hers[0], hers[1]
    Result.objects.filter(pk=despite.pk).update(despite_rest=Result.BEFORE)
    full.ama.pain_reports.update(stopped_result=stopped.pk)
    before = full.ama.results.in_force().filter(value__isnull=False).count()
    assert erase_student(student=full.ama, by=full.owner).results_kept <= before - 2
    assert not Result.objects.filter(pk__in=[despite.pk, stopped.pk]).exists()


@pytest.mark.django_db(transaction=True)
def test_in_a_small_group_no_figure_stays(cast):
    furnish(cast)
    erasure = erase_student(student=cast.ama, by=cast.owner)
    assert erasure.results_kept == 0
    assert not Student.objects.filter(is_nameless=True).exists()
    assert not Result.objects.filter(key=uuid.UUID(int=2)).exists()


@pytest.mark.django_db(transaction=True)
def test_a_guardian_of_a_sibling_stays_and_one_of_her_alone_goes(full):
    shared = Guardian.objects.create(name="Ines Both")
    shared.students.add(full.ama, full.bettina)
    erase_student(student=full.ama, by=full.owner)
    assert list(full.bettina.guardians.all()) == [shared]
    assert not Guardian.objects.filter(students=None).exists()


# --- the owner's way ---------------------------------------------------------------------------------


@pytest.mark.parametrize("typed", ["", "Bettina Krall", "ama owiredu", "Ama"])
def test_another_name_than_hers_erases_nothing(as_owner, cast, typed):
    answer = as_owner.post(reverse("progress:erase-student", args=[cast.ama.pk]), {"name": typed})
    assert answer.status_code == 422
    assert Student.objects.filter(pk=cast.ama.pk).exists()
    assert not Erasure.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_the_log_of_changes_is_emptied_after_the_transaction_and_never_within(django_assert_num_queries):
    with transaction.atomic(), django_assert_num_queries(0):
        erasing.tidy_database()
    # The log, and before and after it how long to wait for who reads.
    with django_assert_num_queries(3 if connection.vendor == "sqlite" else 0):
        erasing.tidy_database()


@pytest.mark.django_db(transaction=True)
def test_the_certificate_says_who_when_and_how_much_and_the_audit_has_it(full, client):
    client.force_login(full.owner, backend="django.contrib.auth.backends.ModelBackend")
    number = full.ama.pk
    page = client.post(reverse("progress:erase-student", args=[number]), {"name": NAME}, follow=True)
    told = page.content.decode()
    assert f"student number {number} was erased on 24 March 2026 by Ottoline Brack" in told
    assert AuditRow.objects.filter(
        outcome="erased", student_key=number, person_key=full.owner.pk, page="progress:erase-student"
    ).exists()
    assert "pain reports" in told and "painreport" not in told and "guardian_students" not in told
    assert client.get(reverse("progress:student", args=[number])).status_code == 404


def test_every_table_that_hangs_on_a_student_has_a_name_on_the_certificate():
    kinds, todo = set(), [Student, Guardian]
    while todo:
        kinds.add(model := todo.pop())
        relations = (r for r in model._meta.get_fields(include_hidden=True) if r.auto_created and not r.concrete)
        todo += {r.related_model for r in relations if not r.many_to_many} - kinds
    assert {model._meta.model_name for model in kinds} | {"mentions"} == set(REMOVED)


@pytest.mark.django_db(transaction=True)
def test_a_certificate_is_found_again_from_the_office(full, client):
    client.force_login(full.owner, backend="django.contrib.auth.backends.ModelBackend")
    erasure = erase_student(student=full.ama, by=full.owner)
    assert reverse("progress:erasures") in client.get(reverse("studio:leavers")).content.decode()
    listed = client.get(reverse("progress:erasures")).content.decode()
    assert f">{erasure.number}</a>" in listed and reverse("progress:erasure", args=[erasure.pk]) in listed
    assert "24 March 2026" in listed and "Ottoline Brack" in listed


@pytest.mark.django_db(transaction=True)
def test_the_nameless_are_in_no_list_and_behind_no_door(full, client):
    client.force_login(full.owner, backend="django.contrib.auth.backends.ModelBackend")
    erase_student(student=full.ama, by=full.owner)
    nameless = Student.objects.get(is_nameless=True)
    assert client.get(reverse("progress:student", args=[nameless.pk])).status_code == 404
    assert nameless.name not in client.get(reverse("studio:students")).content.decode()


@pytest.mark.django_db(transaction=True)
def test_if_anything_fails_everything_stays(full, monkeypatch):
    def fails(name):
        raise RuntimeError

    monkeypatch.setattr(erasing, "_take_out_name", fails)
    before = everything_stored()
    with pytest.raises(RuntimeError):
        erase_student(student=full.ama, by=full.owner)
    assert everything_stored() == before


def test_free_texts_leave_out_keys_and_choices():
    found = {f"{model._meta.model_name}.{field.name}" for model, field in free_texts()}
    assert {"followupnote.text", "student.called", "painreport.note"} <= found
    assert "pin.hashed" in found and "student.dominant_foot" not in found
