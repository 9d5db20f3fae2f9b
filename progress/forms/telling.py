"""The form that keeps who at home was told."""
import uuid as uuids
from collections.abc import Sequence

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from progress.models import HomeTold
from studio.models import Guardian

SOMEBODY_ELSE = "else"


class TellForm(forms.Form):
    """Who was told, and how; one of the guardians, or a name."""

    key = forms.UUIDField(widget=forms.HiddenInput)
    guardian = forms.ChoiceField(label=gettext_lazy("Who was told?"), choices=[])
    who = forms.CharField(label=gettext_lazy("Name, if somebody else"), max_length=120, required=False, strip=True)
    way = forms.ChoiceField(label=gettext_lazy("How?"), choices=HomeTold.WAYS)
    note = forms.CharField(label=gettext_lazy("A note"), max_length=300, required=False, strip=True)

    def __init__(self, *args, guardians: Sequence[Guardian], **kwargs):
        super().__init__(*args, auto_id="told_%s", **kwargs)
        self.guardians = {str(guardian.pk): guardian for guardian in guardians}
        self.fields["guardian"].choices = [*self.guardians.items(), (SOMEBODY_ELSE, _("somebody else"))]
        if not guardians:
            del self.fields["guardian"]
            self.fields["who"].label = _("Who was told?")
        self.fields["key"].initial = uuids.uuid4()

    def clean(self):
        cleaned = super().clean()
        cleaned["guardian"] = self.guardians.get(cleaned.get("guardian"))
        if not cleaned["guardian"] and not cleaned.get("who"):
            self.add_error("who", _("Say who was told."))
        return cleaned
