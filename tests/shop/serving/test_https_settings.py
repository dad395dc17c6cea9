"""What the settings make of https: spoken by a front server, or by the server itself with an authority of its own."""

import runpy
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import ImproperlyConfigured

SETTINGS = Path(__file__).resolve().parents[3] / "shop" / "settings.py"


@pytest.fixture
def settings_of(monkeypatch: pytest.MonkeyPatch) -> Any:
    def read(**environment: str) -> dict[str, Any]:
        for name in ("TAREBOOK_HTTPS", "TAREBOOK_AUTHORITY"):
            monkeypatch.delenv(name, raising=False)
        for name, value in environment.items():
            monkeypatch.setenv(name, value)
        return runpy.run_path(str(SETTINGS))

    return read


def test_behind_a_front_server_its_header_is_believed_and_browsers_stay_with_https(settings_of) -> None:
    found = settings_of(TAREBOOK_HTTPS="1")
    assert found["SECURE_PROXY_SSL_HEADER"] == ("HTTP_X_FORWARDED_PROTO", "https")
    assert found["SECURE_HSTS_SECONDS"] > 0


def test_who_speaks_https_itself_believes_no_header_and_lets_a_later_start_do_without(settings_of) -> None:
    found = settings_of(TAREBOOK_HTTPS="1", TAREBOOK_AUTHORITY="authority.crt")
    assert found["SECURE_PROXY_SSL_HEADER"] is None
    assert found["SECURE_HSTS_SECONDS"] == 0
    assert found["SESSION_COOKIE_SECURE"] is True
    assert found["CSRF_COOKIE_SECURE"] is True


def test_cookies_of_https_have_names_that_a_page_without_it_does_not_need(settings_of) -> None:
    secure, plain = settings_of(TAREBOOK_HTTPS="1"), settings_of()
    for name in ("SESSION_COOKIE_NAME", "CSRF_COOKIE_NAME"):
        assert secure[name].startswith("__Host-")
        assert name not in plain
    assert plain["SESSION_COOKIE_SECURE"] is False


def test_an_authority_without_https_is_a_mistake(settings_of) -> None:
    with pytest.raises(ImproperlyConfigured, match="TAREBOOK_HTTPS is not 1"):
        settings_of(TAREBOOK_AUTHORITY="authority.crt")
