"""All addresses. Each needs a line in ``web.rights.POLICY``; without one it is refused."""

from __future__ import annotations

from django.urls import path

from bedlore.web.api.doors import api
from bedlore.web.views import entrance, files, home

urlpatterns = [
    path("", home.home, name="home"),
    path("up/", home.up, name="up"),
    path("first/", entrance.first, name="first"),
    path("sign-in/", entrance.SignIn.as_view(), name="sign-in"),
    path("sign-out/", entrance.SignOut.as_view(), name="sign-out"),
    path("passcode/", entrance.passcode, name="passcode"),
    path("join/<str:secret>/", entrance.join, name="join"),
    path("password/", entrance.Password.as_view(), name="password"),
    path("calendar/<str:secret>.ics", files.feed, name="feed"),
    path("farms/restore/", files.restore, name="restore"),
    path("farms/<slug:farm>/farm.toml", files.farm_file, name="farm-file"),
    path("farms/<slug:farm>/log.<str:form>", files.log_file, name="log-file"),
    path("farms/<slug:farm>/archive.zip", files.archive, name="archive"),
    path("api/v1/", api.urls),
]

handler400 = "bedlore.web.views.trouble.bad_request"
handler403 = "bedlore.web.views.trouble.forbidden"
handler404 = "bedlore.web.views.trouble.not_found"
handler500 = "bedlore.web.views.trouble.broken"
