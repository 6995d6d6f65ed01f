"""
Formula identifiers: checks against ECHA's developers' manual for the UFI generator.

The 30 examples are the manual's, by way of open implementations that cite it. The VAT numbers are
made up there: several have no valid check digit of their own, only the right shape.
"""

import pytest

from pourwright.core.hazard.identifier import check, make

PUBLISHED = [
    ("AT", "U12345678", 178956970, "C23S-PQ2V-AMH9-VVRF"),
    ("BE", "0987654321", 89478485, "U1JV-SUMH-N988-U751"),
    ("BG", "9987654321", 252644556, "80SW-N2UD-FGRY-F6DA"),
    ("CZ", "978563421", 0, "F000-T0KH-V002-T4SM"),
    ("CZ", "9785634210", 268435455, "W3NN-SKC4-JXSS-V4WG"),
    ("CY", "12345678C", 87654321, "7EHW-3KC7-748V-S1RH"),
    ("DE", "112358132", 134217728, "KMTT-DSP3-7FD7-6RWY"),
    ("DK", "31415926", 524544, "3FQU-5GP0-Y105-J64N"),
    ("ES", "A1234567B", 5, "EF00-E0R3-M00S-4CX8"),
    ("ES", "D12345678", 5000, "Q9UE-K0GC-V00M-8ND0"),
    ("FR", "RF987654321", 134217728, "6KTT-PSK1-AFDM-KEFU"),
    ("FR", "01012345678", 268435455, "F3NN-3K1J-EXSK-7PHY"),
    ("GB", "987654321", 156920229, "GJC1-S7TH-AKFK-TR8P"),
    ("GB", "999987654321", 156920229, "CJC1-47ES-AKFS-WTFW"),
    ("GB", "ZY123", 268435455, "53NN-7KTT-1XS1-DDPH"),
    ("EL", "567438921", 66260700, "QNWM-9X6E-E46N-G4GJ"),
    ("HR", "16021765654", 268435455, "53NN-KKPX-SXSD-QJY7"),
    ("HU", "22334455", 238219293, "AU06-7HHD-64QN-8RHF"),
    ("IE", "9Z54321Y", 134217728, "GMTT-2SQN-6FDD-6TV1"),
    ("IE", "9+54321Y", 134217728, "KMTT-2SQQ-0FDQ-6A5D"),
    ("IE", "9876543ZW", 230087533, "XY3Q-S215-2DPF-DA4U"),
    ("IS", "AB3D5F", 182319099, "XUG4-WE32-RXHD-RHWU"),
    ("IT", "14286244833", 214783315, "WK3F-PYSX-TXM0-K9AV"),
    ("LT", "987654321", 15790899, "W3VQ-HGW8-UF12-W7QP"),
    ("NL", "999999999B77", 96485337, "QJ0V-J1JU-9Y8W-37TG"),
    ("PL", "4835978701", 19621109, "XRMW-9HU2-PT1U-7JNN"),
    ("RO", "98", 252644556, "E0SW-U2CF-KGR6-FRKW"),
    ("SE", "987654321098", 156920229, "1KC1-87DH-0KFR-2WGE"),
    ("SK", "9987654321", 252644556, "N0SW-W2AP-FGRV-F9RH"),
]
COMPANY_KEY = (1828639338661, 156920229, "NJC1-671A-UKF3-J0M8")


@pytest.mark.parametrize(("country", "vat", "formulation", "code"), PUBLISHED)
def test_a_vat_number_gives_the_published_code(country, vat, formulation, code):
    assert make(country=country, vat=vat, formulation=formulation) == code


@pytest.mark.parametrize(("country", "vat", "formulation", "code"), PUBLISHED)
def test_a_published_code_is_read_back(country, vat, formulation, code):
    found = check(code)
    assert (found.country, found.vat, found.formulation) == (country, vat, formulation)
    assert (found.code, found.company_key) == (code, None)


def test_a_company_key_gives_the_published_code_and_is_read_back():
    key, formulation, code = COMPANY_KEY
    assert make(company_key=key, formulation=formulation) == code
    found = check(code)
    assert (found.company_key, found.formulation, found.country) == (key, formulation, "")


def test_there_are_thirty_published_examples():
    assert len(PUBLISHED) + 1 == 30
