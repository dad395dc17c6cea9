"""Addresses of the compliance floor, below /w/<slug>/."""

from django.urls import path

from compliance import views

urlpatterns = [
    path("statements/", views.statements, name="statements"),
    path("statements/<str:first>/<str:last>/", views.statement, name="statement"),
    path("statements/<str:first>/<str:last>/<str:form>/", views.statement_file, name="statement-file"),
]
