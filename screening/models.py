"""The measuring day: the catalogue of measures with their protocols, screenings and results; knows no judgement."""
import datetime as dt
import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from studio.models import ClassGroup, Stage, Student, Tap, Term


class Measure(models.Model):
    """Something that is counted, timed, graded or described at the barre. A new one is a row, not code."""

    COUNT, SECONDS, GRADE, TALLY, LENGTH = "count", "seconds", "grade", "tally", "length"
    KINDS = [
        (COUNT, _("count")), (SECONDS, _("seconds")), (GRADE, _("grade in words")),
        (TALLY, _("clean ones out of a fixed number")), (LENGTH, _("length")),
    ]
    BEST, MEAN, LAST = "best", "mean", "last"
    SCORE_RULES = [(BEST, _("best try")), (MEAN, _("mean of the tries")), (LAST, _("last try"))]
    HIGHER, DESCRIPTIVE = "higher", "descriptive"
    DIRECTIONS = [(HIGHER, _("more is stronger")), (DESCRIPTIVE, _("describes only, no better or worse"))]

    key = models.SlugField(max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=60)
    short_name = models.CharField(_("in one word"), max_length=20)
    family_name = models.CharField(
        _("name for families"), max_length=60, blank=True, help_text=_("In everyday words: “Balance”.")
    )
    practice = models.CharField(
        _("what is practised, for families"), max_length=120, blank=True,
        help_text=_("As it stands in a sentence: “balancing high on the ball of the foot”."),
    )
    kind = models.CharField(_("kind"), max_length=10, choices=KINDS)
    unit = models.CharField(_("unit"), max_length=20, blank=True)
    has_sides = models.BooleanField(_("left and right"), default=True)
    attempts = models.PositiveSmallIntegerField(_("tries"), default=1)
    score_rule = models.CharField(_("score"), max_length=10, choices=SCORE_RULES, default=BEST)
    direction = models.CharField(_("direction"), max_length=12, choices=DIRECTIONS, default=HIGHER)
    loads_foot = models.BooleanField(
        _("loads the foot"), default=True, help_text=_("Not offered to a student with no rises for now.")
    )
    is_jump = models.BooleanField(_("is a jump"), default=False)
    decimals = models.PositiveSmallIntegerField(_("decimals"), default=0)
    hard_low = models.DecimalField(_("impossible below"), max_digits=7, decimal_places=2)
    hard_high = models.DecimalField(_("impossible above"), max_digits=7, decimal_places=2)
    soft_low = models.DecimalField(_("asks again below"), max_digits=7, decimal_places=2)
    soft_high = models.DecimalField(_("asks again above"), max_digits=7, decimal_places=2)
    typical_error = models.FloatField(_("typical error"), null=True, blank=True)
    typical_error_other = models.FloatField(_("typical error, measured by somebody else"), null=True, blank=True)
    typical_error_basis = models.TextField(_("where the typical error comes from"), blank=True)
    typical_gain = models.FloatField(_("typical gain a week"), null=True, blank=True)
    typical_gain_basis = models.TextField(_("where the typical gain comes from"), blank=True)
    pinned_error = models.FloatField(
        _("typical error, set by you"), null=True, blank=True,
        help_text=_("Your own figure. As long as it stands here, the published and the learned one are not used."),
    )
    pinned_gain = models.FloatField(
        _("typical gain a week, set by you"), null=True, blank=True,
        help_text=_("Your own figure. As long as it stands here, the given and the learned one are not used."),
    )
    # Keys of progress/drawing/body: how it is done, and clean beside a fault.
    pose = models.SlugField(_("drawing"), max_length=40, blank=True)
    clean_pose = models.SlugField(_("drawing of what is clean"), max_length=40, blank=True)
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(attempts__gte=1) & Q(attempts__lte=5), name="one_to_five_attempts"),
        ]

    def __str__(self) -> str:
        return str(_(self.name))

    @property
    def is_judged(self) -> bool:
        """True where a trend is drawn: more is stronger and the wobble of one result is known."""
        is_scaled = self.kind in (self.COUNT, self.SECONDS, self.GRADE, self.TALLY)
        return is_scaled and self.direction == self.HIGHER and bool(self.typical_error) and bool(self.typical_gain)

    @property
    def is_runnable(self) -> bool:
        """True where one count or one clock serves a whole group at the barre."""
        return self.kind in (self.COUNT, self.SECONDS)

    @property
    def sides(self) -> tuple[str, ...]:
        return ("L", "R") if self.has_sides else ("",)


class Protocol(models.Model):
    """One version of how a measure is taken. Changing a word makes the next version; results keep theirs."""

    measure = models.ForeignKey(Measure, models.PROTECT, related_name="protocols")
    version = models.PositiveSmallIntegerField(default=1)
    short_name = models.CharField(_("in short"), max_length=80)
    instruction = models.TextField(_("protocol"))
    stop_rule = models.TextField(_("stop rule"), blank=True)
    cap = models.DecimalField(_("limit"), max_digits=7, decimal_places=2, null=True, blank=True)
    beats_per_minute = models.PositiveSmallIntegerField(_("beats a minute"), null=True, blank=True)
    grades = models.JSONField(
        _("grades"), default=list, blank=True, help_text=_("One entry a grade, lowest first: its word and its anchor.")
    )
    faults = models.JSONField(_("faults"), default=list, blank=True)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["measure", "-version"]
        constraints = [models.UniqueConstraint(fields=["measure", "version"], name="protocol_versions_are_numbered")]

    def __str__(self) -> str:
        return f"{self.measure} {self.version}"


class Battery(models.Model):
    """The measures of one screening, in their order at the barre."""

    key = models.SlugField(max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=60)
    measures = models.ManyToManyField(Measure, through="BatteryMeasure", related_name="batteries")
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        verbose_name_plural = "batteries"

    def __str__(self) -> str:
        return str(_(self.name))


class BatteryMeasure(models.Model):
    battery = models.ForeignKey(Battery, models.CASCADE, related_name="entries")
    measure = models.ForeignKey(Measure, models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["battery", "measure"], name="a_measure_once_in_a_battery")]

    def __str__(self) -> str:
        return f"{self.battery}: {self.measure}"


class Target(models.Model):
    """What a stage works towards in one measure, with its source; a new row replaces the one before it."""

    measure = models.ForeignKey(Measure, models.PROTECT, related_name="targets")
    stage = models.ForeignKey(Stage, models.PROTECT, related_name="targets")
    value = models.DecimalField(_("target"), max_digits=7, decimal_places=2, null=True)
    basis = models.CharField(_("source"), max_length=200)
    set_on = models.DateField()
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["measure", "stage", "-set_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.measure}, {self.stage}: {self.value}"


class ScreeningQuerySet(models.QuerySet):
    def open_for(self, tapped_at: dt.datetime | None) -> "ScreeningQuerySet":
        """Those that take a tap of this moment (None: now): open, or closed only after it was tapped."""
        late = Q() if tapped_at is None else Q(closed_at__gt=tapped_at)
        return self.filter(Q(closed_at=None) | late)


class Screening(models.Model):
    """One measuring day of a class. While it is open, results are entered and corrected."""

    class_group = models.ForeignKey(ClassGroup, models.PROTECT, related_name="screenings")
    term = models.ForeignKey(Term, models.PROTECT, related_name="screenings", null=True)
    battery = models.ForeignKey(Battery, models.PROTECT, related_name="screenings", null=True)
    name = models.CharField(_("name"), max_length=60, blank=True)
    held_on = models.DateField(_("date"))
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    opened_at = models.DateTimeField(auto_now_add=True)
    closed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    closed_at = models.DateTimeField(null=True)
    is_imported = models.BooleanField(default=False)

    objects = ScreeningQuerySet.as_manager()

    class Meta:
        ordering = ["-held_on", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["class_group", "held_on"], condition=Q(is_imported=True), name="one_imported_screening_a_day"
            ),
        ]

    def __str__(self) -> str:
        return self.name or str(_("Screening"))

    @property
    def is_open(self) -> bool:
        return self.closed_at is None


class Result(Tap):
    """One attempt as it was seen, or the reason why there is none. Never changed: a correction is a new row."""

    SIDES = [("L", pgettext_lazy("foot", "left")), ("R", pgettext_lazy("foot", "right")), ("", "")]
    ABSENT, DECLINED, PAIN, NOT_TODAY, WITHDRAWN = "absent", "declined", "pain", "not_today", "withdrawn"
    REASONS = [
        (ABSENT, _("absent")), (DECLINED, _("declined")), (PAIN, _("pain")), (NOT_TODAY, _("not today")),
        (WITHDRAWN, _("taken back")),
    ]

    # Why somebody recorded it although the student should have rested.
    CLEARED, BEFORE = "cleared", "before"
    DESPITE = [(CLEARED, _("a clinician allowed it")), (BEFORE, _("it was before the pain was told"))]

    PLACE = ("screening", "student", "measure", "protocol", "side", "attempt", "taken_on")
    SAYS = (
        "value", "reached_cap", "is_confirmed", "reason_missing", "fault", "despite_rest", "is_first_side",
        "assessor_name",
    )
    NOTHING = {
        "value": None, "reached_cap": False, "is_confirmed": False, "reason_missing": WITHDRAWN, "fault": "",
    }

    key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    screening = models.ForeignKey(Screening, models.PROTECT, related_name="results")
    # Looked for by its screening or its series: every further index is a page more to write with each tap.
    student = models.ForeignKey(Student, models.PROTECT, related_name="results", db_index=False)
    measure = models.ForeignKey(Measure, models.PROTECT, related_name="results", db_index=False)
    protocol = models.ForeignKey(Protocol, models.PROTECT, related_name="results", db_index=False)
    side = models.CharField(max_length=1, choices=SIDES, blank=True)
    attempt = models.PositiveSmallIntegerField(default=1)
    value = models.DecimalField(max_digits=7, decimal_places=2, null=True)
    reached_cap = models.BooleanField(default=False)
    is_confirmed = models.BooleanField(default=False)
    reason_missing = models.CharField(max_length=12, choices=REASONS, blank=True)
    fault = models.CharField(max_length=40, blank=True)
    # Such a result is shown and never judged.
    despite_rest = models.CharField(max_length=8, choices=DESPITE, blank=True)
    # The foot that was tested first is the fresher one; unknown for what was typed or brought in.
    is_first_side = models.BooleanField(null=True)
    taken_on = models.DateField()
    # Nobody, where a file of past results brought it in.
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+", db_index=False)
    # Who measured, as a file of past results says it, where that is nobody with a login here.
    assessor_name = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["taken_on", "pk"]
        indexes = [
            models.Index(fields=["student", "measure", "side", "taken_on"], name="result_series"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=(Q(value__isnull=False) & Q(reason_missing=""))
                | (Q(value__isnull=True) & ~Q(reason_missing="")),
                name="a_value_or_the_reason_there_is_none",
            ),
            models.UniqueConstraint(
                fields=["screening", "student", "measure", "side", "attempt"],
                condition=Q(supersedes__isnull=True),
                name="one_first_row_an_attempt",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.measure} {self.side} {self.value}"

    @property
    def measured_by(self) -> str:
        """Who measured: as the file said it, else the person who recorded it."""
        return self.assessor_name or (self.by.name if self.by else "")
