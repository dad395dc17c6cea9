"""Every address. What belongs to a workshop lies below /w/<slug>/; the middleware resolves the slug."""

from django.urls import include, path

from shop.pages.views import account, setup

workshop_patterns = [
    path("", include("shop.pages.urls")),
    path("", include("inventory.pages.urls")),
    path("", include("compliance.pages.urls")),
]

urlpatterns = [
    path("", account.home, name="home"),
    path("sign-in/", account.sign_in, name="sign-in"),
    path("sign-out/", account.sign_out, name="sign-out"),
    path("second-factor/", account.second_factor, name="second-factor"),
    path("second-factor/check/", account.second_factor_check, name="second-factor-check"),
    path("appearance/", account.appearance, name="appearance"),
    path("set-up/", setup.set_up, name="set-up"),
    path("c/<str:label>/", account.label, name="label"),
    path("C/<str:label>", account.label),  # as QR codes of labels have it: capitals make a smaller code
    path("", include("compliance.pages.open_urls")),
    path("w/<slug:slug>/", include(workshop_patterns)),
]
