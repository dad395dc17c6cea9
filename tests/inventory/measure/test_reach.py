"""Which addresses lead away from the machine that they stand for."""

from ipaddress import IPv4Address, IPv6Address

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.measure.reach import host_of, is_number, stays_here

SCHEMES = st.sampled_from(("http", "https", "HTTP"))
PORTS = st.sampled_from(("", ":80", ":8000", ":65535"))
PATHS = st.sampled_from(("", "/", "/C/7K3M-Q2XA", "/verify/?code=1"))
LABEL = st.from_regex(r"[a-z][a-z0-9]{0,10}", fullmatch=True)


def around(host: st.SearchStrategy[str]) -> st.SearchStrategy[str]:
    return st.builds(lambda *parts: f"{parts[0]}://{''.join(parts[1:])}", SCHEMES, host, PORTS, PATHS)


@given(around(st.integers(0, 2**24 - 1).map(lambda rest: str(IPv4Address((127 << 24) + rest)))))
def test_all_of_127_stays_here(address: str) -> None:
    assert stays_here(address)
    assert is_number(address)


@given(around(st.integers(2**24, 2**32 - 1).filter(lambda n: n >> 24 != 127).map(lambda n: str(IPv4Address(n)))))
def test_every_other_number_leads_away(address: str) -> None:
    assert not stays_here(address)
    assert is_number(address)


@given(around(st.integers(2, 2**128 - 1).map(IPv6Address).filter(lambda n: n.ipv4_mapped is None).map("[{}]".format)))
def test_every_longer_number_but_two_leads_away(address: str) -> None:
    assert not stays_here(address)


@given(around(st.integers(0, 2**32 - 1).map(lambda n: f"[::ffff:{IPv4Address(n)}]")))
def test_a_number_written_in_the_longer_way_is_the_same_number(address: str) -> None:
    assert stays_here(address) == stays_here(address.replace("[::ffff:", "").replace("]", ""))


@given(around(LABEL.map("{}.lan".format)))
def test_a_name_leads_away_in_any_capitals(address: str) -> None:
    assert not stays_here(address)
    assert not stays_here(address.upper())
    assert not is_number(address)


@given(around(LABEL.map("{}.localhost".format)), st.booleans())
def test_the_names_of_this_machine_alone_stay_here(address: str, capitals: bool) -> None:
    assert stays_here(address.upper() if capitals else address)


@pytest.mark.parametrize(
    "host",
    ["localhost", "LOCALHOST", "localhost.", "[::1]", "[0:0:0:0:0:0:0:1]", "[::]", "127.1", "0x7f000001"]
    + ["0.0.0.0", "2130706433", "017700000001", "0"],  # noqa: S104
)
def test_loopback_in_every_writing_and_no_address_in_particular_stay_here(host: str) -> None:
    assert stays_here(f"http://{host}:8000/")


@pytest.mark.parametrize("host", ["localhost.lan", "notlocalhost", "127.0.0.1.lan", "128.0.0.1", "192.168.1.20"])
def test_what_only_looks_like_it_leads_away(host: str) -> None:
    assert not stays_here(f"http://{host}:8000/")


@given(st.text())
def test_what_cannot_be_read_stays_here_and_raises_nothing(text: str) -> None:
    assert stays_here(text) or host_of(text)


def test_without_a_machine_in_it_nobody_is_led_away() -> None:
    assert stays_here("")
    assert stays_here("http://")
    assert stays_here("http://[::1")
