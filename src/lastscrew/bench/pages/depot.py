"""What leads look after: people, tokens of other systems, the depot's rules, the trail of all that."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import cast

from django import forms
from django.contrib import messages
from django.contrib.auth import password_validation, update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from lastscrew.bench.access.gate import BENCH_NAME
from lastscrew.bench.access.rights import Route
from lastscrew.bench.access.tokens import SCOPES, make_token
from lastscrew.bench.depot.event_words import say
from lastscrew.bench.depot.events import HAPPENINGS, AccountChanged, RuleChanged
from lastscrew.bench.depot.folded import folded
from lastscrew.bench.models import Person, StoredEvent, Token
from lastscrew.bench.pages.common import sent_only, who
from lastscrew.bench.store.adding import add_depot_event
from lastscrew.bench.store.rules import MOST, DepotRules, depot_rules
from lastscrew.run.lines import event_from_json

TRAIL = (
    "account_changed", "rule_changed", "revision_published", "owner_erased", "branch_decided",
    "waiting_given_up",
)  # fmt: skip
TRAIL_LINES = 200


class PersonForm(forms.Form):
    """A new account."""

    name = forms.RegexField(
        r"^[\w.@+-]+$", label=gettext_lazy("Name to sign in with"), max_length=80
    )
    shown_name = forms.CharField(
        label=gettext_lazy("Name as records show it"), max_length=80, required=False
    )
    role = forms.ChoiceField(label=gettext_lazy("Role"), choices=Person.Role.choices)
    is_beginner = forms.BooleanField(
        label=gettext_lazy("Beginner: a second person looks at all work before it is closed"),
        required=False,
    )
    password = forms.CharField(
        label=gettext_lazy("First password, ten signs or more"),
        max_length=1000,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
    )

    def clean_name(self) -> str:
        """A name is given once."""
        name = str(self.cleaned_data["name"])
        taken = Person.objects.values_list("username", flat=True)
        if folded(name) in map(folded, taken):
            raise forms.ValidationError(_("This name is taken."))
        return name

    def clean_password(self) -> str:
        """By the rules for passwords."""
        password = str(self.cleaned_data["password"])
        password_validation.validate_password(password)
        return password


class ChangeForm(forms.Form):
    """What may be changed about an account; an empty password stays as it is."""

    shown_name = forms.CharField(
        label=gettext_lazy("Name as records show it"), max_length=80, required=False
    )
    role = forms.ChoiceField(label=gettext_lazy("Role"), choices=Person.Role.choices)
    is_beginner = forms.BooleanField(label=gettext_lazy("Beginner"), required=False)
    is_active = forms.BooleanField(label=gettext_lazy("May sign in"), required=False)
    password = forms.CharField(
        label=gettext_lazy("New password (empty: stays)"),
        max_length=1000,
        required=False,
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}),
    )

    def clean_password(self) -> str:
        """By the rules for passwords."""
        password = str(self.cleaned_data["password"])
        if password:
            password_validation.validate_password(password)
        return password


class TokenForm(forms.Form):
    """A new token."""

    name = forms.CharField(label=gettext_lazy("Which system"), max_length=80)
    scopes = forms.MultipleChoiceField(
        label=gettext_lazy("What it may do"),
        choices=list(SCOPES.items()),
        widget=forms.CheckboxSelectMultiple,
    )

    def clean_name(self) -> str:
        """A name is given once."""
        name = str(self.cleaned_data["name"]).strip()
        if Token.objects.filter(name=name).exists():
            raise forms.ValidationError(_("This name is taken."))
        return name


class RulesForm(forms.Form):
    """The depot's rules."""

    second_check_share = forms.FloatField(
        label=gettext_lazy("Share of jobs that a second person looks at (0 to 1)"),
        help_text=gettext_lazy("A beginner's jobs are all looked at, whatever stands here."),
        min_value=0,
        max_value=MOST["second_check_share"],
    )
    erase_after_days = forms.FloatField(
        label=gettext_lazy("Days after hand-back until the owner's data are erased"),
        min_value=0,
        max_value=MOST["erase_after_days"],
    )
    labour_rate = forms.FloatField(
        label=gettext_lazy("Money an hour (0: none is set, 45 is assumed)"),
        min_value=0,
        max_value=MOST["labour_rate"],
    )


def depot(request: HttpRequest) -> HttpResponse:
    """People, tokens, rules, trail."""
    return _page(request, {})


def _page(request: HttpRequest, forms_: dict[str, forms.Form], status: int = 200) -> HttpResponse:
    rules = depot_rules()
    first = {name: getattr(rules, name) for name in MOST}
    people = Person.objects.exclude(username=BENCH_NAME)
    trail = StoredEvent.objects.filter(name__in=TRAIL).order_by("-position")[:TRAIL_LINES]
    return render(
        request,
        "bench/depot/depot.html",
        {
            "people": people,
            "tokens": Token.objects.select_related("made_by"),
            "scopes": SCOPES,
            "person_form": forms_.get("person", PersonForm(prefix="person")),
            "token_form": forms_.get("token", TokenForm(prefix="token")),
            "rules_form": forms_.get("rules", RulesForm(prefix="rules", initial=first)),
            "trail": [_line(event) for event in trail],
        },
        status=status,
    )


def _line(event: StoredEvent) -> dict[str, object]:
    read = event_from_json(event.body, HAPPENINGS)
    return {
        "at": datetime.fromtimestamp(event.stored_ms / 1000, UTC),
        "by": event.by,
        "words": say(read.what, None),
    }


@sent_only("/depot/")
def add_person(request: HttpRequest) -> HttpResponse:
    """Make an account."""
    form = PersonForm(request.POST or None, prefix="person")
    if not form.is_valid():
        return _page(request, {"person": form}, 400)
    given = form.cleaned_data
    person = Person.objects.create_user(
        given["name"],
        password=given["password"],
        role=given["role"],
        shown_name=given["shown_name"],
        is_beginner=given["is_beginner"],
    )
    _record(request, person.username, "made", person.role)
    return redirect("depot")


def change_person(request: HttpRequest, key: int) -> HttpResponse:
    """Change an account; the last lead can't shut themself out."""
    person = get_object_or_404(Person.objects.exclude(username=BENCH_NAME), pk=key)
    first = {
        name: getattr(person, name) for name in ("shown_name", "role", "is_beginner", "is_active")
    }
    form = ChangeForm(request.POST or None, initial=first)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        stays_lead = given["role"] == Person.Role.LEAD and given["is_active"]
        if _is_last_lead(person) and not stays_lead:
            form.add_error(None, _("This is the last lead. Make another one first."))
        else:
            _change(request, person, given)
            return redirect("depot")
    return render(
        request,
        "bench/depot/person.html",
        {"person": person, "form": form},
        status=400 if form.errors else 200,
    )


def _is_last_lead(person: Person) -> bool:
    leads = Person.objects.filter(role=Person.Role.LEAD, is_active=True).exclude(
        username=BENCH_NAME
    )
    return list(leads.values_list("pk", flat=True)) == [person.pk]


def _change(request: HttpRequest, person: Person, given: dict[str, object]) -> None:
    role, is_active = str(given["role"]), bool(given["is_active"])
    if role != person.role:
        _record(request, person.username, "role", role)
    if is_active != person.is_active:
        _record(request, person.username, "opened" if is_active else "shut")
    person.role, person.is_active = role, is_active
    person.shown_name = str(given["shown_name"])
    person.is_beginner = bool(given["is_beginner"])
    if given["password"]:
        person.set_password(str(given["password"]))
        _record(request, person.username, "password")
    person.save()
    if given["password"] and person == request.user:
        update_session_auth_hash(request, person)


@sent_only("/depot/")
def add_token(request: HttpRequest) -> HttpResponse:
    """Make a token; its text is shown this once."""
    form = TokenForm(request.POST or None, prefix="token")
    if not form.is_valid():
        return _page(request, {"token": form}, 400)
    name = form.cleaned_data["name"]
    text = make_token(name, form.cleaned_data["scopes"], cast("Person", request.user))
    _record(request, name, "token_made")
    return render(request, "bench/depot/token.html", {"name": name, "text": text})


def shut_token(request: HttpRequest, key: int) -> HttpResponse:
    """Let a token in no more."""
    token = get_object_or_404(Token, pk=key)
    if request.method == "POST" and not token.shut:
        token.shut = True
        token.save()
        _record(request, token.name, "token_shut")
    return redirect("depot")


@sent_only("/depot/")
def change_rules(request: HttpRequest) -> HttpResponse:
    """Change the depot's rules; each change is an event."""
    form = RulesForm(request.POST or None, prefix="rules")
    if not form.is_valid():
        return _page(request, {"rules": form}, 400)
    before: DepotRules = depot_rules()
    for rule in MOST:
        value = float(form.cleaned_data[rule])
        if value != getattr(before, rule):
            add_depot_event("", RuleChanged(rule=rule, value=value), by=who(request))
    messages.info(request, _("The rules are changed."))
    return redirect("depot")


def _record(request: HttpRequest, account: str, what: str, role: str | None = None) -> None:
    add_depot_event("", AccountChanged(account=account, what=what, role=role), by=who(request))


ROUTES = (
    Route("depot/", depot, "depot", "lead", "lead"),
    Route("depot/people/", add_person, "add_person", "lead", "lead"),
    Route("depot/people/<int:key>/", change_person, "change_person", "lead", "lead"),
    Route("depot/tokens/", add_token, "add_token", "lead", "lead"),
    Route("depot/tokens/<int:key>/shut/", shut_token, "shut_token", "lead", "lead"),
    Route("depot/rules/", change_rules, "change_rules", "lead", "lead"),
)
