"""Addresses of the compliance floor that need no sign-in, outside any workshop."""

from django.urls import path

from compliance.pages.views import car, feed, read, verify

urlpatterns = [
    path("verify/", verify.verify, name="verify"),
    path("car/<str:token>/", car.car, name="car"),
    path("calendar/<str:token>/", feed.calendar, name="calendar"),
    path("read/<str:token>/", read.read, name="read"),
    path("read/<str:token>/statement/<str:form>/", read.read_file, name="read-file"),
    path("read/<str:token>/documents/<int:number>/", read.read_document, name="read-document"),
]
