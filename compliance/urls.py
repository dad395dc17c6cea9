"""Addresses of the compliance floor, below /w/<slug>/."""

from django.urls import path

from compliance.views import findings, statements

urlpatterns = [
    path("statements/", statements.statements, name="statements"),
    path("statements/<str:first>/<str:last>/", statements.statement, name="statement"),
    path("statements/<str:first>/<str:last>/<str:form>/", statements.statement_file, name="statement-file"),
    path("findings/", findings.findings, name="findings"),
    path("findings/<int:pk>/", findings.finding, name="finding"),
    path("rules/", findings.rules, name="rules"),
]
