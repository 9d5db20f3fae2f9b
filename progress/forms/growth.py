"""The form of a height; an odd one is asked back."""
import datetime as dt

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from progress.models.growth import HIGHEST, LOWEST
from progress.rules import growth
from studio.forms import DayInput, refuse_unlikely_day
from studio.templatetags.wording import write_number


class HeightForm(forms.Form):
    """One height; an unusual one is asked back, an impossible one refused."""

    height_cm = forms.DecimalField(
        label=gettext_lazy("Height, cm"), min_value=LOWEST, max_value=HIGHEST, max_digits=4, decimal_places=1,
        help_text=gettext_lazy("Shoes off. Take two readings within half a centimetre and enter the middle."),
    )
    measured_on = forms.DateField(label=gettext_lazy("Measured on"), widget=DayInput())
    height_is_right = forms.BooleanField(
        required=False, widget=forms.HiddenInput, label=gettext_lazy("The height is right")
    )

    def __init__(self, *args, today: dt.date, others: list[growth.Reading], **kwargs):
        super().__init__(*args, **kwargs)
        self.today, self.others = today, others

    def clean_measured_on(self) -> dt.date:
        on = self.cleaned_data["measured_on"]
        refuse_unlikely_day(on)
        if on > self.today:
            raise forms.ValidationError(_("This day is still to come."))
        if any(other.on == on for other in self.others):
            raise forms.ValidationError(_("There is a height of this day already. Correct that one."))
        return on

    def clean(self):
        cleaned = super().clean()
        height, on = cleaned.get("height_cm"), cleaned.get("measured_on")
        if height is None or on is None or cleaned.get("height_is_right"):
            return cleaned
        odd = growth.is_unusual(growth.Reading(float(height), on), self.others)
        if odd:
            self.fields["height_is_right"].widget = forms.CheckboxInput()
            self.add_error("height_cm", {
                "height": _("%(height)s cm: sure? Tick “The height is right” below."),
                "change": _("%(height)s cm is far from the other heights: sure? Tick “The height is right” below."),
            }[odd] % {"height": write_number(height, 1)})
        return cleaned
