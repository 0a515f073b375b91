"""The reader's own language and units."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from bedlore.say import LANGUAGES
from bedlore.store.db.models import Account


class ReadingForm(forms.ModelForm):
    """Language and units of an account; each may be left to the browser and the farm."""

    language = forms.ChoiceField(
        label=gettext_lazy("Language"), required=False, widget=forms.RadioSelect,
        choices=[("", gettext_lazy("as the browser asks for")), *LANGUAGES.items()],
    )  # fmt: skip
    units = forms.ChoiceField(
        label=gettext_lazy("Units"), required=False, widget=forms.RadioSelect,
        choices=[("", gettext_lazy("as the farm has them")), ("metric", "°C, kg, L, cm"),
                 ("us", "°F, lb, gal, in")],
    )  # fmt: skip

    class Meta:
        model = Account
        fields = ("language", "units")


def reading(request: HttpRequest) -> HttpResponse:
    """Choose language and units; they go with the account to every phone."""
    form = ReadingForm(request.POST or None, instance=request.user)
    if request.method == "POST" and form.is_valid():
        account = form.save()
        if account.language:
            translation.activate(account.language)  # the answer speaks as was just chosen
        messages.success(request, _("Noted."))
        return redirect("reading")
    return render(request, "pages/reading.html", {"form": form})
