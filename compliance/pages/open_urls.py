"""Addresses of the compliance floor outside any workshop: those of secret links, and the year of several workshops."""

from django.urls import path

from compliance.pages.views import car, chain, feed, read, verify

urlpatterns = [
    path("chain/", chain.chain_now, name="chain-now"),
    path("chain/<int:year>/", chain.chain, name="chain"),
    path("chain/<int:year>/csv/", chain.chain_file, name="chain-file"),
    path("verify/", verify.verify, name="verify"),
    path("car/<str:token>/", car.car, name="car"),
    path("calendar/<str:token>/", feed.calendar, name="calendar"),
    path("read/<str:token>/", read.read, name="read"),
    path("read/<str:token>/statement/<str:form>/", read.read_file, name="read-file"),
    path("read/<str:token>/documents/<int:number>/", read.read_document, name="read-document"),
]
