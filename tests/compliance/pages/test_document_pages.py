"""The pages of documents: look at what one would say, issue it once, find it again, take it away."""

import io
import json
import re
from datetime import date
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from compliance.models import Document
from compliance.papers.paper import REGISTER, USAGE
from inventory.models import Entry
from shop.models import Certification
from tests.compliance import sample
from tests.compliance.builders import Desk, noon, port_ellery_2025
from tests.inventory.book.lines import undo_line

pytestmark = pytest.mark.django_db
PERIOD = "period:2025-01-01:2025-12-31"
SLUG = "port-ellery"


@pytest.fixture
def year(book: Any, workshop: Any, clock: Any) -> Any:
    return port_ellery_2025(book, clock)


def issue_at(kind: str = USAGE, about: str = PERIOD) -> str:
    return reverse("document-issue", args=[SLUG, kind.replace(" ", "-"), about])


def register() -> str:
    """Return where the certificate register is issued: a short document, where it does not matter which it is."""
    return issue_at(REGISTER, "people:2025-12-31")


def text_of(answer: Any) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def hidden(answer: Any) -> dict[str, str]:
    """Return what the form of a page would send."""
    found = re.findall(r'<input type="hidden" name="(key|seen)" value="([^"]+)"', answer.content.decode())
    assert len(found) == 2
    return dict(found)


def press(client: Client, at: str) -> Any:
    return client.post(at, hidden(client.get(at)))


def certify(person: Any) -> None:
    Certification.objects.create(user=person, scheme="attestation", number="1", issued_on=date(2020, 1, 1))


def test_the_page_shows_what_the_document_would_say_and_issues_it(technician_client, year):
    shown = technician_client.get(issue_at())
    assert "35.179" in text_of(shown)
    assert "certifies nothing" in text_of(shown)
    answer = technician_client.post(issue_at(), hidden(shown))
    assert (answer.status_code, answer["Location"]) == (303, reverse("document", args=[SLUG, 1]))
    page = technician_client.get(answer["Location"])
    assert "Issued as no. 1." in text_of(page)
    assert "No line on which it rests was reversed" in text_of(page)


def test_pressed_twice_it_is_issued_once(owner_client):
    sent = hidden(owner_client.get(register()))
    first, second = (owner_client.post(register(), sent) for _ in range(2))
    assert first["Location"] == second["Location"]
    assert Document.objects.count() == 1
    assert "Already issued as no. 1, once." in text_of(owner_client.get(second["Location"]))


def test_an_old_page_pressed_again_says_that_the_record_has_changed_and_a_fresh_one_issues_anew(
    owner_client, technician
):
    old = hidden(owner_client.get(register()))
    owner_client.post(register(), old)
    certify(technician)
    again = owner_client.post(register(), old)
    said = "Already issued as no. 1, once. The record has changed since: issue it anew to have that in it."
    assert said in text_of(owner_client.get(again["Location"]))
    fresh = owner_client.get(register())
    assert "data-kept" not in fresh.content.decode()  # nothing is typed: only the key of another paper would come back
    assert owner_client.post(register(), hidden(fresh))["Location"] == reverse("document", args=[SLUG, 2])


def test_a_record_that_changed_meanwhile_is_shown_again_before_it_is_issued(owner_client, year, book):
    sent = hidden(owner_client.get(issue_at()))
    Desk(book).write(noon(11, 30), ("opening-stock", "opening", "C-99", "R-290", "virgin", 500, "single"))
    answer = owner_client.post(issue_at(), sent)
    assert answer.status_code == 422
    assert "has changed since this page was shown" in text_of(answer)
    assert "R-290" in text_of(answer)
    assert not Document.objects.exists()
    assert owner_client.post(issue_at(), hidden(answer)).status_code == 303


def test_a_form_without_its_key_issues_nothing(owner_client):
    answer = owner_client.post(register(), {})
    assert answer.status_code == 422
    assert "It has a new one: look at it and press again." in text_of(answer)
    assert not Document.objects.exists()
    assert owner_client.post(register(), hidden(answer)).status_code == 303


def test_the_page_says_which_document_the_new_one_replaces(owner_client):
    press(owner_client, register())
    assert "It replaces no. 1 , which stays." in text_of(owner_client.get(register()))
    press(owner_client, register())
    first = text_of(owner_client.get(reverse("document", args=[SLUG, 1])))
    assert "Replaced by no. 2" in first


def test_where_nothing_can_be_issued_the_page_says_why(owner_client, workshop):
    answer = owner_client.get(issue_at())
    assert answer.status_code == 422
    assert "The book has no lines up to the end of this period." in text_of(answer)
    for about in ("period:2025-12-31:2025-01-01", "period:x:y", "year:2025", "period:2025-1-1:2025-12-31"):
        assert owner_client.get(issue_at(about=about)).status_code == 422
    assert owner_client.get(issue_at("passport")).status_code == 404


def test_a_reader_looks_and_takes_away_and_issues_nothing(reader_client, owner_client):
    press(owner_client, register())
    document = Document.objects.get()
    assert reader_client.get(reverse("document", args=[SLUG, 1])).status_code == 200
    pdf = reader_client.get(reverse("document-file", args=[SLUG, 1, "pdf"]))
    assert pdf.content == document.file
    assert 'filename="certificate-register-1.pdf"' in pdf["Content-Disposition"]
    facts = reader_client.get(reverse("document-file", args=[SLUG, 1, "json"]))
    assert json.loads(facts.content)["number"] == 1
    assert reader_client.get(reverse("document-file", args=[SLUG, 1, "docx"])).status_code == 404
    assert reader_client.get(register()).status_code == 403
    assert "Issue it anew" not in text_of(reader_client.get(reverse("document", args=[SLUG, 1])))


def test_the_page_shows_the_paper_as_its_picture_and_as_text(reader_client, owner_client, year):
    press(owner_client, issue_at())
    page = reader_client.get(reverse("document", args=[SLUG, 1])).content.decode()
    document = Document.objects.get()
    for sheet in range(1, document.pages + 1):
        at = reverse("document-page", args=[SLUG, 1, sheet])
        assert f'<img src="{at}"' in page
        picture = reader_client.get(at)
        assert (picture["Content-Type"], picture.content[:4]) == ("image/png", b"\x89PNG")
    assert reader_client.get(reverse("document-page", args=[SLUG, 1, 9])).status_code == 404
    assert "Stock of cylinders and rigs" in page  # the text of the paper
    assert "As issued" not in page  # figures by their keys are for who has the paper alone


def test_a_stranger_finds_no_document(stranger_client, owner_client):
    press(owner_client, register())
    for name, more in (("documents", []), ("document", [1]), ("document-file", [1, "pdf"]), ("document-page", [1, 1])):
        assert stranger_client.get(reverse(name, args=[SLUG, *more])).status_code == 404


def test_the_issued_report_carries_the_figures_of_its_data(owner_client, year):
    """The content kept has the same milligrams as the JSON of the statement, and the paper shows them."""
    from compliance.documents.verifying import text_of as text_of_pdf

    press(owner_client, issue_at())
    document = Document.objects.get()
    data = json.loads(owner_client.get(f"/w/{SLUG}/statements/2025-01-01/2025-12-31/json/").content)
    assert json.loads(document.content)["figures"]["refrigerants"] == data["refrigerants"]
    text = text_of_pdf(document.file)
    assert document.code in text
    assert "35.179" in text


def test_a_report_on_another_basis_is_another_document(owner_client, year):
    press(owner_client, issue_at())
    press(owner_client, issue_at(about=f"{PERIOD}:AR5"))
    first, second = Document.objects.order_by("number")
    assert (second.replaces, second.about) == (None, f"{PERIOD}:AR5")
    assert json.loads(second.content)["figures"]["basis"] == "AR5"
    assert first.about == PERIOD


def test_a_line_reversed_after_the_report_is_told_on_its_page(owner_client, year, book, act):
    press(owner_client, issue_at())
    charge = Entry.objects.filter(book=book, movements__cause="charge", movements__refrigerant="R-1234yf").earliest(
        "seq"
    )
    reversal = undo_line(charge, act(at=timezone.now()))
    page = text_of(owner_client.get(reverse("document", args=[SLUG, 1])))
    assert f"Line {charge.seq}, on which it rests, was reversed (line {reversal.seq}" in page


def test_the_statement_offers_to_issue_its_report_and_lists_what_was_issued(owner_client, reader_client, year):
    at = f"/w/{SLUG}/statements/2025-01-01/2025-12-31/"
    assert issue_at() in owner_client.get(at).content.decode()
    assert issue_at(about=f"{PERIOD}:AR5") in owner_client.get(at, {"basis": "AR5"}).content.decode()
    press(owner_client, issue_at())
    page = text_of(reader_client.get(at))
    assert "no. 1, usage report" in page
    assert "Issue the usage report" not in page


def test_records_name_the_documents_that_they_may_have(owner_client, workshop, cylinder, arrive):
    visit = arrive()
    number = cylinder.account.number
    for at, kinds in (
        (reverse("visit", args=[SLUG, visit.number]), ("visit-record", "recovery-certificate", "conversion-label")),
        (reverse("cylinder", args=[SLUG, number]), ("cylinder-log", "cylinder-labels")),
        (reverse("people", args=[SLUG]), ("certificate-register",)),
    ):
        page = owner_client.get(at).content.decode()
        assert [kind for kind in kinds if f"/documents/issue/{kind}/" not in page] == []


def test_the_line_that_seals_a_document_names_it(owner_client, issued):
    document = issued()
    page = text_of(owner_client.get(reverse("entry", args=[SLUG, document.entry.seq])))
    assert f"no. 1, {sample.KIND}" in page


def test_the_list_is_filtered_sorted_and_taken_away(owner_client, issued):
    for about in ("visit:1", "visit:2", "visit:1"):
        issued(about)
    at = reverse("documents", args=[SLUG])
    assert "3 documents" in text_of(owner_client.get(at))
    assert "replaced by no. 3" in text_of(owner_client.get(at))
    assert "2 documents" in text_of(owner_client.get(at, {"about": "visit:1"}))
    assert "1 document" in text_of(owner_client.get(at, {"state": "replaced"}))
    rows = json.loads(b"".join(owner_client.get(at, {"format": "json", "sort": "number"}).streaming_content))
    assert [(row["number"], row["about"], row["state"]) for row in rows] == [
        (1, "visit:1", "replaced by no. 3"),
        (2, "visit:2", "issued"),
        (3, "visit:1", "issued"),
    ]


def test_the_list_asks_as_few_queries_for_many_documents(owner_client, issued):
    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert owner_client.get(reverse("documents", args=[SLUG])).status_code == 200
        return len(captured)

    issued("visit:1")
    few = queries()
    for number in range(2, 6):
        issued(f"visit:{number}")
    assert queries() == few


HERE_ALONE = "http://127.0.0.1:8000"


def test_a_paper_whose_address_no_phone_reaches_is_asked_about_and_then_issued(owner_client, settings):
    settings.ADDRESS = HERE_ALONE
    sent = hidden(owner_client.get(register()))
    asked = owner_client.post(register(), sent)
    assert asked.status_code == 200
    assert f"No phone reaches this address {HERE_ALONE}" in text_of(asked)
    assert f'href="/w/{SLUG}/settings/phone/"' in asked.content.decode()
    assert not Document.objects.exists()
    known = dict(re.findall(r'<input type="hidden" name="(key|seen|address)" value="([^"]*)"', asked.content.decode()))
    assert known == {**sent, "address": HERE_ALONE}
    settings.ADDRESS = "http://localhost:8000"  # not the one that was asked about
    assert owner_client.post(register(), known).status_code == 200
    assert not Document.objects.exists()
    settings.ADDRESS = HERE_ALONE
    assert owner_client.post(register(), known)["Location"] == reverse("document", args=[SLUG, 1])
    assert owner_client.post(register(), sent)["Location"] == reverse("document", args=[SLUG, 1])  # issued already
    assert Document.objects.count() == 1


def test_who_chose_this_machine_alone_is_asked_no_more_and_the_paper_says_where_it_is_checked(
    owner_client, technician_client, cylinder, settings
):
    settings.ADDRESS = HERE_ALONE
    phone = reverse("phone", args=[SLUG])
    assert technician_client.post(phone, {"alone": "1"}).status_code == 403
    assert "Use this machine alone, ask no more" in text_of(owner_client.get(phone))
    assert owner_client.post(phone, {"alone": "1"})["Location"] == phone
    assert "none asks about it" in text_of(owner_client.get(phone))
    assert press(technician_client, register())["Location"] == reverse("document", args=[SLUG, 1])
    labels = issue_at("cylinder labels", f"cylinders:{cylinder.account.number}")
    assert press(technician_client, labels)["Location"] == reverse("document", args=[SLUG, 2])
    label = reverse("cylinder-label", args=[SLUG, cylinder.account.number])
    assert "No phone reaches" not in text_of(technician_client.get(label))
    one = Document.objects.get(number=1)
    said = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(bytes(one.file))).pages)
    said = " ".join(said.split())
    assert f"at the address {HERE_ALONE}/verify/ on the very machine that keeps the book" in said
    assert "no other machine reaches it" in said

    owner_client.post(phone, {"ask": "1"})
    assert "No phone reaches this address" in text_of(press(owner_client, register()))


def test_an_address_that_phones_reach_is_not_asked_about(owner_client, settings):
    settings.ADDRESS = "http://192.168.1.20:8000"
    assert press(owner_client, register())["Location"] == reverse("document", args=[SLUG, 1])


def test_labels_are_asked_about_by_the_address_that_they_bear(owner_client, cylinder, settings):
    at = issue_at("cylinder labels", f"cylinders:{cylinder.account.number}")
    settings.ALLOWED_HOSTS = ["localhost", "testserver"]
    asked = press(owner_client, at)
    assert "No phone reaches this address http://localhost" in text_of(asked)
    assert "stuck on again" in text_of(asked)
    assert not Document.objects.exists()
    settings.ADDRESS = "https://book.lan"
    assert press(owner_client, at).status_code == 303


def test_find_answers_to_the_code_and_the_number_of_a_document(technician_client, stranger_client):
    press(technician_client, register())
    one = Document.objects.get()
    find, there = reverse("search", args=[SLUG]), reverse("document", args=[SLUG, 1])
    bare = one.code.replace("-", "").lower()
    for said in (one.code, bare, f"https://other.invalid/verify/?code={one.code}", "document 1"):
        assert technician_client.get(find, {"q": said})["Location"] == there
    elsewhere = stranger_client.get(reverse("search", args=["highmoor"]), {"q": one.code})
    assert f"Check the code {one.code}" in text_of(elsewhere)
    assert f"{reverse('verify')}?code={one.code}" in elsewhere.content.decode()
