"""The owner's stricter answers to pain: from which number, and where, a doctor looks on the same day."""
from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from progress.rules import feet, pain


def place_choices() -> list[tuple[str, str]]:
    """The places of both feet and legs without their sides; head and neck have a rule of their own."""
    names = [(region.key, _(region.name)) for region in feet.REGIONS]
    more = [
        ("outer-edge", _("outer edge of the foot")), ("shin", _("shin")), ("knee", _("knee")), ("hip", _("hip")),
        ("back", _("back")),
    ]
    return names + more


class StricterPainForm(forms.Form):
    doctor_from = forms.TypedChoiceField(
        label=gettext_lazy("A doctor today from"), coerce=int,
        choices=[(number, str(number)) for number in range(pain.SEVERE_FROM, 0, -1)],
        help_text=gettext_lazy("Of 10. Eight is the program’s own rule. You can set it lower, never higher."),
    )
    doctor_places = forms.MultipleChoiceField(
        label=gettext_lazy("A doctor today, whatever it feels like, when pain here stopped the exercise"),
        widget=forms.CheckboxSelectMultiple, choices=place_choices, required=False,
    )
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=300, strip=True)
