"""Offers, freight and orders as forms."""

from __future__ import annotations

from django import forms

from pourwright.workshop.house.doors import EntryId
from pourwright.workshop.house.fields import MoneyField, QuantityField, WorkshopForm
from pourwright.workshop.planning.models import Offer
from pourwright.workshop.stores.models import Item, Supplier

BREAKS = (2, 3, 4)


class OfferForm(WorkshopForm):
    """What a supplier sells an item in, with up to three price breaks."""

    supplier = forms.ModelChoiceField(Supplier.objects.order_by("name"), empty_label="choose")
    pack_qty = QuantityField(label="A pack holds", help_text="Such as 5 kg, or 48 pieces.")
    price_1 = MoneyField(label="Price of a pack")
    from_2 = forms.IntegerField(
        label="From so many packs", required=False, min_value=2, max_value=100_000
    )
    price_2 = MoneyField(label="a pack costs", required=False)
    from_3 = forms.IntegerField(
        label="From so many more", required=False, min_value=2, max_value=100_000
    )
    price_3 = MoneyField(label="a pack costs", required=False)
    from_4 = forms.IntegerField(
        label="And from so many", required=False, min_value=2, max_value=100_000
    )
    price_4 = MoneyField(label="a pack costs", required=False)
    lead_days = forms.IntegerField(
        label="Days to arrive", required=False, min_value=0, max_value=365,
        help_text="Empty: as the supplier’s page says.",
    )  # fmt: skip
    keeps_days = forms.IntegerField(
        label="Keeps, days", required=False, min_value=1, max_value=3650,
        help_text="From the day it comes. Empty: as long as the plan looks ahead.",
    )  # fmt: skip
    note = forms.CharField(required=False, max_length=200)
    retired = forms.BooleanField(label="No longer offered", required=False)

    def __init__(self, *arguments, item: Item, offer: Offer | None = None, **keywords) -> None:
        initial = keywords.pop("initial", None) or {"supplier": item.supplier_id}
        if offer is not None:
            names = ("pack_qty", "lead_days", "keeps_days", "note", "retired")
            initial = {name: getattr(offer, name) for name in names}
            initial["supplier"] = offer.supplier_id
            for place, price in enumerate(offer.prices.all()[: 1 + len(BREAKS)], start=1):
                initial[f"price_{place}"] = price.price_minor100
                initial[f"from_{place}"] = price.from_packs
        super().__init__(*arguments, initial=initial, **keywords)
        self.fields["pack_qty"].item = item
        if offer is None:
            del self.fields["retired"]

    def clean(self):
        cleaned = super().clean()
        for place in BREAKS:
            packs, price = cleaned.get(f"from_{place}"), cleaned.get(f"price_{place}")
            if packs is not None and price is None and f"price_{place}" not in self.errors:
                self.add_error(f"price_{place}", f"Say what a pack costs from {packs} packs.")
            if price is not None and packs is None and f"from_{place}" not in self.errors:
                self.add_error(f"from_{place}", "Say from how many packs.")
        return cleaned

    def told(self) -> dict:
        """Return what was typed as the service takes it."""
        known = self.cleaned_data
        prices = [(1, known["price_1"])]
        prices += [
            (known[f"from_{place}"], known[f"price_{place}"])
            for place in BREAKS
            if known.get(f"from_{place}") is not None
        ]
        names = ("supplier", "pack_qty", "lead_days", "keeps_days", "note", "retired")
        return {name: known[name] for name in names if name in known} | {"prices": prices}


class FreightForm(WorkshopForm):
    """What a supplier charges for sending."""

    charge_minor100 = MoneyField(label="Freight of an order")
    free_from_minor100 = MoneyField(
        label="Free from an order of", required=False, help_text="Empty: never free."
    )


class OrderedForm(forms.Form):
    """Which of the orders on the page was sent."""

    client_id = EntryId()
    supplier = forms.CharField(max_length=40)
    on = forms.DateField()


class ExpectForm(WorkshopForm):
    """When an order is expected."""

    expected_on = forms.DateField(label="Expected on")
