"""Form fields: what a field shows is read back as the same, so saving untouched changes nothing."""

from decimal import Decimal
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pourwright.workshop.house import fields

UNITS = st.sampled_from(["metric", "us"])


@given(mg=st.integers(0, 10**11), units=UNITS)
def test_a_mass_comes_back(mg, units):
    field = fields.MassField(units=units)
    assert field.clean(field.prepare_value(mg)) == mg


@given(mg=st.integers(1, 10**9), units=UNITS, measure=st.sampled_from([True, False]))
def test_a_quantity_comes_back(mg, units, measure):
    field = fields.QuantityField(units=units)
    field.item = SimpleNamespace(by_mass=measure)
    assert field.clean(field.prepare_value(mg)) == mg


@given(ml=st.decimals(Decimal("0.001"), 99_999, places=3), units=UNITS)
def test_a_volume_comes_back(ml, units):
    field = fields.VolumeField(units=units)
    assert field.clean(field.prepare_value(ml)) == ml


@given(mm=st.decimals(Decimal("0.01"), 999, places=2), units=UNITS)
def test_a_length_comes_back(mm, units):
    field = fields.LengthField(units=units)
    assert field.clean(field.prepare_value(mm)) == mm


@given(temp=st.decimals(-20, 200, places=1), units=UNITS)
def test_a_temperature_comes_back(temp, units):
    field = fields.TemperatureField(units=units)
    assert field.clean(field.prepare_value(temp)) == temp


@given(value=st.integers(0, 10**10), currency=st.sampled_from(["USD", "GBP", "JPY", "KWD", "SEK"]))
def test_money_comes_back_in_any_currency(value, currency):
    field = fields.MoneyField(currency=currency)
    assert field.clean(field.prepare_value(value)) == value


def test_a_mass_is_shown_in_the_workshops_own_units():
    shown = fields.MassField(units="us").prepare_value(226_796_185)
    assert shown.replace("\u00a0", " ") == "500 lb"
    assert fields.MassField(units="metric").prepare_value(250_000).startswith("250")


def test_what_cannot_be_read_is_told_with_an_example():
    from django.core.exceptions import ValidationError

    with pytest.raises(ValidationError, match=r"such as|for example"):
        fields.MassField(label="Fill").clean("a handful")


@pytest.mark.parametrize(
    ("mm", "shown"), [("6", "0.2362 in"), ("25.4", "1 in"), ("0.5", "0.0197 in")]
)
def test_in_us_units_a_length_is_shown_in_inches_and_saved_as_it_was(mm, shown):
    field = fields.LengthField(units="us")
    assert field.prepare_value(Decimal(mm)).replace("\u00a0", " ") == shown
    assert field.clean(shown) == Decimal(mm)
