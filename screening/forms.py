"""Forms of the measuring day; they check what was typed or tapped and write nothing themselves."""
import datetime as dt
import uuid as uuids
from decimal import Decimal

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from screening.actions import Entry
from screening.models import Battery, Measure, Protocol, Result, Screening
from screening.scoring import Range, parse_value
from screening.wording import write_value
from studio.forms import DayInput
from studio.templatetags.wording import write_number


class OpenScreeningForm(forms.ModelForm):
    class Meta:
        model = Screening
        fields = ["battery", "held_on", "name"]
        widgets = {"held_on": DayInput()}
        labels = {"name": gettext_lazy("Name")}
        help_texts = {"name": gettext_lazy("For example “End of term”.")}

    def __init__(self, *args, today: dt.date, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today
        self.fields["battery"].queryset = Battery.objects.all()
        self.fields["battery"].required = True
        self.fields["battery"].empty_label = None

    def clean_held_on(self) -> dt.date:
        held_on = self.cleaned_data["held_on"]
        if held_on > self.today:
            raise forms.ValidationError(_("This day is still to come."))
        if held_on < self.today - dt.timedelta(days=366):
            raise forms.ValidationError(_("This day is more than a year ago. Bring older results in from a file."))
        return held_on


class ResultForm(forms.Form):
    """One tap or one typed value for one child and side.

    `asked_back` is set where the value is possible but unusual and was not confirmed; then the form is invalid
    and `question` says what to ask.
    """

    key = forms.UUIDField()
    student = forms.IntegerField()
    side = forms.ChoiceField(choices=[("L", "L"), ("R", "R"), ("", "")], required=False)
    value = forms.CharField(max_length=20, required=False, strip=True)
    confirmed = forms.BooleanField(required=False)
    # The result that this one puts right, by the key its tablet gave it.
    corrects_key = forms.UUIDField(required=False)
    at_least = forms.BooleanField(required=False)
    fault = forms.CharField(max_length=40, required=False)
    # Why it is recorded although the student should rest.
    despite = forms.ChoiceField(choices=[("", ""), *Result.DESPITE], required=False)
    is_first_side = forms.TypedChoiceField(
        choices=[("1", "1"), ("0", "0")], required=False, coerce=lambda text: text == "1", empty_value=None
    )

    def __init__(self, data, *, measure: Measure, protocol: Protocol):
        super().__init__(data)
        self.measure, self.protocol = measure, protocol
        self.question = ""
        # The reasons that may be given for measuring somebody who should rest.
        self.despite: list[tuple[str, str]] = []

    def clean_value(self) -> Decimal:
        text = self.cleaned_data["value"]
        if not text:
            raise forms.ValidationError(_("Nothing was entered."))
        value = parse_value(text, self.measure.decimals)
        if value is None:
            a_number, whole = _("“%(text)s” is not a number here."), _("“%(text)s” is not a whole number.")
            raise forms.ValidationError(a_number if self.measure.decimals else whole, params={"text": text})
        if self.measure.kind == Measure.GRADE and not 0 <= value < max(len(self.protocol.grades), 1):
            raise forms.ValidationError(_("There is no such grade."))
        return value

    def clean(self):
        cleaned = super().clean()
        value = cleaned.get("value")
        if value is None or "value" in self.errors:
            return cleaned
        limits = Range(self.measure.hard_low, self.measure.hard_high, self.measure.soft_low, self.measure.soft_high)
        judged = limits.judge(value)
        if judged == "refuse":
            self.add_error("value", _("%(value)s is not possible: from %(low)s to %(high)s.") % {
                "value": write_value(value, self.measure, self.protocol),
                "low": write_number(limits.hard_low), "high": write_number(limits.hard_high),
            })
        elif judged == "ask" and not cleaned.get("confirmed"):
            self.question = self._question(value)
            self.add_error("value", self.question)
        return cleaned

    def _question(self, value: Decimal) -> str:
        cap = self.protocol.cap
        if cap is not None and value > cap and self.measure.kind in (Measure.COUNT, Measure.SECONDS):
            return _("The limit is %(cap)s. Save “at least %(cap)s”?") % {"cap": write_number(cap)}
        return _("%(value)s: sure?") % {"value": self._with_unit(value)}

    def _with_unit(self, value: Decimal) -> str:
        text = write_value(value, self.measure, self.protocol)
        return f"{text} {_(self.measure.unit)}" if self.measure.kind == Measure.COUNT else text

    @property
    def entry(self) -> Entry:
        cleaned = self.cleaned_data
        return Entry(
            value=cleaned["value"], is_confirmed=cleaned["confirmed"], at_least=cleaned["at_least"],
            fault=cleaned["fault"], is_first_side=cleaned["is_first_side"], protocol=self.protocol,
            despite_rest=cleaned["despite"],
        )


class MissingForm(forms.Form):
    """Why a child is not tested."""

    key = forms.UUIDField()
    student = forms.IntegerField()
    reason = forms.ChoiceField(choices=[r for r in Result.REASONS if r[0] != Result.WITHDRAWN])


class TakeBackForm(forms.Form):
    """Undo of one entry: `of` is the key of the entry, `key` that of the undoing."""

    key = forms.UUIDField()
    of = forms.UUIDField()


class ProtocolForm(forms.ModelForm):
    """The wording of a protocol; any change makes the next version."""

    grades_text = forms.CharField(
        label=gettext_lazy("Grades"), required=False, widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("One line a grade, lowest first: word, colon, anchor."),
    )
    faults_text = forms.CharField(
        label=gettext_lazy("Faults"), required=False, help_text=gettext_lazy("Short words, separated by commas.")
    )

    class Meta:
        model = Protocol
        fields = ["short_name", "instruction", "stop_rule", "cap", "beats_per_minute"]
        widgets = {
            "instruction": forms.Textarea(attrs={"rows": 3}), "stop_rule": forms.Textarea(attrs={"rows": 2}),
        }

    def __init__(self, *args, measure: Measure, **kwargs):
        super().__init__(*args, **kwargs)
        self.measure = measure
        protocol = self.instance
        self.fields["grades_text"].initial = "\n".join(f"{word}: {anchor}" for word, anchor in protocol.grades)
        self.fields["faults_text"].initial = ", ".join(protocol.faults)
        if measure.kind != Measure.GRADE:
            del self.fields["grades_text"]
        if measure.kind not in (Measure.COUNT, Measure.SECONDS):
            del self.fields["cap"]
            del self.fields["faults_text"]
        if measure.kind != Measure.COUNT:
            del self.fields["beats_per_minute"]

    def clean_cap(self) -> Decimal | None:
        cap = self.cleaned_data["cap"]
        if cap is not None and not 0 < cap <= self.measure.hard_high:
            high = write_number(self.measure.hard_high)
            raise forms.ValidationError(_("The limit lies between 0 and %(high)s."), params={"high": high})
        return cap

    def clean_beats_per_minute(self) -> int | None:
        beats = self.cleaned_data["beats_per_minute"]
        # Pace range of the published protocols and of studio practice (evidence: 40 to 80 beats).
        if beats is not None and not 40 <= beats <= 80:
            raise forms.ValidationError(_("From 40 to 80 beats a minute."))
        return beats

    def clean_grades_text(self) -> list[list[str]]:
        lines = [line for line in self.cleaned_data["grades_text"].splitlines() if line.strip()]
        grades = [[part.strip() for part in line.partition(":")[::2]] for line in lines]
        wanted = int(self.measure.hard_high) + 1
        if len(grades) != wanted or not all(word for word, _anchor in grades):
            raise forms.ValidationError(_("There are %(n)s grades: write %(n)s lines."), params={"n": wanted})
        return grades

    def changes(self) -> dict:
        cleaned = self.cleaned_data
        made = {name: cleaned[name] for name in self.Meta.fields if name in cleaned}
        if "grades_text" in cleaned:
            made["grades"] = cleaned["grades_text"]
        if "faults_text" in cleaned:
            made["faults"] = [word.strip() for word in cleaned["faults_text"].split(",") if word.strip()]
        return made


class MeasureForm(forms.ModelForm):
    """What is plausible, and the typical error with its source: the figures apart from what a teacher decides."""

    FIGURES = (
        "typical_error", "typical_error_other", "typical_error_basis", "typical_gain", "typical_gain_basis",
        "pinned_error", "pinned_gain",
    )

    @property
    def plain(self) -> list[forms.BoundField]:
        return [field for field in self if field.name not in self.FIGURES]

    @property
    def figures(self) -> list[forms.BoundField]:
        return [field for field in self if field.name in self.FIGURES]

    @property
    def figures_are_wrong(self) -> bool:
        return any(name in self.errors for name in self.FIGURES)

    class Meta:
        model = Measure
        fields = [
            "attempts", "score_rule", "soft_low", "soft_high", "typical_error", "typical_error_other",
            "typical_error_basis", "typical_gain", "typical_gain_basis", "pinned_error", "pinned_gain",
            "family_name", "practice",
        ]
        widgets = {
            "typical_error_basis": forms.Textarea(attrs={"rows": 2}),
            "typical_gain_basis": forms.Textarea(attrs={"rows": 2}),
        }

    def clean(self):
        cleaned = super().clean()
        low, high = cleaned.get("soft_low"), cleaned.get("soft_high")
        if low is not None and high is not None:
            if low >= high:
                self.add_error("soft_high", _("This lies below the lower limit."))
            elif low < self.instance.hard_low or high > self.instance.hard_high:
                self.add_error("soft_low", _("The limits lie inside what is possible, %(low)s to %(high)s.") % {
                    "low": self.instance.hard_low, "high": self.instance.hard_high})
        for name, basis in (("typical_error", "typical_error_basis"), ("typical_gain", "typical_gain_basis")):
            value = cleaned.get(name)
            if value is not None and not 0 < value < 1000:
                self.add_error(name, _("This must be more than 0."))
            pinned = cleaned.get(f"pinned_{name.removeprefix('typical_')}")
            if pinned is not None and not 0 < pinned < 1000:
                self.add_error(f"pinned_{name.removeprefix('typical_')}", _("This must be more than 0."))
            if value and not cleaned.get(basis, "").strip():
                self.add_error(basis, _("Say where the figure comes from, or write “assumption”."))
        return cleaned


class BatteryForm(forms.ModelForm):
    class Meta:
        model = Battery
        fields = ["name", "measures"]
        widgets = {"measures": forms.CheckboxSelectMultiple}


def new_key() -> str:
    """A key for the next entry, so that sending it twice stores it once."""
    return str(uuids.uuid4())
