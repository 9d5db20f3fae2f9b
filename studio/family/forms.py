"""Forms about families: a consent as it was signed or said, and the birth date behind a link; they write nothing."""
import datetime as dt

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from studio.family.models import Consent
from studio.forms import DayInput, HttpsURLField, refuse_unlikely_day
from studio.models import Studio

GIVEN, TAKEN_BACK = "given", "taken_back"


class ConsentForm(forms.Form):
    """What was agreed or taken back, by whom, how and when."""

    scopes = forms.MultipleChoiceField(label=_("For what"), choices=Consent.SCOPES, widget=forms.CheckboxSelectMultiple)
    answer = forms.ChoiceField(
        label=_("Answer"), choices=[(GIVEN, _("given")), (TAKEN_BACK, _("taken back, or not given"))],
        widget=forms.RadioSelect, initial=GIVEN,
    )
    said_by = forms.CharField(label=_("Who said so"), max_length=120)
    way = forms.ChoiceField(label=_("How"), choices=[each for each in Consent.WAYS if each[0] != Consent.PAGE])
    on = forms.DateField(label=_("When"), widget=DayInput(), validators=[refuse_unlikely_day])

    def __init__(self, *args, today: dt.date, **kwargs):
        super().__init__(*args, **kwargs)
        self.today = today
        self.fields["on"].initial = today

    def clean_on(self) -> dt.date:
        if self.cleaned_data["on"] > self.today:
            raise forms.ValidationError(_("This day is still to come."))
        return self.cleaned_data["on"]

    @property
    def is_given(self) -> bool:
        return self.cleaned_data["answer"] == GIVEN

    @property
    def at(self) -> dt.datetime:
        """The instant from which it holds: now for today, the start of an earlier day."""
        on = self.cleaned_data["on"]
        return timezone.now() if on == self.today else timezone.make_aware(dt.datetime.combine(on, dt.time.min))


class ClassConsentForm(ConsentForm):
    """The same answer of several families, as a pile of signed forms; each is signed by the guardian on record."""

    said_by = None


class FamilyAddressForm(forms.ModelForm):
    """Where the links of families lead, asked when the first cards are made."""

    class Meta:
        model = Studio
        fields = ["family_address"]
        field_classes = {"family_address": HttpsURLField}


class BirthDateForm(forms.Form):
    """The birth date of the child whose page is behind the link."""

    WRONG = _("This is not the birth date that we have. Look again, or ask the studio.")
    birth_on = forms.DateField(label=_("Birth date of your child"), widget=DayInput())
