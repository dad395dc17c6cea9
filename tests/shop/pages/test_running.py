"""What a server says of itself to whoever runs it."""

import json
import logging
from typing import Any

import pytest
from django.db import connection
from django.test import Client

from shop.people.migrations import waiting

pytestmark = pytest.mark.django_db
TOKEN = "a token of the test"  # noqa: S105 - no secret


def test_its_health_is_asked_without_signing_in(client: Client) -> None:
    answer = client.get("/health/")
    assert (answer.status_code, answer.json()["database"], answer.json()["migrations"]) == (200, "answers", "all there")
    assert answer.headers["Cache-Control"].startswith("max-age=0, no-cache")


def test_a_database_that_lacks_a_migration_is_not_in_health(client: Client, owner_client: Client) -> None:
    with connection.cursor() as cursor:
        cursor.execute(
            "DELETE FROM django_migrations WHERE id = (SELECT max(id) FROM django_migrations WHERE app = 'compliance')"
        )
    assert len(waiting()) == 1
    answer = client.get("/health/")
    assert (answer.status_code, answer.json()["migrations"]) == (503, "1 waiting")
    assert "lacks 1 of its migrations" in owner_client.get("/w/port-ellery/settings/").content.decode()


def test_the_owner_reads_version_and_state_of_the_database(owner_client: Client, technician_client: Client) -> None:
    page = owner_client.get("/w/port-ellery/settings/").content.decode()
    assert "This is version 0." in page
    assert "The database has all that it expects." in page
    assert "This is version" not in technician_client.get("/w/port-ellery/settings/").content.decode()


def test_counts_are_for_whoever_knows_the_token(client: Client, settings: Any) -> None:
    asked = {"Authorization": f"Bearer {TOKEN}"}
    assert client.get("/metrics/", headers=asked).status_code == 404  # none is set
    settings.METRICS_TOKEN = TOKEN
    assert client.get("/metrics/").status_code == 404
    assert client.get("/metrics/", headers={"Authorization": "Bearer another"}).status_code == 404
    client.get("/health/")
    counted = client.get("/metrics/", headers=asked)
    assert counted.status_code == 200
    assert 'tarebook_requests_total{method="GET",page="health/",status="200"}' in counted.content.decode()


def test_a_line_of_the_log_names_the_pattern_of_a_page_and_nobody(
    owner_client: Client, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.INFO, logger="tarebook.requests"):
        owner_client.get("/w/port-ellery/search/?q=Ann")
        owner_client.get("/c/ABCDEF/")
    told = [one.getMessage() for one in caplog.records if one.name == "tarebook.requests"]
    lines = [json.loads(one) for one in told]
    assert [one["page"] for one in lines][-1] == "c/<str:label>/"
    assert {"at", "method", "page", "status", "ms"} == set(lines[0])
    assert not any(word in " ".join(told) for word in ("port-ellery", "Ann", "ABCDEF", "owner"))
