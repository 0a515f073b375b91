"""Coming in: the first account, signing in and out, invitations, the household's passcode."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.forms import PasswordChangeForm
from django.contrib.auth.views import LoginView, LogoutView, PasswordChangeView
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse, reverse_lazy
from django.utils.translation import gettext as _

from bedlore.errors import KeeperError
from bedlore.say import say
from bedlore.service.doors import accept, look_at_invitation
from bedlore.web import wiring
from bedlore.web.first_door import give_farms_of_nobody, may_enter, nobody_yet
from bedlore.web.forms import NewAccountForm, PasscodeForm, SignInForm
from bedlore.web.rights import refuse
from bedlore.web.views.common import role_words

_BACKEND = "django.contrib.auth.backends.ModelBackend"


def first(request: HttpRequest) -> HttpResponse:
    """The first account, made on the machine itself or by the address its terminal shows; it
    keeps the farms that are there already. Afterwards there is no such page."""
    if not nobody_yet():
        raise Http404
    if not may_enter(request):
        return refuse(request, 403, say("The first account is made on the machine that bedlore"
                                        " runs on, or with the address that it shows when it"
                                        " starts."))  # fmt: skip
    form = NewAccountForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        account = form.save()
        give_farms_of_nobody(account, wiring.clock())
        login(request, account, backend=_BACKEND)
        return redirect("home")
    return render(request, "entrance/new.html", {"form": form, "offer": None})


class SignIn(LoginView):
    """Signing in; leads to the first account while there is none."""

    template_name = "entrance/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def dispatch(self, request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        """The page, or the way to the first account."""
        if request.method == "GET" and nobody_yet():
            return redirect("first")
        return super().dispatch(request, *args, **kwargs)


class SignOut(LogoutView):
    """Signing out (POST alone); photographs in the browser's own cache go, too."""

    http_method_names = ["post"]

    def dispatch(self, request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        """To the sign-in page. What waits on the phone is no cache and stays."""
        response = super().dispatch(request, *args, **kwargs)
        response.headers["Clear-Site-Data"] = '"cache"'
        return response


class Password(PasswordChangeView):
    """Changing one's password."""

    template_name = "entrance/password.html"
    success_url = reverse_lazy("account")

    def form_valid(self, form: PasswordChangeForm) -> HttpResponse:
        """Back to the account, which says that it was changed."""
        messages.success(self.request, _("Your password is changed; other devices are signed out."))
        return super().form_valid(form)


def passcode(request: HttpRequest) -> HttpResponse:
    """Signing in with the household's passcode."""
    form = PasscodeForm(request.POST or None, request=request,
                        initial={"farm": request.GET.get("farm", "")[:80]})  # fmt: skip
    if request.method == "POST" and form.is_valid() and form.account is not None:
        login(request, form.account, backend=_BACKEND)
        return redirect("home")
    return render(request, "entrance/passcode.html", {"form": form})


def join(request: HttpRequest, secret: str) -> HttpResponse:
    """Using an invitation, with a new account or the one that is signed in."""
    now = wiring.clock()
    try:
        offer = look_at_invitation(wiring.DOORS, secret, now)
        if request.user.is_authenticated and not request.user.is_household:
            if request.method == "POST":
                accept(wiring.DOORS, secret, request.user.pk, now)
                return redirect("home")
            told = {"offer": offer, "role": role_words()[offer.role]}
            return render(request, "entrance/join.html", told)
        form = NewAccountForm(request.POST or None)
        if request.method == "POST" and form.is_valid():
            account = form.save()
            accept(wiring.DOORS, secret, account.pk, now)
            login(request, account, backend=_BACKEND)
            return redirect("home")
    except KeeperError as problem:
        return refuse(request, 404, str(problem))
    back = f"{reverse('sign-in')}?next={request.path}"
    told = {"form": form, "offer": offer, "role": role_words()[offer.role], "sign_in": back}
    return render(request, "entrance/new.html", told)


