"""Addresses of the compliance floor that need no sign-in, outside any workshop."""

from django.urls import path

from compliance.views import verify

urlpatterns = [
    path("verify/", verify.verify, name="verify"),
]
