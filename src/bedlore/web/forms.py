"""Forms of the entrance: accounts, sign-in, passcode."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm, UserCreationForm
from django.utils.translation import gettext_lazy as _

from bedlore.service.throttle import TooMany, check_tries, note_failure, note_success
from bedlore.store.db.doors import household_of
from bedlore.store.db.models import Account, FarmRow
from bedlore.web import wiring

_SLOW_DOWN = _("There were too many failed tries. Wait a quarter of an hour.")


def address_of(request: Any) -> str:
    """Where a request comes from."""
    return str(request.META.get("REMOTE_ADDR", ""))


class SignInForm(AuthenticationForm):
    """Name and password; names are written small, and failures are counted."""

    def clean(self) -> Any:
        """The checked values; raises with one sentence, whatever was wrong."""
        name = str(self.cleaned_data.get("username", "")).strip().lower()
        self.cleaned_data["username"] = name
        address, now = address_of(self.request), wiring.clock()
        try:
            check_tries(wiring.TRIES, name, address, now)
        except TooMany:
            raise forms.ValidationError(_SLOW_DOWN, code="throttled") from None
        try:
            cleaned = super().clean()
        except forms.ValidationError:
            note_failure(wiring.TRIES, name, address, now)
            raise
        note_success(wiring.TRIES, name, address)
        return cleaned


class NewAccountForm(UserCreationForm):
    """A new account."""

    class Meta:
        model = Account
        fields = ("username", "first_name")
        labels = {"username": _("Name to sign in with"), "first_name": _("What others call you")}

    def clean_username(self) -> str:
        """The name, written small; raises when somebody has it."""
        name = str(self.cleaned_data["username"]).strip().lower()
        if Account.objects.filter(username__iexact=name).exists():
            raise forms.ValidationError(_("Somebody has this name already. Choose another."))
        if name.startswith("household-"):
            raise forms.ValidationError(_("Names that begin with household- are taken."))
        return name


class PasscodeForm(forms.Form):
    """A household's passcode, for one farm."""

    farm = forms.SlugField(label=_("Short name of the farm"), max_length=80)
    passcode = forms.CharField(label=_("Passcode"), max_length=128, strip=False,
                               widget=forms.PasswordInput())  # fmt: skip

    def __init__(self, *args: Any, request: Any = None, **more: Any) -> None:
        self._request = request
        self.account: Account | None = None
        super().__init__(*args, **more)

    def clean(self) -> Any:
        """The checked values; ``account`` is the household's then."""
        cleaned = super().clean() or {}
        slug, passcode = cleaned.get("farm"), cleaned.get("passcode")
        if not slug or not passcode:
            return cleaned
        name, address, now = f"passcode:{slug}", address_of(self._request), wiring.clock()
        try:
            check_tries(wiring.TRIES, name, address, now)
        except TooMany:
            raise forms.ValidationError(_SLOW_DOWN, code="throttled") from None
        self.account = household_of(FarmRow.objects.filter(slug=slug).first(), passcode)
        if self.account is None:
            note_failure(wiring.TRIES, name, address, now)
            raise forms.ValidationError(_("Farm and passcode do not fit together."))
        note_success(wiring.TRIES, name, address)
        return cleaned
