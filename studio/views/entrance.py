"""The entrance: in by password or PIN, locked, out; each answers a page, or JSON to the lock that lies over one."""
from urllib.parse import urlencode

from django.contrib.auth import logout
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from studio.audit.marks import mark_outcome, mark_person
from studio.audit.models import AuditRow
from studio.entrance.actions import PinRested, try_pin
from studio.entrance.forms import CodeForm, LoginForm, PinEntryForm
from studio.entrance.keys import Visit
from studio.entrance.queries import people_with_pin
from studio.entrance.second_factor import TooSoon, check_code, has_second_factor
from studio.entrance.visits import enter, person_waiting, wait_for_code
from studio.models import User
from studio.pages import asks_as_lock


class LoginPage(LoginView):
    """Name and password; on an enrolled tablet first the names of those who have a PIN."""

    http_method_names = ["get", "post"]
    template_name = "studio/login.html"
    authentication_form = LoginForm
    refused_status = 200

    @property
    def redirect_authenticated_user(self) -> bool:
        """A visit that goes on at the server is no reason to open a locked page unasked."""
        return not asks_as_lock(self.request)

    def form_valid(self, form):
        person = form.get_user()
        if self.request.tablet or not has_second_factor(person):
            return self.let_in(person, Visit.PASSWORD)
        wait_for_code(self.request, person)
        mark_outcome(self.request, AuditRow.ASKED)
        mark_person(self.request, AuditRow.NOBODY, person.pk)
        if asks_as_lock(self.request):
            return JsonResponse({"why": _("Your second factor is asked for on a page of its own.")}, status=422)
        query = urlencode({"next": self.get_redirect_url()}) if self.get_redirect_url() else ""
        return redirect(f"{reverse('studio:login-code')}?{query}".rstrip("?"))

    def form_invalid(self, form):
        self.note_refusal(form)
        if asks_as_lock(self.request):
            words = " ".join(str(error) for errors in form.errors.values() for error in errors)
            return JsonResponse({"why": words}, status=422)
        return self.render_to_response(self.get_context_data(form=form), status=self.refused_status)

    def note_refusal(self, form) -> None:
        """Whose door was tried, as far as there is one of that name; never what was typed."""
        mark_outcome(self.request, AuditRow.REFUSED)
        mark_person(self.request, AuditRow.NOBODY, self.key_tried(form))

    def key_tried(self, form) -> int | None:
        tried = User.objects.filter(username=form.data.get("username", "")[:150])
        return tried.values_list("pk", flat=True).first()

    def let_in(self, person, way: str) -> HttpResponse:
        enter(self.request, person, way=way)
        if not asks_as_lock(self.request):
            return HttpResponseRedirect(self.get_success_url())
        answer = {
            "person": person.pk, "visit": self.request.session.visit.began_at.timestamp(),
            "token": get_token(self.request), "pin_set": person.pin.set_at.timestamp() if way == Visit.PIN else 0,
        }
        return JsonResponse(answer)

    def get_context_data(self, **kwargs):
        offers_pin = self.request.tablet and "by_password" not in self.request.GET and not self.request.POST
        people = people_with_pin() if offers_pin else ()
        pin_form = PinEntryForm(people=people) if people else None
        return super().get_context_data(**{"pin_form": pin_form, **kwargs})


def fresh_login(request: HttpRequest) -> HttpResponse:
    """The entrance once more, with a token that is valid, for a page whose token is old: two pages that were opened at
    the same moment made one each. The name is still there; a password is never sent back."""
    page = LoginPage()
    page.setup(request)
    words = _("This page was too old to send. It is fresh now: type your password once more.")
    form = LoginForm(request, initial={"username": request.POST.get("username", "")[:150]})
    return page.render_to_response(page.get_context_data(form=form, refused=words), status=403)


class PinPage(LoginPage):
    """A PIN from an enrolled tablet; from anywhere else it is not even looked at."""

    refused_status = 422

    def get_form(self, form_class=None):
        return PinEntryForm(self.request.POST or None, people=people_with_pin())

    def key_tried(self, form) -> int | None:
        person = form.cleaned_data.get("person")
        return person.pk if person else None

    def get(self, request, *args, **kwargs):
        """Reached by reloading; the names are for enrolled tablets only, and there at the entrance."""
        return redirect("studio:login")

    def post(self, request, *args, **kwargs):
        if request.tablet is None:
            return self.to_password(_("PINs open enrolled tablets only. Log in with your password."), 403)
        return super().post(request, *args, **kwargs)

    def form_valid(self, form):
        person = form.cleaned_data["person"]
        try:
            is_right = try_pin(tablet=self.request.tablet, person=person, pin=form.cleaned_data["pin"])
        except PinRested:
            self.note_refusal(form)
            words = _("Five wrong PINs. Log in with your password. After that the PIN works again.")
            return self.to_password(words, 429, username=person.username)
        if is_right:
            return self.let_in(person, Visit.PIN)
        form.add_error("pin", _("This is not %(name)s’s PIN.") % {"name": person.get_short_name()})
        return self.form_invalid(form)

    def get_context_data(self, **kwargs):
        form = kwargs.pop("form", None) or self.get_form()
        return super().get_context_data(**{"form": LoginForm(self.request), "pin_form": form, **kwargs})

    def to_password(self, words: str, status: int, **known) -> HttpResponse:
        if asks_as_lock(self.request):
            return JsonResponse({"why": words, "needs_password": True}, status=status)
        context = {"pin_form": None, "refused": words}
        page = LoginPage.get_context_data(self, form=LoginForm(self.request, initial=known), **context)
        return self.render_to_response(page, status=status)


class CodePage(LoginPage):
    """The second half of a log-in: the code that an app shows, or a recovery code."""

    template_name = "studio/login_code.html"
    refused_status = 422

    def get_form(self, form_class=None):
        return CodeForm(self.request.POST or None)

    def get(self, request, *args, **kwargs):
        return super().get(request, *args, **kwargs) if person_waiting(request) else redirect("studio:login")

    def post(self, request, *args, **kwargs):
        if person_waiting(request):
            return super().post(request, *args, **kwargs)
        mark_outcome(request, AuditRow.REFUSED)
        return redirect("studio:login")

    def key_tried(self, form) -> int | None:
        person = person_waiting(self.request)
        return person.pk if person else None

    def form_valid(self, form):
        person = person_waiting(self.request)
        try:
            if check_code(person=person, code=form.cleaned_data["code"]):
                return self.let_in(person, Visit.CODE)
            words = _("This code does not fit, or it was used already.")
        except TooSoon as wait:
            words = _("Too many wrong codes. Wait until %(time)s.") % {
                "time": timezone.localtime(wait.until).strftime("%H:%M:%S")}
        form.add_error("code", words)
        return self.form_invalid(form)


class LogoutPage(LogoutView):
    http_method_names = ["post"]

    def post(self, request, *args, **kwargs):
        response = super().post(request, *args, **kwargs)
        # What the browser kept of these pages goes with the person.
        response.headers["Clear-Site-Data"] = '"cache"'
        return response


@require_POST
def lock(request: HttpRequest) -> HttpResponse:
    """Ends the visit and leaves the entrance for the next person; what a tablet keeps of the visit stays on it."""
    logout(request)
    return HttpResponse(status=204) if asks_as_lock(request) else redirect("studio:login")


@require_POST
def still_here(request: HttpRequest) -> HttpResponse:
    """A page says that a hand was on it, though it asked for nothing."""
    return HttpResponse(status=204)
