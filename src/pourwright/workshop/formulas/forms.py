"""The formula's form, row by row, and the calculator's."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django import forms
from django.db.models import Q

from pourwright.core.formula import NO_LOAD
from pourwright.workshop.formulas.services import Recipe
from pourwright.workshop.house.fields import (
    MassField,
    PercentField,
    TemperatureField,
    WorkshopForm,
)
from pourwright.workshop.pours.models import Melter
from pourwright.workshop.stores.models import Basis, Item, Kind


def slid(ends: str) -> forms.TextInput:
    """Return a box that a slider moves too, from the one end to the other in steps."""
    return forms.TextInput(attrs={"data-slide": ends})


class ShareField(PercentField):
    """A part by mass: parts are taken of their sum, so that thirds need no decimals."""


def options_for(kinds: Sequence[str], *, used: Iterable[int] = ()) -> list[Item]:
    """Return the items to choose from: those in use, and retired ones that stand there already."""
    found = Item.objects.filter(kind__in=kinds).filter(Q(retired=False) | Q(pk__in=list(used)))
    return list(found.select_related("wax", "oil", "vessel", "wick"))


class ItemChoice(forms.ChoiceField):
    """A choice of items that were read once for the whole form; gives the item."""

    def __init__(self, **keywords) -> None:
        super().__init__(**keywords)
        self._by_key: dict[str, Item] = {}

    def offer(self, items: Iterable[Item], *, none: str = "choose") -> None:
        items = list(items)
        self._by_key = {str(item.pk): item for item in items}
        self.choices = [("", none), *((item.pk, item.name) for item in items)]

    def clean(self, value) -> Item | None:
        return self._by_key.get(super().clean(value))

    def prepare_value(self, value):
        return value.pk if isinstance(value, Item) else value

    def has_changed(self, initial, data) -> bool:
        return super().has_changed(self.prepare_value(initial), data)


class Row(WorkshopForm):
    """A row of a table of parts; without an item it is left out."""

    what = "item"
    amount = "share"

    def __init__(self, *arguments, options=(), **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["item"].offer(options, none=f"– no {self.what} –")
        for name, field in self.fields.items():
            field.widget.attrs["aria-label"] = field.label
            if name != "item":
                field.widget.attrs["class"] = "short"

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("item") and cleaned.get(self.amount) is None:
            if self.amount not in self.errors:
                self.add_error(
                    self.amount, f"How much of {cleaned['item'].name}? Give a number such as 1."
                )
        elif cleaned.get("item") and cleaned[self.amount] <= 0:
            self.add_error(
                self.amount, f"{cleaned['item'].name}: give more than 0, or take it out."
            )
        return cleaned

    def part(self):
        item = self.cleaned_data.get("item")
        return (item, self.cleaned_data[self.amount]) if item else None


class WaxRow(Row):
    what = "wax"
    item = ItemChoice(label="Wax", required=False)
    share = ShareField(label="Share of the wax", required=False)


class OilRow(Row):
    what = "oil"
    item = ItemChoice(label="Fragrance oil", required=False)
    share = ShareField(label="Share of the oils", required=False, widget=slid("0 100 1"))


class ExtraRow(Row):
    what = "dye or additive"
    amount = "pct_of_wax"
    item = ItemChoice(label="Dye or additive", required=False)
    pct_of_wax = PercentField(label="Per cent of the wax", required=False, places=4)


class FormulaForm(WorkshopForm):
    name = forms.CharField(max_length=120, label="Name")
    idea = forms.CharField(
        label="The scent idea", required=False, widget=forms.Textarea(attrs={"rows": 2})
    )
    load_pct = PercentField(label="Load, per cent", required=False, widget=slid("0 15 0.1"))
    load_basis = forms.ChoiceField(
        label="The load is", choices=Basis.choices,
        help_text="Suppliers of wax mostly mean “of the wax”, safety sheets “of the whole”.",
    )  # fmt: skip
    add_at_c = TemperatureField(label="Oils go in at", required=False)
    pour_at_c = TemperatureField(label="Poured at", required=False)
    stir_minutes = forms.DecimalField(
        label="Minutes to stir", required=False, min_value=0, max_value=120, max_digits=4,
        decimal_places=1,
    )  # fmt: skip
    override_reason = forms.CharField(
        label="Reason to go past the wax’s limit", required=False, max_length=300,
        help_text="Only where the load is above what the wax’s supplier states.",
    )  # fmt: skip
    note = forms.CharField(label="Note on this version", required=False, max_length=200)


class RecipeForms:
    """
    A formula's form with its three tables of rows, read and checked as one.

    The rows keep what was typed; an empty row counts for nothing.
    """

    TABLES = (
        ("waxes", WaxRow, (Kind.WAX,), 8),
        ("oils", OilRow, (Kind.OIL,), 12),
        ("extras", ExtraRow, (Kind.DYE, Kind.ADDITIVE), 12),
    )

    def __init__(self, data=None, *, workshop, recipe: Recipe | None = None, initial=None) -> None:
        start = dict(initial or {})
        if recipe is not None:
            start |= {
                name: getattr(recipe, name)
                for name in ("load_pct", "load_basis", "add_at_c", "pour_at_c", "stir_minutes",
                             "override_reason", "note")
            }  # fmt: skip
        self.form = FormulaForm(data, workshop=workshop, initial=start)
        self.tables = {}
        for name, row, kinds, most in self.TABLES:
            given = getattr(recipe, name) if recipe else ()
            rows = forms.formset_factory(row, extra=1, max_num=most, validate_max=True)
            self.tables[name] = rows(
                data,
                prefix=name,
                initial=[{"item": item, row.amount: amount} for item, amount in given],
                form_kwargs={
                    "workshop": workshop,
                    "options": options_for(kinds, used=(item.pk for item, _ in given)),
                },
            )
            self.tables[name].most = most

    def is_valid(self) -> bool:
        # All of them, so that everything wrong shows at once.
        return all([self.form.is_valid(), *(table.is_valid() for table in self.tables.values())])

    @property
    def recipe(self) -> Recipe:
        facts = self.form.cleaned_data
        rows = {
            name: [part for row in table if (part := row.part())]
            for name, table in self.tables.items()
        }
        return Recipe(
            **rows,
            load_pct=facts["load_pct"] or NO_LOAD.pct_of_wax,
            load_basis=facts["load_basis"],
            add_at_c=facts["add_at_c"],
            pour_at_c=facts["pour_at_c"],
            stir_minutes=facts["stir_minutes"] or 0,
            override_reason=facts["override_reason"],
            note=facts["note"],
        )


class BatchForm(WorkshopForm):
    """What batch is wanted: so many vessels, so much wax, or a melter full (``by``)."""

    BY_VESSELS, BY_WAX, BY_MELTER = "vessels", "wax", "melter"
    WAYS = (
        (BY_VESSELS, "Vessels wanted"), (BY_WAX, "Wax at hand"), (BY_MELTER, "A full melter"),
    )  # fmt: skip
    ASKS = {
        BY_VESSELS: ("number", "fill"),
        BY_WAX: ("wax",),
        BY_MELTER: ("melter",),
    }

    by = forms.ChoiceField(choices=WAYS, widget=forms.HiddenInput)
    number = forms.IntegerField(label="Vessels", min_value=1, max_value=100_000)
    wax = MassField(label="Wax at hand")
    melter = forms.ModelChoiceField(Melter.objects.none(), label="Melter", empty_label="none")
    fill = MassField(label="Fill weight of one")
    loss = PercentField(label="Loss, per cent of the mix", required=False, places=2)
    oil_goes_in = forms.ChoiceField(
        label="Oil goes into", choices=[("melter", "the melter"), ("pitcher", "a pitcher")]
    )

    def __init__(self, *arguments, by: str, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["melter"].queryset = Melter.objects.filter(retired=False)
        for name in ("number", "wax", "melter", "fill"):
            self.fields[name].required = name in self.ASKS[by]
        for name in ("number", "wax"):
            if name not in self.ASKS[by]:
                del self.fields[name]
