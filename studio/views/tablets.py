"""The owner's list of enrolled tablets: this browser is enrolled, any of them revoked."""
from django.contrib import messages
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from studio.entrance import actions, queries
from studio.entrance.forms import TabletForm
from studio.entrance.keys import Tablet
from studio.entrance.visits import keep_token
from studio.pages import show
from studio.permissions import only


@require_http_methods(["GET", "POST"])
@only("run_office")
def tablets(request: HttpRequest) -> HttpResponse:
    """The list; a name sent enrols the browser that sent it."""
    form = TabletForm(request.POST or None)
    if request.method == "POST" and request.tablet:
        messages.warning(request, _("This browser is enrolled already."))
        return redirect("studio:tablets")
    if request.method == "POST" and form.is_valid():
        tablet, token = actions.enrol_tablet(name=form.cleaned_data["name"], by=request.user)
        request.session["tablet"] = tablet.pk
        messages.success(request, _("This browser is enrolled as “%(name)s”.") % {"name": tablet})
        return keep_token(redirect("studio:tablets"), token)
    context = {"room": "office", "form": form, "tablets": queries.tablets(now=request.now)}
    return show(request, "studio/tablets.html", context)


@require_POST
@only("run_office")
def revoke_tablet(request: HttpRequest, tablet_id: int) -> HttpResponse:
    tablet, by = get_object_or_404(Tablet, pk=tablet_id), request.user
    if request.tablet == tablet:
        # The asker's own visit ends with it.
        logout(request)
    actions.revoke_tablet(tablet=tablet, by=by)
    messages.success(request, _("“%(name)s” is revoked. Whoever was logged in on it is logged out.") % {"name": tablet})
    return redirect("studio:tablets")
