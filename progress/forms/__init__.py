"""Forms of the judgement: pain, follow-ups, targets; they check what was typed and write nothing themselves."""
import datetime as dt

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from progress.models import FollowUp, IssuedReport
from studio.forms import DayInput, TableFileField, refuse_unlikely_day
from studio.models import ClassGroup, Term, User
from studio.permissions import people_reaching
from studio.templatetags.wording import write_number


class NoteForm(forms.Form):
    text = forms.CharField(
        label=gettext_lazy("A note for now"), strip=True, max_length=2000,
        widget=forms.Textarea(attrs={"rows": 1}),
        error_messages={"required": gettext_lazy("Say in a few words what was done. What you typed is still here.")},
    )


class CloseForm(NoteForm):
    """A closing note."""

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["text"].label = _("What was done?")


class HandOverForm(forms.Form):
    acts = forms.ModelChoiceField(User.objects.none(), label=gettext_lazy("Who acts"))
    due_on = forms.DateField(label=gettext_lazy("By when"), widget=DayInput())
    why = forms.CharField(label=gettext_lazy("Why another day?"), max_length=300, required=False, strip=True)

    def __init__(self, *args, follow_up: FollowUp, today: dt.date, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["acts"].queryset = people_reaching(follow_up.student, today=today).order_by("name")

    def clean_due_on(self) -> dt.date:
        refuse_unlikely_day(self.cleaned_data["due_on"])
        return self.cleaned_data["due_on"]


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
        help_text=gettext_lazy("XLSX, XLS, ODS or CSV with the columns student, measure, side, attempt, value, date."),
    )
    class_group = forms.ModelChoiceField(ClassGroup.objects.all(), label=gettext_lazy("Class"))


class ReportsForm(forms.Form):
    """Which reports of which term, for whom, on which paper."""

    term = forms.ModelChoiceField(Term.objects.all(), label=gettext_lazy("Term"), empty_label=None)
    kind = forms.ChoiceField(label=gettext_lazy("What"), choices=IssuedReport.KINDS)
    classes = forms.ModelMultipleChoiceField(
        ClassGroup.objects.all(), label=gettext_lazy("Classes"), required=False, widget=forms.CheckboxSelectMultiple,
        help_text=gettext_lazy("None ticked: every class of the term."),
    )
    size = forms.ChoiceField(label=gettext_lazy("Paper"), choices=[("A4", "A4"), ("Letter", "Letter")])
