"""Forms of the judgement: pain, follow-ups, targets; they check what was typed and write nothing themselves."""
import datetime as dt

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from progress import feet, pain
from progress.models import FollowUp, PainAnswer
from studio.forms import DayInput, TableFileField
from studio.models import User
from studio.permissions import people_reaching
from studio.templatetags.wording import write_number


class PainForm(forms.Form):
    """What was tapped. A place or "somewhere else" and a feel are needed; the rest may stay open."""

    key = forms.UUIDField()
    region = forms.MultipleChoiceField(choices=[(key, key) for key in feet.PLACE_KEYS], required=False)
    feels = forms.ChoiceField(choices=[(key, gettext_lazy(words)) for key, words in pain.FEELS])
    intensity = forms.IntegerField(min_value=0, max_value=10, required=False)
    stopped = forms.ChoiceField(choices=[("", ""), *pain.STOPPED], required=False)
    note = forms.CharField(max_length=300, required=False, strip=True)

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["feels"].error_messages["required"] = _("Tap what it feels like.")

    def clean(self):
        cleaned = super().clean()
        if not cleaned.get("region") and not cleaned.get("note") and "region" not in self.errors:
            self.add_error("region", _("Tap where it hurts, or write where."))
        return cleaned


class NoteForm(forms.Form):
    text = forms.CharField(
        label=gettext_lazy("A note meanwhile"), strip=True, max_length=2000,
        widget=forms.Textarea(attrs={"rows": 1}),
        error_messages={"required": gettext_lazy("Say in a few words what was done. What you typed is still here.")},
    )


class CloseForm(NoteForm):
    """A closing note; about pain also who answered it."""

    seen = forms.IntegerField(widget=forms.HiddenInput, required=False)
    answer = forms.ChoiceField(
        label=gettext_lazy("Who answered it?"), widget=forms.RadioSelect, choices=PainAnswer.ANSWERS,
        error_messages={"required": gettext_lazy("Say who answered it before you close it.")},
    )

    def __init__(self, *args, follow_up: FollowUp, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["text"].label = _("What was done?")
        if not follow_up.is_about_pain:
            del self.fields["answer"]
        # What the page showed: a report that came after it was not answered by whoever closes.
        self.fields["seen"].initial = max((report.pk for report in follow_up.pain_reports.all()), default=0)


class HandOverForm(forms.Form):
    acts = forms.ModelChoiceField(User.objects.none(), label=gettext_lazy("Acts"))
    due_on = forms.DateField(label=gettext_lazy("By"), widget=DayInput())

    def __init__(self, *args, follow_up: FollowUp, today: dt.date, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["acts"].queryset = people_reaching(follow_up.student, today=today).order_by("name")

    def clean_due_on(self) -> dt.date:
        due_on = self.cleaned_data["due_on"]
        if not 2000 <= due_on.year <= 2200:
            raise forms.ValidationError(_("This is not a likely day."))
        return due_on


class TargetForm(forms.Form):
    """One stage's target in one measure; an empty value means none."""

    value = forms.DecimalField(required=False, max_digits=7, decimal_places=2, label=gettext_lazy("Target"))
    basis = forms.CharField(required=False, max_length=200, label=gettext_lazy("Source"))

    def __init__(self, *args, measure, **kwargs):
        super().__init__(*args, **kwargs)
        self.measure = measure

    def clean_value(self):
        value = self.cleaned_data["value"]
        if value is not None and not self.measure.hard_low < value <= self.measure.hard_high:
            limits = {"low": write_number(self.measure.hard_low), "high": write_number(self.measure.hard_high)}
            raise forms.ValidationError(_("Between %(low)s and %(high)s."), params=limits)
        return value


class ResultsFileForm(forms.Form):
    """A file of past results, and the class they were taken in."""

    file = TableFileField(
        label=gettext_lazy("File"),
        help_text=gettext_lazy("CSV or XLSX with the columns student, measure, side, attempt, value, date."),
    )
    class_group = forms.ModelChoiceField(None, label=gettext_lazy("Class"))

    def __init__(self, *args, classes, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["class_group"].queryset = classes
