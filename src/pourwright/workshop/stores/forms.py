"""The forms of the stores: they read amounts and put what is refused beside its field."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError
from django.forms.utils import flatatt
from django.utils.html import escape
from django.utils.safestring import mark_safe

from pourwright.core import amounts
from pourwright.core.errors import BadInput
from pourwright.workshop.house.doors import EntryId
from pourwright.workshop.house.fields import (
    AmountField,
    LengthField,
    MassField,
    MoneyField,
    PercentField,
    QuantityField,
    TemperatureField,
    VolumeField,
    WorkshopForm,
)
from pourwright.workshop.stores import items
from pourwright.workshop.stores.models import (
    INSIDE,
    SUPPLY_KINDS,
    Basis,
    Item,
    Kind,
    Lot,
    Material,
    Measure,
    Origin,
    Place,
    Shape,
    Spread,
    Supplier,
)
from pourwright.workshop.stores.services import Received

LONG = forms.Textarea(attrs={"rows": 3})


@contextmanager
def refused_facts(*among: forms.BaseForm) -> Iterator[None]:
    """Put a BadFact beside the field it is about, whichever of the forms has it."""
    try:
        yield
    except items.BadFact as problem:
        form = next((form for form in among if problem.field in form.fields), None)
        if form is not None:
            form.add_error(problem.field, str(problem))
        else:
            among[0].add_error(None, str(problem))
    except BadInput as problem:
        among[0].add_error(None, str(problem))


class DensityField(AmountField):
    """g/ml as Decimal, to the fourth place."""

    def read(self, text: str) -> Decimal:
        density = amounts.parse_density(text, field=self.label or "Density")
        return Decimal(round(density * 10_000)).scaleb(-4)

    def show(self, value) -> str:
        return f"{Decimal(value).normalize():f}"


class MarksField(AmountField):
    """Water marks, one a line: a height and the volume below it, such as "40 mm 120 ml"."""

    widget = forms.Textarea(attrs={"rows": 4})

    def read(self, text: str) -> list[list[str]]:
        return [self._mark(line) for line in text.splitlines() if line.strip()]

    def _mark(self, line: str) -> list[str]:
        words = line.replace(";", " ").replace(":", " ").replace("\t", " ").split()
        for cut in range(1, len(words)):
            height, volume = " ".join(words[:cut]), " ".join(words[cut:])
            try:
                bare = ("in", "fl oz") if self.units == "us" else ("mm", "ml")
                mm = amounts.parse_length(height, bare=bare[0])
                ml = amounts.parse_volume(volume, bare=bare[1])
            except BadInput:
                continue
            return [f"{float(mm):.2f}", f"{float(ml):.3f}"]
        raise BadMark(
            f"“{line.strip()[:40]}” is not a height and a volume; write for example “40 mm 120 ml”."
        )

    def show(self, value) -> str:
        return "\n".join(f"{float(height):g} mm {float(ml):g} ml" for height, ml in value)

    def to_python(self, value):
        return super().to_python(value) or []


class BadMark(BadInput):
    """A water mark that cannot be read."""


# --- items ---------------------------------------------------------------------------------------


class ItemForm(WorkshopForm):
    """What every item has. Bound to a kind; ``item`` is the one changed, if any."""

    name = forms.CharField(max_length=120)
    measure = forms.ChoiceField(label="Kept", choices=Measure)
    supplier = forms.ModelChoiceField(Supplier.objects.all(), required=False, empty_label="–")
    supplier_ref = forms.CharField(label="Supplier’s number for it", max_length=80, required=False)
    reorder_below = QuantityField(
        label="Buy again below",
        required=False,
        help_text="Today says when the store holds less than this.",
    )
    piece_mg = MassField(
        label="One piece weighs", required=False, help_text="To spread freight by weight."
    )
    notes = forms.CharField(required=False, widget=LONG)
    retired = forms.BooleanField(
        required=False, label="Retired: no longer bought, hidden from the lists"
    )

    def __init__(self, *arguments, kind: str, item: Item | None = None, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.item = item or Item(kind=kind, measure=items.MEASURES[kind][0])
        measures = items.MEASURES[kind]
        if items.measure_fixed(self.item):
            del self.fields["measure"]
        else:
            self.fields["measure"].choices = [(m, Measure(m).label) for m in measures]
        if item is None:
            del self.fields["retired"]
        if Measure.COUNT not in measures:
            del self.fields["piece_mg"]
        measure = self.item.measure
        if self.is_bound and "measure" in self.fields:
            measure = self.data.get(self.add_prefix("measure"), measure)
        self.fields["reorder_below"].item = Item(kind=kind, measure=measure)
        used = item.supplier_id if item else None
        self.fields["supplier"].queryset = Supplier.objects.order_by("name")
        self.initial.setdefault("supplier", used)


class WaxForm(WorkshopForm):
    max_load_pct = PercentField(label="Most oil it takes", required=False)
    max_load_basis = forms.ChoiceField(label="That figure is per cent", choices=Basis)
    density_cold_g_ml = DensityField(
        label="Density when set, g/ml", required=False, help_text="Most container waxes: near 0.9."
    )
    density_liquid_g_ml = DensityField(label="Density when liquid, g/ml", required=False)
    melt_to_c = TemperatureField(label="Melt to", required=False)
    add_at_c = TemperatureField(label="Add the oil at", required=False)
    pour_at_c = TemperatureField(label="Pour at", required=False)
    never_above_c = TemperatureField(label="Never above", required=False)
    set_hours = forms.DecimalField(
        label="Hours to set", required=False, max_digits=5, decimal_places=1, min_value=0
    )
    cure_days = forms.IntegerField(label="Days to cure", required=False, min_value=0)
    figures_from = forms.CharField(
        label="Whose figures these are",
        required=False,
        max_length=200,
        help_text="The supplier’s data sheet and its date, or your own measuring.",
    )
    revision = forms.CharField(
        label="Supplier’s revision",
        required=False,
        max_length=40,
        help_text="Of the wax, where its sheet names one. A change asks for test burns.",
    )


class OilForm(WorkshopForm):
    flash_point_c = TemperatureField(
        label="Flash point",
        required=False,
        help_text="Closed cup, from section 9 of the safety sheet.",
    )
    density_g_ml = DensityField(label="Density, g/ml", required=False)
    max_pct_of_whole = PercentField(
        label="Safety limit in candles, % of the whole",
        required=False,
        help_text="From the supplier’s certificate. It is never passed.",
    )
    limit_from = forms.CharField(
        label="The limit’s source",
        required=False,
        max_length=200,
        help_text="Needed with a limit: the certificate and its date.",
    )
    sheet_date = forms.DateField(label="Date of the safety sheet", required=False)
    sheet_revision = forms.CharField(label="Its revision", required=False, max_length=40)


class VesselForm(WorkshopForm):
    shape = forms.ChoiceField(choices=Shape)
    material = forms.ChoiceField(choices=Material)
    inside_mm = LengthField(
        label="Inside diameter",
        required=False,
        help_text="At the base, for a tapered one. Between the walls, not over them.",
    )
    top_inside_mm = LengthField(
        label="Inside diameter at the rim", required=False, help_text="For a tapered one."
    )
    depth_mm = LengthField(label="Depth inside", required=False)
    brim_ml = VolumeField(
        label="Holds to the brim",
        required=False,
        help_text="Weigh it empty and full of water: 1 g is 1 ml. Where given, this counts.",
    )
    water_marks = MarksField(
        label="Water marks",
        required=False,
        help_text="For an uneven inside: fill it step by step and write height and volume, "
        "one a line, such as “40 mm 120 ml”, the brim last.",
    )
    wall_mm = LengthField(label="Wall", required=False, help_text="Only drawn.")
    base_mm = LengthField(label="Base", required=False, help_text="Only drawn.")
    fit_for_candles = forms.CharField(
        label="Supplier’s statement that it is fit for candles",
        required=False,
        max_length=200,
        help_text="The sheet or letter and its date. Without it a design stays closed at its gate.",
    )
    shock_statement = forms.CharField(
        label="Supplier’s statement on thermal shock and annealing",
        required=False,
        max_length=200,
        help_text="Of glass and ceramic: the difference of temperature that it bears, and that it "
        "is annealed. The sheet or letter and its date.",
    )
    leak_tested_on = forms.DateField(
        label="Leak test passed on",
        required=False,
        help_text="Filled, stood on paper and watched; porous ware for at least a day. "
        "Common practice, no source.",
    )
    revision = forms.CharField(
        label="Supplier’s revision",
        required=False,
        max_length=40,
        help_text="Such as another mould or maker. A change asks for test burns.",
    )

    def clean(self):
        known = super().clean()
        defaults = {"wall_mm": Decimal(3), "base_mm": Decimal(5)}
        for name, drawn in defaults.items():
            if name in known and known[name] is None:
                known[name] = drawn
        return known


class WickForm(WorkshopForm):
    series = forms.CharField(required=False, max_length=80)
    size = forms.CharField(required=False, max_length=40)
    core = forms.CharField(max_length=40, required=False, help_text="Cotton, paper, wood, zinc …")
    length_mm = LengthField(label="Length", required=False)
    burn_rate_g_h = forms.DecimalField(
        label="Wax burnt an hour, g",
        required=False,
        max_digits=6,
        decimal_places=3,
        min_value=0,
        help_text="From the supplier’s chart. It lets the burn book say what to burn next.",
    )
    revision = forms.CharField(
        label="Supplier’s revision",
        required=False,
        max_length=40,
        help_text="Of the wick, where its sheet names one. A change asks for test burns.",
    )
    lead_free = forms.CharField(
        label="Supplier’s statement that the core is free of lead",
        required=False,
        max_length=200,
        help_text="The sheet or letter and its date. Without it a design stays closed at its gate.",
    )


FACT_FORMS = {
    Kind.WAX: WaxForm,
    Kind.OIL: OilForm,
    Kind.VESSEL: VesselForm,
    Kind.WICK: WickForm,
}


class AskVessel(WorkshopForm):
    """How much, how high: one of weight or height, with a wax."""

    wax = forms.ModelChoiceField(
        Item.objects.none(), required=False, empty_label="Wax of 0.90 g/ml"
    )
    fill_mg = MassField(label="Fill weight", required=False)
    height_mm = LengthField(label="Or fill height", required=False)

    def __init__(self, *arguments, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["wax"].queryset = (
            Item.objects.filter(kind=Kind.WAX, retired=False, wax__density_cold_g_ml__isnull=False)
            .select_related("wax")
            .order_by("name")
        )


# --- suppliers -----------------------------------------------------------------------------------


class SupplierForm(WorkshopForm):
    name = forms.CharField(max_length=120)
    contact = forms.CharField(max_length=200, required=False)
    email = forms.EmailField(required=False)
    website = forms.CharField(max_length=200, required=False)
    lead_days = forms.IntegerField(
        label="Usual days to arrive", required=False, min_value=0, max_value=365
    )
    address = forms.CharField(required=False, widget=LONG)
    notes = forms.CharField(required=False, widget=LONG)


# --- what comes and goes -------------------------------------------------------------------------


class ItemOptions:
    """Items as a select's options, by kind: made once, for every line of a form to share."""

    def __init__(self, known: dict[int, Item]) -> None:
        self.known = known
        by_kind: dict[str, list[Item]] = {}
        for item in known.values():
            by_kind.setdefault(item.kind, []).append(item)
        self.html = '<option value="">–</option>' + "".join(
            f'<optgroup label="{kind.label}">{"".join(map(_option, by_kind[kind]))}</optgroup>'
            for kind in Kind
            if kind in by_kind
        )

    def find(self, chosen) -> Item | None:
        chosen = str(chosen or "")
        return self.known.get(int(chosen)) if chosen.isdecimal() else None

    def with_chosen(self, chosen: str) -> str:
        mark = f'<option value="{escape(chosen)}"'
        return self.html.replace(mark, f"{mark} selected", 1)


def _option(item: Item) -> str:
    return f'<option value="{item.pk}">{escape(item.name)}</option>'


class ItemSelect(forms.Select):
    """A select that writes the shared options; a template for each would take a second."""

    options: ItemOptions | None = None

    def render(self, name, value, attrs=None, renderer=None):
        attributes = flatatt(self.build_attrs(self.attrs, {"name": name, **(attrs or {})}))
        chosen = "" if value is None else str(value)
        return mark_safe(f"<select{attributes}>{self.options.with_chosen(chosen)}</select>")


def supplies() -> dict[int, Item]:
    """Return what can be received: every supply that is not retired."""
    found = Item.objects.filter(kind__in=SUPPLY_KINDS, retired=False).order_by("kind", "name")
    return {item.pk: item for item in found}


class ItemChoice(forms.Field):
    """One of the items whose options the form was handed."""

    widget = ItemSelect

    def to_python(self, value) -> Item | None:
        if value in self.empty_values:
            return None
        item = self.widget.options.find(value)
        if item is None:
            raise ValidationError("That item is not in the list; choose one that is.")
        return item


class _AboutAnItem(WorkshopForm):
    """A form whose amounts are in the measure of the item chosen in it."""

    def __init__(self, *arguments, options: ItemOptions, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["item"].widget.options = options
        chosen = self.data.get(self.add_prefix("item")) if self.is_bound else None
        item = options.find(chosen or self.initial.get("item"))
        for field in self.fields.values():
            if isinstance(field, QuantityField):
                field.item = item


class ReceiptForm(WorkshopForm):
    client_id = EntryId()
    supplier = forms.ModelChoiceField(
        Supplier.objects.order_by("name"), required=False, empty_label="–"
    )
    on = forms.DateField(label="Received on")
    reference = forms.CharField(label="Invoice or parcel number", max_length=80, required=False)
    freight_minor100 = MoneyField(label="Freight and duty", required=False)
    spread = forms.ChoiceField(label="Spread the freight", choices=Spread)
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *arguments, today: date, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.today = today

    def clean_on(self) -> date:
        return not_to_come(self.cleaned_data["on"], self.today)


class LineForm(_AboutAnItem):
    """One line of a parcel."""

    item = ItemChoice(required=False)
    qty = QuantityField(label="How much", required=False)
    price_minor100 = MoneyField(label="Price of the line", required=False)
    supplier_lot = forms.CharField(label="Supplier’s lot", max_length=80, required=False)
    best_before = forms.DateField(required=False)

    def clean(self):
        known = super().clean()
        told = any(
            self.data.get(self.add_prefix(name), "").strip()
            for name in ("item", "qty", "price_minor100", "supplier_lot", "best_before")
        )
        if not told:
            return known
        if "item" in known and known["item"] is None:
            self.add_error("item", "Choose what came, or empty this line.")
        if "qty" in known and not known["qty"]:
            self.add_error("qty", "Say how much came, more than nothing.")
        if "price_minor100" in known and known["price_minor100"] is None:
            self.add_error("price_minor100", "Give the price of the line; 0 if it was free.")
        return known

    def received(self) -> Received | None:
        """Return the line for the service, or None for an empty one."""
        if self.cleaned_data.get("item") is None:
            return None
        return Received(**self.cleaned_data)


LINES = 3
MOST_LINES = 200


class Lines(forms.BaseFormSet):
    """The lines of a parcel; empty ones are passed over, and one must say something."""

    def clean(self) -> None:
        if not any(self.errors) and not self.received():
            raise ValidationError("Fill in at least one line: what came, how much, its price.")

    def received(self) -> list[Received]:
        return [line for form in self.forms if (line := form.received())]


LineSet = forms.formset_factory(
    LineForm, formset=Lines, extra=LINES, max_num=MOST_LINES, absolute_max=MOST_LINES
)


class OpeningForm(_AboutAnItem):
    client_id = EntryId()
    item = ItemChoice(error_messages={"required": "Choose what is there."})
    qty = QuantityField(label="How much is there")
    value = MoneyField(
        label="Worth in all", help_text="What it cost you, as well as you know; 0 if you don’t."
    )
    began_on = forms.DateField(label="Received or poured on", required=False)
    ready_on = forms.DateField(label="Cured on", required=False, help_text="For finished candles.")
    best_before = forms.DateField(required=False)
    supplier_lot = forms.CharField(label="Supplier’s lot", max_length=80, required=False)
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *arguments, today: date, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.today = today

    def clean_qty(self) -> int:
        if not self.cleaned_data["qty"]:
            raise ValidationError("Enter only what is there, more than nothing.")
        return self.cleaned_data["qty"]

    def clean_began_on(self) -> date | None:
        return not_to_come(self.cleaned_data["began_on"], self.today)


class _AboutALot(WorkshopForm):
    """Something done with a lot at one of the places where it is."""

    client_id = EntryId()
    place = forms.ChoiceField(label="Where")

    def __init__(self, *arguments, lot: Lot, places: dict[str, int], today: date, **keywords):
        super().__init__(*arguments, **keywords)
        self.today = today
        self.lot = lot
        self.places = places
        self.fields["place"].choices = [(place, Place(place).label) for place in places]
        if len(places) == 1:
            self.fields["place"].widget = forms.HiddenInput()
            self.initial.setdefault("place", next(iter(places)))
        for field in self.fields.values():
            if isinstance(field, QuantityField):
                field.item = lot.item

    def clean_on(self) -> date:
        day = not_to_come(self.cleaned_data["on"], self.today)
        if day < self.lot.began_on:
            raise ValidationError(
                f"Lot {self.lot.code} came on {self.lot.began_on:%Y-%m-%d}; "
                "nothing can have happened to it before that."
            )
        return day


class CountForm(_AboutALot):
    counted = QuantityField(label="Counted or weighed")
    on = forms.DateField(label="On the day")
    reason = forms.CharField(max_length=300, required=False, label="Why it may differ")


class ScrapForm(_AboutALot):
    qty = QuantityField(label="How much")
    reason = forms.CharField(max_length=300, label="What was wrong with it")
    on = forms.DateField(label="On the day")


class SetAsideForm(_AboutALot):
    origin = forms.ChoiceField(
        label="As", choices=[(o, Origin(o).label) for o in (Origin.TESTER, Origin.GIFT)]
    )
    qty = QuantityField(label="How many")
    note = forms.CharField(max_length=200, required=False, label="For whom, or for which test")
    on = forms.DateField(label="On the day")


class UndoForm(WorkshopForm):
    client_id = EntryId()
    reason = forms.CharField(max_length=300, label="What was wrong")


def not_to_come(day: date | None, today: date) -> date | None:
    """Refuse a day that is still to come, or lies before any workshop's books."""
    if day is None:
        return None
    if day > today:
        raise ValidationError(f"{day:%Y-%m-%d} is still to come; today is {today:%Y-%m-%d}.")
    if day.year < 1980:
        raise ValidationError(f"{day:%Y-%m-%d}: check the year.")
    return day


def places_of(lot: Lot) -> dict[str, int]:
    """Return where inside the workshop a lot is, and how much of it."""
    found = lot.balances.filter(place__in=INSIDE, qty__gt=0).order_by("id")
    return dict(found.values_list("place", "qty"))
