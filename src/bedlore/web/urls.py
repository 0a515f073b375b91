"""All addresses. Each needs a line in ``web.rights.POLICY``; without one it is refused."""

from __future__ import annotations

from django.urls import path

from bedlore.web.api.doors import api
from bedlore.web.views import (
    account,
    aid,
    alerts,
    bed,
    bring_in,
    build,
    change,
    entrance,
    farm,
    files,
    home,
    log,
    people,
    reading,
    scores,
    signal,
    today,
    trust,
    what_if,
    write,
)

urlpatterns = [
    path("", home.home, name="home"),
    path("up/", home.up, name="up"),
    path("manifest.webmanifest", signal.manifest, name="manifest"),
    path("worker.js", signal.worker, name="worker"),
    path("no-signal/", signal.no_signal, name="no-signal"),
    path("phone/", signal.phone, name="phone"),
    path("first/", entrance.first, name="first"),
    path("sign-in/", entrance.SignIn.as_view(), name="sign-in"),
    path("sign-out/", entrance.SignOut.as_view(), name="sign-out"),
    path("passcode/", entrance.passcode, name="passcode"),
    path("join/<str:secret>/", entrance.join, name="join"),
    path("reading/", reading.reading, name="reading"),
    path("trust/", trust.trust, name="trust"),
    path("trust/root.crt", trust.root_certificate, name="root-certificate"),
    path("password/", entrance.Password.as_view(), name="password"),
    path("calendar/<str:secret>.ics", files.feed, name="feed"),
    path("farms/restore/", files.restore, name="restore"),
    path("farms/<slug:farm>/farm.toml", files.farm_file, name="farm-file"),
    path("farms/<slug:farm>/log.<str:form>", files.log_file, name="log-file"),
    path("farms/<slug:farm>/archive.zip", files.archive, name="archive"),
    path("start/", build.start, name="start"),
    path("mine/", farm.mine, name="mine"),
    path("account/", account.account, name="account"),
    path("farms/<slug:farm>/today/", today.today, name="today"),
    path("farms/<slug:farm>/today/answer/", today.answer, name="answer"),
    path("farms/<slug:farm>/today/found/", today.found, name="found"),
    path("farms/<slug:farm>/carried/", signal.carried, name="carried"),
    path("farms/<slug:farm>/aid/", aid.aid, name="aid"),
    path("farms/<slug:farm>/beds/<slug:bed>/aid/", aid.aid_bed, name="aid-bed"),
    path("farms/<slug:farm>/beds/<slug:bed>/", bed.bed, name="bed"),
    path("farms/<slug:farm>/beds/<slug:bed>/what-if/", what_if.what_if, name="what-if"),
    path("farms/<slug:farm>/beds/<slug:bed>/rebuild/", change.rebuild, name="rebuild"),
    path("farms/<slug:farm>/change/<slug:part>/", change.change, name="change"),
    path("farms/<slug:farm>/bring-in/", bring_in.bring_in, name="bring-in"),
    path("farms/<slug:farm>/bring-in/readings/", bring_in.bring_readings, name="bring-readings"),
    path("farms/<slug:farm>/bring-in/log/", bring_in.bring_log, name="bring-log"),
    path("farms/<slug:farm>/bring-in/farm/", bring_in.bring_farm, name="bring-farm"),
    path("farms/<slug:farm>/build/", build.build, name="build"),
    path("farms/<slug:farm>/write/", write.write, name="write"),
    path("farms/<slug:farm>/write/<slug:kind>/", write.entry, name="entry"),
    path("farms/<slug:farm>/log/", log.log, name="log"),
    path("farms/<slug:farm>/log/<slug:entry_id>/", log.log_entry, name="log-entry"),
    path("farms/<slug:farm>/log/<slug:entry_id>/take-back/", log.take_back, name="take-back"),
    path("farms/<slug:farm>/farm/", farm.farm, name="farm"),
    path("farms/<slug:farm>/alerts/", alerts.alerts, name="alerts"),
    path("farms/<slug:farm>/jobs/", alerts.jobs, name="jobs"),
    path("farms/<slug:farm>/people/", people.people, name="people"),
    path("farms/<slug:farm>/score-card/", scores.scores, name="scores"),
    path("farms/<slug:farm>/score-card/learn/", scores.learn, name="learn"),
    path("api/v1/", api.urls),
]

handler400 = "bedlore.web.views.trouble.bad_request"
handler403 = "bedlore.web.views.trouble.forbidden"
handler404 = "bedlore.web.views.trouble.not_found"
handler500 = "bedlore.web.views.trouble.broken"
