"""Classes and shares as safety sheets write them."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.core.hazard.model import BadComposition, HazardClass, Kind, Route
from pourwright.core.hazard.words import (
    UnknownClass,
    UnreadableShare,
    parse_class,
    parse_range,
    write_class,
)


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("Skin Sens 1B", "Skin Sens 1B"),
        ("Skin Sens. 1B, H317", "Skin Sens 1B"),
        ("Skin sensitisation, Category 1A", "Skin Sens 1A"),
        ("Aquatic Chronic 2", "Chronic 2"),
        ("Aq. Chronic 2", "Chronic 2"),
        ("Aquatic Chronic 1; H410 (M=1)", "Chronic 1"),
        ("Hazardous to the aquatic environment, chronic 2", "Chronic 2"),
        ("Aquatic Acute 1 (H400)", "Aq Acute 1"),
        ("Acute Tox. 4 (oral)", "Acute 4 oral"),
        ("Acute Tox. Oral 4", "Acute 4 oral"),
        ("Acute toxicity (dermal), Category 4", "Acute 4 dermal"),
        ("Acute Tox. 4; H302", "Acute 4 oral"),
        ("Acute Tox. 3 (Inhalation: dust,mist)", "Acute 3 dust"),
        ("Acute Tox. 4 inhal.", "Acute 4 vapour"),
        ("Acute 4* oral", "Acute 4* oral"),
        ("STOT RE 2 *, H373", "STOT RE 2*"),
        ("STOT SE 3 (H336)", "STOT SE 3 H336"),
        ("Repr. 1B; H360Fd", "Repr 1B H360Fd"),
        ("Eye Irrit. 2A", "Eye Irrit 2"),
        ("H317", "Skin Sens 1"),
        ("H361d", "Repr 2 H361d"),
        ("H412", "Chronic 3"),
        ("EUH380", "ED HH 1"),
        ("Lact.", "Lact"),
        ("vPvB", "vPvB"),
        ("Asp. Tox. 1", "Asp 1"),
        ("Aspiration hazard, category 1", "Asp 1"),
    ],
)
def test_a_class_is_read_as_sheets_write_it(written, read):
    hazard, minimum = parse_class(written)
    assert write_class(hazard, minimum=minimum) == read


@pytest.mark.parametrize("written", ["", "Foo 3", "Skin Sens", "Chronic 5", "EUH066", "not known"])
def test_words_that_name_no_class_are_refused_with_examples(written):
    with pytest.raises(UnknownClass, match="write for example"):
        parse_class(written)


def test_acute_toxicity_needs_its_route():
    with pytest.raises(UnknownClass, match="route"):
        parse_class("Acute Tox. 4")


CATEGORIES = {
    Kind.SKIN_CORR: ("1", "1A", "1B", "1C"), Kind.SKIN_IRRIT: ("2",), Kind.EYE_DAM: ("1",),
    Kind.EYE_IRRIT: ("2",), Kind.RESP_SENS: ("1", "1A", "1B"), Kind.SKIN_SENS: ("1", "1A", "1B"),
    Kind.MUTA: ("1A", "1B", "2"), Kind.CARC: ("1A", "1B", "2"), Kind.LACT: ("",),
    Kind.STOT_SE: ("1", "2"), Kind.STOT_RE: ("1", "2"), Kind.ASP: ("1",),
    Kind.AQ_ACUTE: ("1", "2", "3"), Kind.AQ_CHRONIC: ("1", "2", "3", "4"), Kind.ED_HH: ("1", "2"),
    Kind.ED_ENV: ("1", "2"), Kind.PBT: ("",), Kind.VPVB: ("",), Kind.PMT: ("",), Kind.VPVM: ("",),
    Kind.FLAM_LIQ: ("1", "2", "3", "4"), Kind.FLAM_SOL: ("1", "2"), Kind.MET_CORR: ("1",),
}  # fmt: skip


def any_class():
    plain = st.sampled_from(list(CATEGORIES)).flatmap(
        lambda kind: st.builds(HazardClass, st.just(kind), st.sampled_from(CATEGORIES[kind]))
    )
    acute = st.builds(
        HazardClass, st.just(Kind.ACUTE), st.sampled_from("12345"), st.sampled_from(Route)
    )
    single = st.builds(
        lambda detail: HazardClass(Kind.STOT_SE, "3", detail=detail),
        st.sampled_from(["", "H335", "H336"]),
    )
    toxic = st.builds(
        lambda found: HazardClass(Kind.REPR, found[0], detail=found[1]),
        st.sampled_from([("1B", ""), ("1A", "FD"), ("1B", "Fd"), ("2", "d"), ("2", "fd")]),
    )
    return st.one_of(plain, acute, single, toxic)


@given(hazard=any_class(), minimum=st.booleans())
def test_a_class_written_is_read_back_as_it_was(hazard, minimum):
    minimum = minimum and bool(hazard.category)
    assert parse_class(write_class(hazard, minimum=minimum)) == (hazard, minimum)


@pytest.mark.parametrize(
    ("written", "low", "high", "open_above"),
    [
        ("5 - <10 %", "5", "10", True),
        ("≥1 - <5", "1", "5", True),
        ("<= 2,5 %", "0", "2.5", False),
        ("0.1-1", "0.1", "1", False),
        ("≥ 5 ≤ 10", "5", "10", False),
        ("1 ≤ C < 5", "1", "5", True),
        ("10–25% (w/w)", "10", "25", False),
        ("< 1", "0", "1", True),
        ("> 90 %", "90", "100", False),
        ("12", None, "12", False),
    ],
)
def test_a_share_is_read_as_sheets_write_it(written, low, high, open_above):
    found = parse_range(written)
    assert found.low == (None if low is None else Fraction(low))
    assert (found.high, found.open_above) == (Fraction(high), open_above)


@pytest.mark.parametrize("written", ["", "x", "5-", "1-2-3", "a few", "101", "5 - 1"])
def test_what_is_no_share_is_refused(written):
    with pytest.raises((UnreadableShare, BadComposition)):
        parse_range(written)
