"""
Form fields that read amounts as makers write them and give the records' integers.

Each shows its value back in the workshop's units, so that saving an untouched form changes
nothing; what cannot be read is told beside the field with an example, and stays as typed.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from django import forms
from django.core.exceptions import ValidationError

from pourwright.core import amounts
from pourwright.core.errors import BadInput

# A third of an ounce in exact figures is no help to anyone; such an amount is shown in metric.
LONGEST_SHOWN = 12


class AmountField(forms.CharField):
    """A text field that reads an amount. Subclasses say how it is read, shown and kept."""

    def __init__(self, *, units: str = "metric", **keywords) -> None:
        self.units = units
        super().__init__(**keywords)
        self.widget.attrs.setdefault("autocomplete", "off")
        self.widget.attrs.setdefault("spellcheck", "false")

    def read(self, text: str):
        raise NotImplementedError

    def show(self, value) -> str:
        raise NotImplementedError

    def to_python(self, value):
        text = super().to_python(value)
        if text in self.empty_values:
            return None
        try:
            return self.read(text)
        except BadInput as problem:
            raise ValidationError(str(problem)) from problem

    def prepare_value(self, value):
        if value is None or isinstance(value, str):
            return value
        return self.show(value)

    def _first_that_reads_back(self, value, *shown: str) -> str:
        """Return the first of several ways to show a value that is read as that same value."""
        for text in shown:
            if len(text) <= LONGEST_SHOWN and self.read(text) == value:
                return text
        return shown[-1]

    def has_changed(self, initial, data) -> bool:
        try:
            return self.to_python(data) != initial
        except ValidationError:
            return True

    def run_validators(self, value) -> None:
        """Length validators speak of text; an amount has been read by now."""


class MassField(AmountField):
    """Milligrams, from "6 lb 4 oz" or "2.5 kg"; a bare number is the workshop's small unit."""

    def read(self, text: str) -> int:
        bare = "oz" if self.units == "us" else "g"
        return amounts.to_mg(amounts.parse_mass(text, bare=bare, field=self.label or "Mass"))

    def show(self, value) -> str:
        return _mass_back(self, value)


class VolumeField(AmountField):
    """Millilitres as Decimal, to the microlitre."""

    def read(self, text: str) -> Decimal:
        bare = "fl oz" if self.units == "us" else "ml"
        return _decimal(amounts.parse_volume(text, bare=bare, field=self.label or "Volume"), 3)

    def show(self, value) -> str:
        ml = Fraction(value)
        return self._first_that_reads_back(
            value,
            amounts.show_volume(ml, self.units),
            amounts.show_volume(ml, "metric", style="full"),
        )


class LengthField(AmountField):
    """Millimetres as Decimal, to the hundredth."""

    def read(self, text: str) -> Decimal:
        bare = "in" if self.units == "us" else "mm"
        return _decimal(amounts.parse_length(text, bare=bare, field=self.label or "Length"), 2)

    def show(self, value) -> str:
        mm = Fraction(value)
        return self._first_that_reads_back(
            value,
            amounts.show_length(mm, self.units),
            *self._finer(mm),
            amounts.show_length(mm, "metric", style="full"),
        )

    def _finer(self, mm: Fraction) -> list[str]:
        """An inch to its ten-thousandth tells every hundredth of a millimetre apart."""
        if self.units != "us":
            return []
        return [f"{amounts.number(mm / amounts.INCH_MM, places=4, strip=True)} in"]


class TemperatureField(AmountField):
    """Degrees Celsius as Decimal, to the tenth."""

    def read(self, text: str) -> Decimal:
        bare = "F" if self.units == "us" else "C"
        field = self.label or "Temperature"
        return _decimal(amounts.parse_temperature(text, bare=bare, field=field), 1)

    def show(self, value) -> str:
        temp_c = Fraction(value)
        return self._first_that_reads_back(
            value,
            amounts.show_temperature(temp_c, self.units),
            amounts.show_temperature(temp_c, "metric", style="full"),
        )


class MoneyField(AmountField):
    """Hundredths of the currency's minor unit, from "4.25" or "$4.3125"."""

    def __init__(self, *, currency: str = "USD", **keywords) -> None:
        self.currency = currency
        super().__init__(**keywords)

    def read(self, text: str) -> int:
        digits = amounts.minor_digits(self.currency)
        return amounts.parse_money(
            text, minor_digits=digits, currency=self.currency, field=self.label or "Price"
        )

    def show(self, value) -> str:
        if value % 100 == 0:
            return amounts.show_money(int(value), currency=self.currency)
        places = amounts.minor_digits(self.currency) + 2
        return amounts.show_money(int(value), currency=self.currency, places=places)


class PercentField(AmountField):
    """Per cent as Decimal."""

    def __init__(self, *, places: int = 3, **keywords) -> None:
        self.places = places
        super().__init__(**keywords)

    def read(self, text: str) -> Decimal:
        return _decimal(amounts.parse_percent(text, field=self.label or "Percent"), self.places)

    def show(self, value) -> str:
        return f"{Decimal(value).normalize():f}"


class QuantityField(AmountField):
    """Milligrams or pieces, as ``item`` is measured (set it before cleaning)."""

    item = None

    def read(self, text: str) -> int:
        if self.item is None or self.item.by_mass:
            bare = "oz" if self.units == "us" else "g"
            return amounts.to_mg(amounts.parse_mass(text, bare=bare, field=self.label or "Amount"))
        return amounts.parse_count(text, field=self.label or "Number")

    def show(self, value) -> str:
        if self.item is None or self.item.by_mass:
            return _mass_back(self, value)
        return str(value)


def _mass_back(field: AmountField, value: int) -> str:
    mass_g = amounts.from_mg(int(value))
    return field._first_that_reads_back(
        value,
        amounts.show_mass(mass_g, field.units),
        amounts.show_mass(mass_g, field.units, style="full"),
        amounts.show_mass(mass_g, "metric", style="full"),
    )


def _decimal(value: Fraction, places: int) -> Decimal:
    """Round half to even, once, to what the record keeps."""
    scaled = round(value * 10**places)
    return Decimal(scaled).scaleb(-places)


class DayInput(forms.DateInput):
    input_type = "date"

    def __init__(self, attrs=None) -> None:
        super().__init__(attrs=attrs, format="%Y-%m-%d")


def fit_to(workshop, form: forms.BaseForm) -> None:
    """Give every amount field of a form the workshop's units and currency; plain date inputs."""
    for field in form.fields.values():
        if isinstance(field, AmountField):
            field.units = workshop.units
        if isinstance(field, MoneyField):
            field.currency = workshop.currency
        if isinstance(field, forms.DateField):
            field.widget = DayInput(attrs=field.widget.attrs)


class _LeadsToTheFault:
    """A form that opens at the first field that is wrong, also where the page is long."""

    def add_error(self, field, error) -> None:
        super().add_error(field, error)
        wrong = [self.fields[name].widget for name in self.fields if name in self._errors]
        if wrong and not any(widget.attrs.get("autofocus") for widget in wrong):
            wrong[0].attrs["autofocus"] = True


class WorkshopForm(_LeadsToTheFault, forms.Form):
    """A form that speaks the workshop's units: ``SomeForm(data, workshop=request.workshop)``."""

    def __init__(self, *arguments, workshop, **keywords) -> None:
        keywords.setdefault("label_suffix", "")
        super().__init__(*arguments, **keywords)
        self.workshop = workshop
        fit_to(workshop, self)


class WorkshopModelForm(_LeadsToTheFault, forms.ModelForm):
    """The same for a record."""

    def __init__(self, *arguments, workshop, **keywords) -> None:
        keywords.setdefault("label_suffix", "")
        super().__init__(*arguments, **keywords)
        self.workshop = workshop
        fit_to(workshop, self)
