"""Addresses of the compliance floor, below /w/<slug>/."""

from django.urls import path

from compliance.views import findings, labels, links, statements

urlpatterns = [
    path("statements/", statements.statements, name="statements"),
    path("statements/<str:first>/<str:last>/", statements.statement, name="statement"),
    path("statements/<str:first>/<str:last>/<str:form>/", statements.statement_file, name="statement-file"),
    path("findings/", findings.findings, name="findings"),
    path("findings/<int:pk>/", findings.finding, name="finding"),
    path("labels/", labels.choose, name="cylinder-labels"),
    path("rules/", findings.rules, name="rules"),
    path("links/", links.links, name="reader-links"),
    path("links/new/", links.link_new, name="reader-link-new"),
    path("links/<int:pk>/revoke/", links.link_revoke, name="reader-link-revoke"),
]
