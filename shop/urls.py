"""Every address. What belongs to a workshop lies below /w/<slug>/; the middleware resolves the slug."""

from django.urls import include, path

from shop.pages.views import beginning, home, offline, running, sharing, signing, trust

handler500 = "shop.pages.refusing.stopped"

workshop_patterns = [
    path("", include("shop.pages.urls")),
    path("", include("inventory.pages.urls")),
    path("", include("compliance.pages.urls")),
]

urlpatterns = [
    path("", home.home, name="home"),
    path("sign-in/", signing.sign_in, name="sign-in"),
    path("sign-out/", signing.sign_out, name="sign-out"),
    path("second-factor/", signing.second_factor, name="second-factor"),
    path("second-factor/check/", signing.second_factor_check, name="second-factor-check"),
    path("pin/", sharing.pin, name="pin"),
    path("appearance/", home.appearance, name="appearance"),
    path("trust/", trust.trust, name="trust"),
    path("trust/tarebook-authority.crt", trust.certificate, name="trust-certificate"),
    path("health/", running.health, name="health"),
    path("metrics/", running.metrics, name="metrics"),
    path("worker.js", offline.worker, name="worker"),
    path("net-away/", offline.net_away, name="net-away"),
    path("sending/", offline.sending, name="sending"),
    path("set-up/", beginning.set_up, name="set-up"),
    path("c/<str:label>/", home.label, name="label"),
    path("C/<str:label>", home.label),  # as QR codes of labels have it: capitals make a smaller code
    path("", include("compliance.pages.open_urls")),
    path("w/<slug:slug>/", include(workshop_patterns)),
]
