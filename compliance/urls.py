"""Addresses of the compliance floor, below /w/<slug>/."""

from django.urls import path

from compliance.views import statements

urlpatterns = [
    path("statements/", statements.statements, name="statements"),
    path("statements/<str:first>/<str:last>/", statements.statement, name="statement"),
    path("statements/<str:first>/<str:last>/<str:form>/", statements.statement_file, name="statement-file"),
]
