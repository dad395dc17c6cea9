"""Addresses of the compliance floor, below /w/<slug>/."""

from django.urls import path

from compliance.pages.views import (
    baysheet,
    documents,
    findings,
    links,
    matching,
    ownerlink,
    papers,
    reminders,
    statements,
    year,
)

urlpatterns = [
    path("statements/", statements.statements, name="statements"),
    path("statements/<str:first>/<str:last>/", statements.statement, name="statement"),
    path("statements/<str:first>/<str:last>/<str:form>/", statements.statement_file, name="statement-file"),
    path("year/", year.year, name="year"),
    path("year/<str:first>/<str:last>/", year.year, name="year-of"),
    path("year/<str:first>/<str:last>/<str:part>/<str:form>/", year.year_file, name="year-file"),
    path("documents/", documents.documents, name="documents"),
    path("documents/<int:number>/", documents.document, name="document"),
    path("documents/<int:number>/page/<int:sheet>/", papers.document_page, name="document-page"),
    path("documents/<int:number>/mail/", papers.document_mail, name="document-mail"),
    path("documents/<int:number>/sign/", papers.document_sign, name="document-sign"),
    path("documents/<int:number>/signed/", papers.document_signed, name="document-signed"),
    path("documents/<int:number>/<str:form>/", documents.document_file, name="document-file"),
    path("documents/issue/<slug:kind>/<str:about>/", documents.document_issue, name="document-issue"),
    path("visits/<int:number>/bay-sheet/", baysheet.print_bay_sheet, name="bay-sheet"),
    path("visits/<int:number>/owner/", ownerlink.owner_link, name="owner-link"),
    path("visits/<int:number>/owner/revoke/", ownerlink.owner_link_revoke, name="owner-link-revoke"),
    path("findings/", findings.findings, name="findings"),
    path("findings/<int:pk>/", findings.finding, name="finding"),
    path("labels/", documents.choose_labels, name="cylinder-labels"),
    path("rules/", findings.rules, name="rules"),
    path("links/", links.links, name="reader-links"),
    path("links/new/", links.link_new, name="reader-link-new"),
    path("links/<int:pk>/revoke/", links.link_revoke, name="reader-link-revoke"),
    path("reminders/", reminders.reminders, name="reminders"),
    path("reminders/send/", reminders.send_now, name="reminders-send"),
    path("reminders/calendar/", reminders.calendar_new, name="calendar-new"),
    path("reminders/calendar/revoke/", reminders.calendar_revoke, name="calendar-revoke"),
    path("partners/<int:number>/match/", matching.partner_match, name="partner-match"),
    path("partners/<int:number>/lists/<int:pk>/", matching.partner_list_withdraw, name="partner-list-withdraw"),
]
