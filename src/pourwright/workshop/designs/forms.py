"""The design's form with its rows of parts, and the form of the price."""

from __future__ import annotations

from django import forms
from django.db.models import OuterRef, Q, Subquery

from pourwright.core.contents import parse_declared
from pourwright.workshop.designs.models import Stage
from pourwright.workshop.designs.services import PART_KINDS, DesignSpec
from pourwright.workshop.formulas.forms import ItemChoice, options_for
from pourwright.workshop.formulas.models import FormulaVersion
from pourwright.workshop.house.doors import refusals
from pourwright.workshop.house.fields import (
    LengthField,
    MassField,
    MoneyField,
    PercentField,
    QuantityField,
    WorkshopForm,
)
from pourwright.workshop.stores.models import Item, Kind


def formula_versions(*, used: int | None = None):
    """Return the versions to choose from: the newest of each formula, and the one in use."""
    newest = FormulaVersion.objects.filter(formula=OuterRef("formula")).order_by("-number")
    return (
        FormulaVersion.objects.filter(
            Q(formula__retired=False, pk=Subquery(newest.values("pk")[:1])) | Q(pk=used)
        )
        .select_related("formula")
        .order_by("formula__name", "-number")
    )


class DesignForm(WorkshopForm):
    name = forms.CharField(label="Name", max_length=120)
    label_name = forms.CharField(label="Name on the label", max_length=80, required=False)
    formula_version = forms.ModelChoiceField(
        FormulaVersion.objects.none(), label="Formula", empty_label="choose"
    )
    vessel = ItemChoice(label="Vessel")
    fill_mg = MassField(label="Fill weight of wax and oil")
    declared = forms.CharField(
        label="Net weight on the label", required=False, max_length=40,
        help_text="Such as 7 oz (198 g) or 198 g. Empty: proposed from the fill weight.",
    )  # fmt: skip
    wick = ItemChoice(label="Wick")
    wick_count = forms.IntegerField(label="Wicks", min_value=1, max_value=10)
    trim_mm = LengthField(label="Wick trimmed to")
    cure_days = forms.IntegerField(
        label="Days to cure", required=False, min_value=0, max_value=365,
        help_text="Empty: as its wax cures, else as the workshop says.",
    )  # fmt: skip
    best_before_months = forms.IntegerField(
        label="Best before, months", required=False, min_value=1, max_value=240
    )
    minutes_each = forms.DecimalField(
        label="Minutes of work a candle", required=False, min_value=0, max_value=600, max_digits=6,
        decimal_places=2,
    )  # fmt: skip
    price_minor100 = MoneyField(label="Price, direct", required=False)
    wholesale_minor100 = MoneyField(label="Price, wholesale", required=False)
    markets = forms.CharField(
        label="Sold in", required=False, max_length=40,
        help_text="us, eu, gb; comma between. Empty: as the workshop.",
    )  # fmt: skip
    note = forms.CharField(label="Note on this version", required=False, max_length=200)

    def __init__(self, *arguments, spec: DesignSpec | None = None, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        used = spec.formula_version.pk if spec else None
        self.fields["formula_version"].queryset = formula_versions(used=used)
        for name, kind in (("vessel", Kind.VESSEL), ("wick", Kind.WICK)):
            standing = [getattr(spec, name).pk] if spec else []
            self.fields[name].offer(options_for([kind], used=standing))

    def clean_declared(self) -> str:
        text = self.cleaned_data["declared"].strip()
        if text:
            with refusals(self, "declared"):
                parse_declared(text, field="Net weight")
        return text


class PartRow(WorkshopForm):
    """Something else that a candle takes; without an item the row is left out."""

    item = ItemChoice(label="Part", required=False)
    qty = QuantityField(label="For each candle", required=False)
    stage = forms.ChoiceField(
        label="Used", choices=Stage.choices, initial=Stage.FINISH, required=False
    )

    def __init__(self, *arguments, options=(), **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["item"].offer(options, none="– no part –")
        for field in self.fields.values():
            field.widget.attrs["aria-label"] = field.label
        self.fields["qty"].widget.attrs["class"] = "short"
        self.fields["qty"].item = self._item(options)

    def _item(self, options) -> Item | None:
        """Return the row's item before it is cleaned: how the quantity is read depends on it."""
        given = self.data.get(self.add_prefix("item")) if self.is_bound else None
        if not self.is_bound:
            return self.initial.get("item")
        return next((item for item in options if str(item.pk) == given), None)

    def clean(self):
        cleaned = super().clean()
        item = cleaned.get("item")
        if item and not cleaned.get("qty") and "qty" not in self.errors:
            self.add_error("qty", f"How much of {item.name} does a candle take?")
        return cleaned

    def part(self):
        given = self.cleaned_data
        if not given.get("item"):
            return None
        return given["item"], given["qty"], given["stage"] or Stage.FINISH


class SpecForms:
    """A design's form with its rows, read and checked as one."""

    def __init__(self, data=None, *, workshop, spec: DesignSpec | None = None, initial=None):
        start = dict(initial or {})
        if spec is not None:
            start |= {
                name: getattr(spec, name) for name in DesignForm.base_fields if hasattr(spec, name)
            }
        self.form = DesignForm(data, workshop=workshop, initial=start, spec=spec)
        parts = spec.parts if spec else ()
        rows = forms.formset_factory(PartRow, extra=1, max_num=30, validate_max=True)
        self.parts = rows(
            data,
            prefix="parts",
            initial=[{"item": item, "qty": qty, "stage": stage} for item, qty, stage in parts],
            form_kwargs={
                "workshop": workshop,
                "options": options_for(PART_KINDS, used=(item.pk for item, _, _ in parts)),
            },
        )

    def is_valid(self) -> bool:
        return all([self.form.is_valid(), self.parts.is_valid()])

    @property
    def spec(self) -> DesignSpec:
        given = dict(self.form.cleaned_data)
        given.pop("name")
        given.pop("label_name")
        given["minutes_each"] = given["minutes_each"] or 0
        return DesignSpec(**given, parts=[part for row in self.parts if (part := row.part())])


class PriceForm(WorkshopForm):
    """What margin is wanted, and what selling costs, each way of selling."""

    margin = PercentField(label="Margin wanted, per cent of the price", places=2)
    fee = PercentField(label="Selling fee, per cent", required=False, places=2)
    fixed_fee = MoneyField(label="and fixed, a sale", required=False)
    wholesale_margin = PercentField(label="Margin wanted, wholesale", places=2)
    wholesale_fee = PercentField(label="Wholesale fee, per cent", required=False, places=2)
    ending = MoneyField(
        label="Prices end in", required=False, help_text="0.95 or 0.50, for example."
    )
