"""Addresses of the compliance floor that need no sign-in, outside any workshop."""

from django.urls import path

from compliance.pages.views import links, verify

urlpatterns = [
    path("verify/", verify.verify, name="verify"),
    path("read/<str:token>/", links.read, name="read"),
    path("read/<str:token>/statement/<str:form>/", links.read_file, name="read-file"),
    path("read/<str:token>/documents/<int:number>/", links.read_document, name="read-document"),
]
