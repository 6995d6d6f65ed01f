"""Making and reading formula identifiers; the published ones stand in tests/published."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pourwright.core.hazard.identifier import BadIdentifier, check, countries, make, source

FORMULATIONS = st.integers(0, 2**28 - 1)
KEYS = st.integers(0, 2**41 - 1)
ALPHABET = "0123456789ACDEFGHJKMNPQRSTUVWXY"

# One invented number in the shape of each country, with every letter that its shape allows.
SHAPES = {
    "AT": r"U[0-9]{8}", "BE": r"[0-9]{10}", "BG": r"[1-9][0-9]{8,9}", "CY": r"[0-9]{8}[A-Z]",
    "CZ": r"[1-9][0-9]{7,9}", "DE": r"[0-9]{9}", "DK": r"[0-9]{8}", "EE": r"[0-9]{9}",
    "EL": r"[0-9]{9}", "ES": r"[0-9A-Z][0-9]{7}[0-9A-Z]", "FI": r"[0-9]{8}",
    "FR": r"[0-9A-Z]{2}[0-9]{9}", "GB": r"([0-9]{9}|[1-9][0-9]{11}|[A-Z]{2}[0-9]{3})",
    "HR": r"[0-9]{11}", "HU": r"[0-9]{8}", "IE": r"([0-9][A-Z][0-9]{5}[A-Z]|[0-9]{7}[A-Z][B-Z]?)",
    "IS": r"[0-9A-Z]{6}", "IT": r"[0-9]{11}", "LI": r"[0-9]{5}", "LT": r"([0-9]{9}|[1-9][0-9]{11})",
    "LU": r"[0-9]{8}", "LV": r"[0-9]{11}", "MT": r"[0-9]{8}", "NL": r"[0-9]{9}B[0-9]{2}",
    "NO": r"[0-9]{9}", "PL": r"[0-9]{10}", "PT": r"[0-9]{9}", "RO": r"[1-9][0-9]{1,9}",
    "SE": r"[0-9]{12}", "SI": r"[0-9]{8}", "SK": r"[0-9]{10}",
}  # fmt: skip
NUMBERS = st.sampled_from(sorted(SHAPES)).flatmap(
    lambda country: st.tuples(
        st.just(country), st.from_regex(SHAPES[country], fullmatch=True, alphabet=st.characters(
            codec="ascii"))
    )
)  # fmt: skip


def test_every_country_of_the_table_is_tried_below():
    assert set(countries()) == set(SHAPES)


@given(NUMBERS, FORMULATIONS)
@settings(max_examples=100)
def test_what_was_made_is_read_back(number, formulation):
    country, vat = number
    found = check(make(country=country, vat=vat, formulation=formulation))
    assert (found.country, found.vat, found.formulation) == (country, vat, formulation)


@given(KEYS, FORMULATIONS)
def test_a_company_key_is_read_back(key, formulation):
    found = check(make(company_key=key, formulation=formulation))
    assert (found.company_key, found.formulation) == (key, formulation)


@given(KEYS, FORMULATIONS, st.integers(0, 18), st.characters())
@settings(max_examples=100)
def test_changing_any_one_character_is_found(key, formulation, place, sign):
    code = make(company_key=key, formulation=formulation)
    if sign.isascii() and sign.upper() == code[place]:
        return  # the same in lower case, which is allowed
    with pytest.raises(BadIdentifier):
        check(code[:place] + sign + code[place + 1 :])


@pytest.mark.parametrize("place", [0, 6, 18])
def test_every_other_letter_at_a_place_is_found(place):
    code = make(country="DE", vat="224466880", formulation=7)
    for sign in ALPHABET.replace(code[place], ""):
        with pytest.raises(BadIdentifier, match="check digit"):
            check(code[:place] + sign + code[place + 1 :])


@given(KEYS, FORMULATIONS, st.integers(0, 14))
def test_two_neighbours_swapped_are_found(key, formulation, place):
    code = make(company_key=key, formulation=formulation).replace("-", "")
    swapped = code[:place] + code[place + 1] + code[place] + code[place + 2 :]
    if swapped != code:
        with pytest.raises(BadIdentifier):
            check(swapped)


@pytest.mark.parametrize("write", [str.lower, lambda code: code.replace("-", ""), " {} \n".format])
def test_lower_case_missing_hyphens_and_space_around_are_read(write):
    code = make(country="IT", vat="01234567890", formulation=12)
    assert check(write(code)).code == code


@pytest.mark.parametrize(
    ("country", "vat"),
    [("de", "DE 224.466-880"), ("GR", "EL224466880"), ("EL", "gr224466880"), ("XI", "XI224466880")],
)
def test_a_number_may_stand_with_its_country_and_in_groups(country, vat):
    bare = make(country={"de": "DE", "XI": "GB"}.get(country, "EL"), vat="224466880", formulation=3)
    assert make(country=country, vat=vat, formulation=3) == bare


def test_a_french_key_that_looks_like_the_country_stays():
    assert check(make(country="FR", vat="FR123456789", formulation=1)).vat == "FR123456789"
    assert check(make(country="FR", vat="FRAB123456789", formulation=1)).vat == "AB123456789"


@pytest.mark.parametrize(
    ("given_", "said"),
    [
        ({"country": "DE", "vat": "12345", "formulation": 1}, r'"12345".*Germany.*is 9 digits'),
        ({"country": "NL", "vat": "123456789", "formulation": 1}, "9 digits, B and 2 digits"),
        ({"country": "GB", "vat": "1", "formulation": 1}, "12 digits, or 9 digits, or 2 letters"),
        ({"country": "QQ", "vat": "1", "formulation": 1}, '"QQ" is no country.*AT.*company key'),
        ({"country": "DE", "vat": "224466880", "formulation": 2**28}, "268435456.*0 to 268435455"),
        ({"country": "DE", "vat": "224466880", "formulation": -1}, "0 to 268435455"),
        ({"company_key": 2**41, "formulation": 1}, "0 to 2199023255551"),
        ({"company_key": 1, "country": "DE", "formulation": 1}, "not both"),
        ({"formulation": 1}, "needs a country and its VAT number"),
        ({"country": "DE", "formulation": 1}, "needs a country and its VAT number"),
    ],
)
def test_what_cannot_be_made_is_told_with_what_would_be_right(given_, said):
    with pytest.raises(BadIdentifier, match=said):
        make(**given_)


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("", "16 letters and digits"),
        ("ABC", "four groups of four"),
        ("0000 0000 0000 0000", "and nothing else"),
        ("B000-0000-0000-0000", "character 1 is B.*8, 1, 0 or 2"),
        ("000\u0000", r"000\?"),
    ],
)
def test_what_is_no_code_is_told(code, said):
    with pytest.raises(BadIdentifier, match=said):
        check(code)


def with_check_digit(body):
    values = [ALPHABET.index(sign) for sign in body]
    weighed = sum(weight * value for weight, value in enumerate(values, start=2))
    return ALPHABET[-weighed % 31] + body


@given(st.text(ALPHABET, min_size=15, max_size=15))
def test_whatever_has_a_fitting_check_digit_is_read_whole_or_refused(body):
    code = with_check_digit(body)
    try:
        read = check(code)
    except BadIdentifier:
        return
    assert read.code.replace("-", "") == code


def test_a_fitting_check_digit_alone_makes_no_code():
    with pytest.raises(BadIdentifier, match="no country or version"):
        check(with_check_digit("Y" * 15))


def test_the_rule_says_where_it_comes_from():
    assert "ECHA" in source().source
