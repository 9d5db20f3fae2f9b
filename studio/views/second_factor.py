"""One's second factor: set up with an app, recovery codes, taken away; and taken away by the owner for another."""
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from studio.entrance import second_factor as factor
from studio.entrance.forms import AppForm, OwnPasswordForm
from studio.entrance.keys import Visit
from studio.models import User
from studio.network.qr_code import qr_code
from studio.pages import show
from studio.permissions import only


@require_http_methods(["GET", "POST"])
def second_factor(request: HttpRequest) -> HttpResponse:
    """Set it up, or what to do with it once it is."""
    return _keep(request) if factor.has_second_factor(request.user) else _set_up(request)


def _set_up(request: HttpRequest) -> HttpResponse:
    key = request.session.setdefault("app_key", factor.new_key())
    form = AppForm(request.POST or None, request=request)
    if request.method == "POST" and form.is_valid():
        here = request.session.session_key
        codes = factor.set_up(person=request.user, key=key, code=form.cleaned_data["code"], here=here)
        if codes:
            request.session.pop("app_key")
            request.session["way"] = Visit.CODE
            return show(request, "studio/recovery_codes.html", {"codes": codes})
        form.add_error("code", _("This code does not fit. Is the clock of the phone right?"))
    return show(request, "studio/set_up_second_factor.html", {
        "form": form, "key_words": factor.key_words(key), "square": qr_code(factor.address_for_app(request.user, key)),
        "is_asked": factor.is_asked_of(request.user, request.studio),
    })


def _keep(request: HttpRequest) -> HttpResponse:
    form = OwnPasswordForm(request.POST or None, request=request)
    if request.method == "POST" and form.is_valid():
        if request.POST.get("do") == "remove":
            factor.remove_second_factor(person=request.user, by=request.user, here=request.session.session_key)
            messages.success(request, _("Your second factor is removed."))
            return redirect("studio:account")
        codes = factor.make_recovery_codes(person=request.user)
        return show(request, "studio/recovery_codes.html", {"codes": codes})
    return show(request, "studio/second_factor.html", {"form": form, "left": factor.recovery_codes_left(request.user)})


@require_POST
@only("run_office", password=True)
def drop_second_factor(request: HttpRequest, user_id: int) -> HttpResponse:
    """For somebody else who lost phone and codes; one's own needs the password."""
    person = get_object_or_404(User.objects.exclude(pk=request.user.pk), pk=user_id)
    factor.remove_second_factor(person=person, by=request.user)
    messages.success(request, _("%(name)s logs in by password alone until a second factor is set up again.") % {
        "name": person.name})
    return redirect("studio:edit-person", user_id=person.pk)
