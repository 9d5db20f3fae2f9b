"""Asks for the student's name before the erasure; erases nothing itself."""
from django import forms
from django.utils.translation import gettext_lazy as _

from studio.models import Student


class EraseForm(forms.Form):
    name = forms.CharField(
        label=_("Type the whole name"), max_length=120, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )

    def __init__(self, *args, student: Student, **kwargs):
        super().__init__(*args, **kwargs)
        self.student = student

    def clean_name(self) -> str:
        if self.cleaned_data["name"] != self.student.name:
            raise forms.ValidationError(_("This is not the name above. Nothing was erased."))
        return self.cleaned_data["name"]
