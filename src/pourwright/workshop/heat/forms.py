"""The forms of the heat pages; their field names are what the address carries."""

from __future__ import annotations

from decimal import Decimal

from django import forms

from pourwright.core.heat.materials import WALLS, WAXES
from pourwright.workshop.heat import materials
from pourwright.workshop.heat.setting import Ask
from pourwright.workshop.house.doors import refusals
from pourwright.workshop.house.fields import (
    LengthField,
    MassField,
    PercentField,
    TemperatureField,
    WorkshopForm,
)
from pourwright.workshop.stores.models import Item, Kind


class SettingForm(WorkshopForm):
    """The first pour."""

    pour_c = TemperatureField(label="Poured at")
    room_c = TemperatureField(label="Room")
    vessel_c = TemperatureField(
        label="Vessel warmed to", required=False, help_text="Empty: as warm as the room."
    )
    gap_mm = LengthField(
        label="Space between vessels", required=False,
        help_text="On the table, between vessels in rows. Empty: one stands alone.",
    )  # fmt: skip

    def ask(self) -> Ask:
        return Ask(**{name: self.cleaned_data[name] for name in self.fields})


class BesideForm(WorkshopForm):
    """Another pour to set beside it; what is empty is as in the first."""

    pour_c = TemperatureField(label="Poured at", required=False)
    room_c = TemperatureField(label="Room", required=False)
    vessel_c = TemperatureField(label="Vessel warmed to", required=False)
    gap_mm = LengthField(label="Space between vessels", required=False)

    def ask(self, first: Ask) -> Ask | None:
        """Return what is asked, or None where nothing is typed."""
        given = {name: self.cleaned_data.get(name) for name in self.fields}
        if all(value is None for value in given.values()):
            return None
        return Ask(**{n: getattr(first, n) if v is None else v for n, v in given.items()})


class BurnForm(WorkshopForm):
    """One burn."""

    rate_g_h = forms.DecimalField(
        label="One wick burns, g an hour", min_value=Decimal("0.5"), max_value=20, max_digits=6,
        decimal_places=3,
        help_text="Weigh a burn: grams lost, by the hours and the wicks.",
    )  # fmt: skip
    hours = forms.DecimalField(
        label="Hours a burn", min_value=Decimal("0.5"), max_value=12, max_digits=4,
        decimal_places=2,
    )  # fmt: skip
    room_c = TemperatureField(label="Room")


class MeltForm(WorkshopForm):
    wax = forms.ModelChoiceField(Item.objects.none(), label="Wax", required=False)
    mass_mg = MassField(label="Mass of wax")
    power_w = forms.IntegerField(label="Melter’s power, W", min_value=1, max_value=100_000)
    start_c = TemperatureField(label="Wax starts at")
    melt_to_c = TemperatureField(label="Melt to")
    pour_c = TemperatureField(label="Pour at", required=False)
    efficiency_pct = PercentField(label="Of its power the wax gets, per cent")
    pot_mm = LengthField(
        label="Pot’s inside diameter", required=False,
        help_text="For how long the melt stays fit to pour, unheated.",
    )  # fmt: skip

    def __init__(self, *arguments, of_pour: bool = False, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        if of_pour:
            del self.fields["wax"]
        else:
            self.fields["wax"].required = True
            self.fields["wax"].empty_label = None
            self.fields["wax"].queryset = Item.objects.filter(kind=Kind.WAX, retired=False)


class ValueForm(WorkshopForm):
    """The maker's own value of a material."""

    name = forms.ChoiceField(label="Value")
    value = forms.CharField(label="Your value", max_length=40)
    source = forms.CharField(
        label="Where it is from", max_length=200,
        help_text="A sheet and its date, or how you measured it.",
    )  # fmt: skip
    by = forms.CharField(label="Entered by", max_length=80, required=False)

    def __init__(self, *arguments, names, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        warm = "°F" if self.workshop.units == "us" else "°C"
        self.fields["name"].choices = [
            (name, f"{m.words}{f', {unit}' if (unit := warm if m.temperature else m.unit) else ''}")
            for name in names
            for m in [materials.MEASURES[name]]
        ]
        if len(self.fields["name"].choices) == 1:
            self.fields["name"].initial = self.fields["name"].choices[0][0]

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("value") and cleaned.get("name"):
            with refusals(self, "value"):
                cleaned["read"] = materials.read_value(
                    cleaned["name"], cleaned["value"], units=self.workshop.units
                )
        return cleaned


class KindForm(WorkshopForm):
    """Which tables an item goes by."""

    kinds = forms.MultipleChoiceField(
        label="It is nearest to", widget=forms.CheckboxSelectMultiple,
        help_text="Several: a blend in equal parts.",
    )  # fmt: skip
    by = forms.CharField(label="Chosen by", max_length=80, required=False)

    def __init__(self, *arguments, item: Item, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        names = WAXES if item.kind == Kind.WAX else WALLS
        if item.kind != Kind.WAX:
            self.fields["kinds"] = forms.ChoiceField(label="It is made of")
        self.fields["kinds"].choices = [(name, name) for name in names]
        self.order_fields(["kinds", "by"])

    def chosen(self) -> list[str]:
        given = self.cleaned_data["kinds"]
        return [given] if isinstance(given, str) else given


class OutcomeForm(WorkshopForm):
    """When the vessels could really be moved, and when they were set through."""

    movable = forms.CharField(
        label="Could be moved after", required=False, max_length=12,
        help_text="Hours and minutes from the pour, such as 1:45 or 105 min.",
    )  # fmt: skip
    through = forms.CharField(label="Set through after", required=False, max_length=12)
    note = forms.CharField(label="How you told", required=False, max_length=200)
