"""What a scan says: the address of a label on any host, a bare code, a number."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.measure.codes import ALPHABET, check_character, label_address
from inventory.measure.scans import LONGEST, label_of, read_scan

BODIES = st.text(ALPHABET, min_size=5, max_size=5)
HOSTS = st.from_regex(r"[a-z]([a-z0-9-]{0,10}[a-z0-9])?(\.[a-z]{2,5}){0,2}(:[0-9]{2,5})?", fullmatch=True)
CODE = "7K3M9" + check_character("7K3M9")


def code_of(body: str) -> str:
    return body + check_character(body)


@given(BODIES, HOSTS, st.sampled_from(["http", "https"]), st.sampled_from(["", "/", " ", "\r\n"]))
def test_a_labels_address_is_its_label_whatever_the_host(body: str, host: str, scheme: str, after: str) -> None:
    printed = label_address(f"{scheme}://{host}", code_of(body))
    for said in (printed + after, printed.lower() + after, f"]Q1{printed}"):
        scan = read_scan(said)
        assert (scan.label, scan.is_address, scan.is_misread) == (code_of(body), True, False)


@given(BODIES, HOSTS)
def test_another_layout_of_keys_changes_the_signs_and_not_the_label(body: str, host: str) -> None:
    typed = label_address(f"https://{host}", code_of(body)).translate(str.maketrans(":/", "Ö-"))
    assert read_scan(typed.replace("Ö", ";")).label == code_of(body)


@given(BODIES, st.data())
def test_one_wrong_character_is_no_label_and_an_address_says_so(body: str, data: st.DataObject) -> None:
    place = data.draw(st.integers(0, 5))
    code = code_of(body)
    other = data.draw(st.sampled_from([char for char in ALPHABET if char != code[place]]))
    wrong = code[:place] + other + code[place + 1 :]
    assert read_scan(wrong).label == ""
    scan = read_scan(f"https://book.invalid/c/{wrong}/")
    assert (scan.label, scan.is_misread) == ("", True)


@given(BODIES)
def test_a_bare_code_is_read_in_any_case_and_as_a_hand_writes_it(body: str) -> None:
    code = code_of(body)
    by_hand = code.translate(str.maketrans("01", "Oi"))
    assert read_scan(f" {code.lower()} ").label == read_scan(by_hand).label == code


@pytest.mark.parametrize(
    "said", ["https://elsewhere.invalid/", "http://elsewhere.invalid/shop/C-44", "HTTPS://X/D/" + CODE]
)
def test_an_address_of_anything_else_is_an_address_and_no_label(said: str) -> None:
    scan = read_scan(said)
    assert (scan.label, scan.is_address, scan.is_misread) == ("", True, False)


@pytest.mark.parametrize("said", ["C-44", "7731-0882", "httpd 4", "]", "C/" + CODE + "/2"])
def test_a_number_is_a_number(said: str) -> None:
    scan = read_scan(said)
    assert (scan.text, scan.label, scan.is_address) == (said, "", False)


@given(st.text(max_size=400))
def test_any_text_is_read(said: str) -> None:
    scan = read_scan(said)
    assert len(scan.text) <= LONGEST
    assert scan.label == "" or label_of(scan.label) == scan.label
    assert "\0" not in scan.text
