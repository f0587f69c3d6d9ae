"""Signing in and out, the first account, and how a tablet comes to trust the installation."""

from __future__ import annotations

from typing import cast

from django import forms
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login, logout, password_validation, update_session_auth_hash
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext_lazy as _

from lastscrew.bench.access.rights import Route
from lastscrew.bench.access.signing_in import (
    forget_first_code,
    is_first_code,
    needs_first_account,
    sign_in,
)
from lastscrew.bench.depot.events import AccountChanged
from lastscrew.bench.models import Person
from lastscrew.bench.pages.common import who
from lastscrew.bench.serving.trust import Trust, trust_of
from lastscrew.bench.store.adding import add_depot_event

_MUST_WAIT = _("Too many tries have failed. Wait a quarter of an hour, or ask a lead.")


class SignInForm(forms.Form):
    """Name and password."""

    name = forms.CharField(
        label=_("Name"), max_length=150, widget=forms.TextInput({"autocomplete": "username"})
    )
    password = forms.CharField(
        label=_("Password"),
        max_length=1000,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "current-password"}),
    )


class FirstForm(forms.Form):
    """The first account; it is a lead's."""

    code = forms.CharField(
        label=_("Code from the machine that serves"),
        max_length=100,
        widget=forms.TextInput({"autocomplete": "off"}),
    )
    name = forms.RegexField(
        r"^[\w.@+-]+$",
        label=_("Name"),
        max_length=80,
        widget=forms.TextInput({"autocomplete": "username"}),
    )
    password = forms.CharField(
        label=_("Password, ten signs or more"),
        max_length=1000,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
    )

    def clean_code(self) -> str:
        """Only who sees the terminal may make the first account."""
        code = str(self.cleaned_data["code"])
        if not is_first_code(settings.CONFIG, code):
            raise forms.ValidationError(
                _("This is not the code. It stands where the server was started.")
            )
        return code

    def clean_password(self) -> str:
        """By the rules for passwords."""
        password = str(self.cleaned_data["password"])
        password_validation.validate_password(password)
        return password


class OwnPasswordForm(forms.Form):
    """A person's own password anew."""

    old = forms.CharField(
        label=_("Present password"),
        max_length=1000,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "current-password"}),
    )
    password = forms.CharField(
        label=_("New password, ten signs or more"),
        max_length=1000,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
    )

    def __init__(self, person: Person, data: QueryDict | None) -> None:
        """The form of one person."""
        super().__init__(data)
        self.person = person

    def clean_password(self) -> str:
        """By the rules for passwords."""
        password = str(self.cleaned_data["password"])
        password_validation.validate_password(password, self.person)
        return password


def sign_in_page(request: HttpRequest) -> HttpResponse:
    """Sign in, or make the first account where there is none."""
    if settings.CONFIG.is_local:
        return redirect("home")
    if needs_first_account():
        return redirect("first_account")
    form = SignInForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        tried = sign_in(request, form.cleaned_data["name"], form.cleaned_data["password"])
        if tried.person is not None:
            login(request, tried.person)
            return redirect(_next(request))
        form.add_error(None, _MUST_WAIT if tried.must_wait else _("Name and password do not fit."))
    return render(
        request,
        "bench/accounts/sign_in.html",
        {"form": form, "next": _next(request)},
        status=403 if form.errors else 200,
    )


def _next(request: HttpRequest) -> str:
    """Where to go on: a page of ours, never elsewhere."""
    wanted = request.POST.get("next") or request.GET.get("next") or "/"
    fits = url_has_allowed_host_and_scheme(
        wanted, {request.get_host()}, require_https=request.is_secure()
    )
    return wanted if fits else "/"


def sign_out(request: HttpRequest) -> HttpResponse:
    """Sign out (only by a form: a picture on another page can't do it)."""
    if request.method == "POST":
        logout(request)
    return redirect("sign_in")


def own_password(request: HttpRequest) -> HttpResponse:
    """Change one's own password; the present one is asked, and guessing at it is slowed down as at the door."""
    if settings.CONFIG.is_local:
        return redirect("home")
    person = cast("Person", request.user)
    form = OwnPasswordForm(person, request.POST or None)
    if request.method == "POST" and form.is_valid():
        tried = sign_in(request, person.username, form.cleaned_data["old"])
        if tried.person is not None:
            tried.person.set_password(form.cleaned_data["password"])
            tried.person.save()
            what = AccountChanged(account=person.username, what="password")
            add_depot_event("", what, by=who(request))
            update_session_auth_hash(request, tried.person)
            messages.success(request, _("Your password is changed. Other screens sign in anew."))
            return redirect("home")
        form.add_error("old", _MUST_WAIT if tried.must_wait else _("This is not your password."))
    return render(
        request, "bench/accounts/password.html", {"form": form}, status=400 if form.errors else 200
    )


def first_account(request: HttpRequest) -> HttpResponse:
    """Make the first account, with the code that stands on the terminal."""
    if settings.CONFIG.is_local or not needs_first_account():
        return redirect("sign_in")
    form = FirstForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        person = Person.objects.create_user(
            form.cleaned_data["name"], password=form.cleaned_data["password"], role=Person.Role.LEAD
        )
        made = AccountChanged(account=person.username, what="made", role=Person.Role.LEAD.value)
        add_depot_event("", made, by=str(person))
        forget_first_code(settings.CONFIG)
        login(request, person)
        return redirect("home")
    return render(
        request, "bench/accounts/first.html", {"form": form}, status=400 if form.errors else 200
    )


def trust_page(request: HttpRequest) -> HttpResponse:
    """How another screen comes to trust this installation."""
    return render(request, "bench/accounts/trust.html", {"trust": _trust()})


def trust_certificate(_request: HttpRequest) -> HttpResponseBase:
    """The authority's certificate, to be put among the trusted ones."""
    trust = _trust()
    return FileResponse(
        trust.file.open("rb"),
        as_attachment=True,
        filename="lastscrew-authority.crt",
        content_type="application/x-x509-ca-cert",
    )


def _trust() -> Trust:
    trust = trust_of(settings.CONFIG)
    if trust is None:
        raise Http404
    return trust


ROUTES = (
    Route("login/", sign_in_page, "sign_in", "anybody", "anybody"),
    Route("logout/", sign_out, "sign_out", "anybody", "anybody"),
    Route("password/", own_password, "own_password", "guest", "guest"),
    Route("first/", first_account, "first_account", "anybody", "anybody"),
    Route("trust/", trust_page, "trust", "anybody", "lead"),
    Route("trust/authority.crt", trust_certificate, "trust_certificate", "anybody", "lead"),
)
