"""The burn book's forms: taking pieces, lighting, what is read at the bench, limits and search."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

from django import forms
from django.db.models import Sum

from pourwright.core.amounts import number
from pourwright.core.burns.cautions import cautions
from pourwright.core.burns.house import HouseLimits
from pourwright.workshop.burns.models import Purpose, SearchSettings, TestBurn
from pourwright.workshop.burns.services import caution_keys
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.designs.wick_forms import MM_PER_INCH
from pourwright.workshop.formulas.forms import ItemChoice, options_for
from pourwright.workshop.gates.services import design_version_ids
from pourwright.workshop.house.doors import EntryId
from pourwright.workshop.house.fields import (
    LengthField,
    MassField,
    PercentField,
    TemperatureField,
    WorkshopForm,
    WorkshopModelForm,
)
from pourwright.workshop.stores.models import Kind, Lot, Place

MINUTES = {"max_digits": 6, "decimal_places": 1, "min_value": 0, "max_value": 6000}
YES_NO = (("", "not seen"), ("yes", "yes"), ("no", "no"))
SOOT = (("", "not looked"), ("0", "0 none"), ("1", "1 a trace"), ("2", "2 clear"), ("3", "3 thick"))


def _decimal_pad(form: forms.Form) -> None:
    """Let phones show their number pad for what is a number, and no letter suggestions."""
    for field in form.fields.values():
        if isinstance(field, LengthField | MassField | TemperatureField | forms.DecimalField):
            field.widget.attrs["inputmode"] = "decimal"


class YesNo(forms.TypedChoiceField):
    """Yes, no, or not said."""

    def __init__(self, **keywords) -> None:
        keywords.setdefault("required", False)
        super().__init__(
            choices=YES_NO, coerce={"yes": True, "no": False}.get, empty_value=None, **keywords
        )

    def prepare_value(self, value):
        return {True: "yes", False: "no", None: ""}.get(value, value)


# --- pieces --------------------------------------------------------------------------------------


class LotChoice(forms.ModelChoiceField):
    def label_from_instance(self, lot: Lot) -> str:
        return f"{lot.code}, poured {lot.began_on:%Y-%m-%d}, {lot.there} there"


def lots_of(version: DesignVersion):
    """Return the lots of a version that candles may be taken from."""
    held = Lot.objects.filter(
        item=version.design.candle_id,
        balances__place__in=(Place.SHELF, Place.TEST),
        balances__qty__gt=0,
    ).annotate(there=Sum("balances__qty"))
    ours = [pk for pk, made in design_version_ids([lot.pk for lot in held]).items()
            if made == version.pk]  # fmt: skip
    return held.filter(pk__in=ours).order_by("-began_on", "-id")


class TakeForm(WorkshopForm):
    """Pieces from a lot, or poured by hand with a wick of their own."""

    lot = LotChoice(
        Lot.objects.none(), label="From lot", required=False, empty_label="poured by hand",
        help_text="Candles of a lot are what the version says. A try is poured by hand.",
    )  # fmt: skip
    count = forms.IntegerField(label="How many", min_value=1, max_value=20, initial=1)
    purpose = forms.ChoiceField(label="What for", choices=Purpose)
    wick = ItemChoice(label="Wick")
    wick_count = forms.IntegerField(label="Wicks in each", min_value=1, max_value=10)
    trim_mm = LengthField(label="Wick trimmed to")
    fill_mg = MassField(label="Wax and oil in each")
    poured_on = forms.DateField(
        label="Poured on", required=False, help_text="Of pieces poured by hand."
    )
    ready_on = forms.DateField(
        label="Cured on", required=False, help_text="Empty: after the design’s days to cure."
    )
    positions = forms.CharField(
        label="Where the wicks stand", required=False, max_length=400,
    )  # fmt: skip
    note = forms.CharField(label="Note", required=False, max_length=200)
    client_id = EntryId()

    def __init__(self, *arguments, version: DesignVersion, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["lot"].queryset = lots_of(version)
        self.fields["wick"].offer(options_for([Kind.WICK], used=[version.wick_id]))
        us = self.workshop.units == "us"
        self.fields["positions"].help_text = (
            f"Only where it is not their usual ring: x y in {'inches' if us else 'mm'} from the "
            "middle, a wick after the other, such as "
            f"{'0.7 0; -0.35 0.61; -0.35 -0.61' if us else '18 0; -9 15.6; -9 -15.6'}."
        )

    def clean_positions(self):
        text = self.cleaned_data["positions"].strip()
        if not text:
            return None
        unit, size = ("inches", MM_PER_INCH) if self.workshop.units == "us" else ("mm", Decimal(1))
        try:
            pairs = [
                [
                    (Decimal(part) * size).quantize(Decimal("0.01"))
                    for part in pair.replace(",", " ").split()
                ]
                for pair in text.split(";")
            ]
        except ArithmeticError as problem:
            raise forms.ValidationError(
                f"“{text}”: write x y in {unit}, pairs parted by ;"
            ) from problem
        if any(len(pair) != 2 for pair in pairs):
            raise forms.ValidationError(
                f"“{text}”: each place is two numbers, x y in {unit}; part the places by ;"
            )
        return pairs

    def clean(self):
        given = super().clean()
        places, count = given.get("positions"), given.get("wick_count")
        if places and count and len(places) != count:
            self.add_error("positions", f"{len(places)} places for {count} wicks; give each one.")
        if not given.get("lot") and not given.get("poured_on") and "poured_on" not in self.errors:
            self.add_error("poured_on", "Say on which day they were poured.")
        return given


class ReasonForm(WorkshopForm):
    reason = forms.CharField(label="Why", max_length=200)


class LeaveOutForm(ReasonForm):
    never_lit = forms.BooleanField(
        label="It was entered by mistake: nothing was lit", required=False
    )


# --- lighting ------------------------------------------------------------------------------------


class SetForm(WorkshopForm):
    room_holds = forms.IntegerField(
        label="How many has the room place for?", min_value=1, max_value=20,
        help_text="Well apart from each other and from all that can burn.",
    )  # fmt: skip
    person_watches = forms.IntegerField(
        label="How many can you watch at once?", min_value=1, max_value=20,
        help_text="Read in time, and each put out at once when it must be.",
    )  # fmt: skip
    by = forms.CharField(label="Watched by", max_length=80)
    client_id = EntryId()


class LightForm(WorkshopForm):
    """A tick for each caution, then what is known before the flame."""

    mass_before_mg = MassField(label="Weight of the piece before", required=False)
    room_c = TemperatureField(label="Room", required=False)
    trim_mm = LengthField(label="Wick trimmed to")
    planned_minutes = forms.IntegerField(
        label="Minutes it is to burn", min_value=10, max_value=6000, initial=240
    )
    last = forms.BooleanField(label="To its natural end: the last burn of its life", required=False)
    by = forms.CharField(label="Watched by", max_length=80)
    humidity_pct = PercentField(label="Humidity, %", required=False, places=1)
    draught = forms.CharField(label="Draught", required=False, max_length=80)
    note = forms.CharField(label="Note", required=False, max_length=200)
    client_id = EntryId()

    def __init__(self, *arguments, on, curing: bool = False, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.cautions = []
        texts = cautions(on=on).before
        for key, text in zip(caution_keys(on), texts, strict=True):
            self.fields[key] = forms.BooleanField(label=text, required=False)
            self.cautions.append(key)
        if curing:
            self.fields["uncured"] = forms.BooleanField(
                label="Burn it before it has cured", required=False
            )
        _decimal_pad(self)

    @property
    def caution_fields(self):
        return [self[key] for key in self.cautions]

    @property
    def first_fields(self):
        names = ("uncured", "mass_before_mg", "room_c", "trim_mm", "planned_minutes", "by", "last")
        return [self[name] for name in names if name in self.fields]

    @property
    def more_fields(self):
        return [self[name] for name in ("humidity_pct", "draught", "note")]

    def told(self) -> dict:
        """Return what the service is told."""
        given = dict(self.cleaned_data)
        ticked = [key for key in self.cautions if given.pop(key)]
        return given | {"ticked": ticked}


# --- readings ------------------------------------------------------------------------------------


class _AtBench(WorkshopForm):
    """An entry of a burn: its own id, and when it was; a script sets ``elapsed`` as it is made."""

    minute = forms.DecimalField(
        label="Minutes after lighting", required=False, help_text="Empty: now.", **MINUTES
    )
    elapsed = forms.DecimalField(required=False, widget=forms.HiddenInput, **MINUTES)
    client_id = EntryId()

    def __init__(self, *arguments, burn: TestBurn, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.burn = burn
        self.build(burn.piece.wick_count)
        _decimal_pad(self)
        self.order_fields([*[n for n in self.fields if n != "minute"], "minute"])

    def build(self, wicks: int) -> None:
        """Add the fields that a candle of so many wicks has."""

    @property
    def figures(self):
        return [
            field for field in self.visible_fields() if field.name not in ("minute", "note", "file")
        ]

    def told(self) -> dict:
        """Return the service's arguments, the minute among them (None: now)."""
        given = dict(self.cleaned_data)
        minute, elapsed = given.pop("minute"), given.pop("elapsed")
        return given | {"minute": elapsed if minute is None else minute}


def _each(label: str, wicks: int) -> list[str]:
    return [label] if wicks == 1 else [f"{label} of wick {place}" for place in range(1, wicks + 1)]


class FlameForm(_AtBench):
    title = "Flame height"

    def build(self, wicks: int) -> None:
        for place, label in enumerate(_each("Flame", wicks), start=1):
            self.fields[f"flame_{place}"] = LengthField(label=label, units=self.workshop.units)
            if place == 1:
                self.fields["flame_1"].help_text = "From the pool to the flame’s tip."

    def told(self) -> dict:
        given = super().told()
        names = [name for name in given if name.startswith("flame_")]
        return {n: v for n, v in given.items() if n not in names} | {
            "flame_mm": [given[name] for name in sorted(names, key=lambda n: int(n[6:]))]
        }


class PoolForm(_AtBench):
    title = "Pool: two widths and depth"
    wide_1 = LengthField(label="Width")
    wide_2 = LengthField(label="Width across it")
    depth_mm = LengthField(label="Depth", required=False)

    def told(self) -> dict:
        given = super().told()
        return {n: v for n, v in given.items() if not n.startswith("wide_")} | {
            "pool_mm": [given["wide_1"], given["wide_2"]]
        }


class WallForm(_AtBench):
    title = "Outside temperatures"
    wall_pool_c = TemperatureField(label="Wall at the pool", required=False)
    wall_dry_c = TemperatureField(label="Wall above the pool", required=False)
    base_c = TemperatureField(label="Base", required=False)


class SootForm(_AtBench):
    title = "Soot and the wick’s head"
    soot = forms.TypedChoiceField(
        label="Soot seen", choices=SOOT, coerce=int, empty_value=None, required=False
    )
    mushroom_mm = LengthField(label="Head on the wick, across", required=False)


class PhotoForm(_AtBench):
    title = "Photo"
    file = forms.FileField(
        label="Photo",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp",
                                      "capture": "environment"}),
    )  # fmt: skip
    note = forms.CharField(label="What it shows", required=False, max_length=200)

    def told(self) -> dict:
        given = super().told()
        return given | {"data": given.pop("file").read()}


GROUPS = {"flame": FlameForm, "pool": PoolForm, "wall": WallForm, "soot": SootForm}


class FullForm(_AtBench):
    """The pool has reached the wall all round."""


class OutForm(_AtBench):
    title = "Put out"
    relit = YesNo(label="Did it light again by itself?")
    secondary_flame_s = forms.DecimalField(
        label="Anything besides the wick burned, seconds", required=False, max_digits=6,
        decimal_places=1, min_value=0, help_text="0: nothing did.",
    )  # fmt: skip
    pool_flashed = forms.BooleanField(label="The whole pool caught fire", required=False)
    vessel_failed = forms.CharField(
        label="What cracked or leaked", required=False, max_length=200,
        help_text="Empty: the vessel held.",
    )  # fmt: skip
    went_out_by_itself = YesNo(label="Did it go out by itself?")
    note = forms.CharField(label="Note", required=False, max_length=200)

    def build(self, wicks: int) -> None:
        first = {}
        for place, label in enumerate(_each("After-glow or smoke", wicks), start=1):
            first[f"glow_{place}"] = forms.DecimalField(
                label=f"{label}, seconds", required=False, max_digits=5, decimal_places=1,
                min_value=0,
            )  # fmt: skip
        self.fields = first | self.fields
        if not self.burn.last:
            del self.fields["went_out_by_itself"]
        self.fields["minute"].label = "Minutes it burned"

    @property
    def shown(self):
        """Return every field that is asked, the minute last."""
        return [field for field in self.visible_fields() if field.name != "minute"]

    def told(self) -> dict:
        given = super().told()
        names = [name for name in given if name.startswith("glow_")]
        glows = [given[name] for name in sorted(names, key=lambda n: int(n[5:]))]
        return {n: v for n, v in given.items() if n not in (*names, "minute")} | {
            "afterglow_s": [glow for glow in glows if glow is not None],
            "minutes": given["minute"],
        }


class AfterForm(WorkshopForm):
    """What is weighed and measured when it has set."""

    mass_after_mg = MassField(label="Weight of the piece after", required=False)
    residue_mm = LengthField(label="Wax left at the end, depth", required=False)
    residue_mg = MassField(label="Wax left at the end, weight", required=False)
    soot_index = forms.DecimalField(
        label="A laboratory’s soot index, per hour", required=False, max_digits=8,
        decimal_places=3, min_value=0,
    )  # fmt: skip

    def __init__(self, *arguments, burn: TestBurn, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        for name in list(self.fields):
            if getattr(burn, name) is not None or (name.startswith("residue") and not burn.last):
                del self.fields[name]
        _decimal_pad(self)

    @property
    def only_index(self) -> bool:
        """Whether all that a maker weighs is on record, and only a laboratory's word may follow."""
        return list(self.fields) == ["soot_index"]


class AnewForm(WorkshopModelForm):
    """A burn with what was entered wrong; a reason for it."""

    mass_before_mg = MassField(label="Weight before", required=False)
    mass_after_mg = MassField(label="Weight after", required=False)
    room_c = TemperatureField(label="Room", required=False)
    trim_mm = LengthField(label="Wick trimmed to", required=False)
    relit = YesNo(label="Lit again by itself")
    went_out_by_itself = YesNo(label="Went out by itself")
    residue_mm = LengthField(label="Wax left at the end, depth", required=False)
    residue_mg = MassField(label="Wax left at the end, weight", required=False)
    glows = forms.CharField(
        label="After-glows, seconds", required=False, max_length=80, help_text="A number a wick."
    )
    reason = forms.CharField(label="What was wrong", max_length=200)

    class Meta:
        model = TestBurn
        fields = (
            "minutes", "mass_before_mg", "mass_after_mg", "room_c", "humidity_pct", "draught",
            "trim_mm", "last", "full_pool_minute", "relit", "secondary_flame_s", "vessel_failed",
            "pool_flashed", "went_out_by_itself", "residue_mm", "residue_mg", "note",
        )  # fmt: skip
        labels = {
            "minutes": "Minutes burnt", "humidity_pct": "Humidity, %",
            "full_pool_minute": "Pool full at, min",
            "secondary_flame_s": "Anything besides the wick burned, seconds",
            "pool_flashed": "The whole pool caught fire",
        }  # fmt: skip

    def __init__(self, *arguments, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.initial["glows"] = " ".join(self.instance.afterglow_s)
        if self.instance.minutes is None:
            for name in ("minutes", "relit", "glows", "mass_after_mg", "residue_mm", "residue_mg",
                         "secondary_flame_s", "vessel_failed", "pool_flashed",
                         "went_out_by_itself"):  # fmt: skip
                del self.fields[name]
        else:
            self.fields["minutes"].required = True
        _decimal_pad(self)

    def clean_glows(self) -> list[Decimal]:
        try:
            glows = [Decimal(part) for part in self.cleaned_data["glows"].split()]
        except ArithmeticError as problem:
            raise forms.ValidationError("Write seconds, such as 8 or 6.5 7.") from problem
        if any(not 0 <= glow <= 3600 for glow in glows):
            raise forms.ValidationError("An after-glow lasts 0 to 3600 seconds.")
        return glows

    def _post_clean(self) -> None:
        """The record itself stays as it is: what differs makes a new one."""

    def told(self) -> dict:
        given = dict(self.cleaned_data)
        if "glows" in given:
            given["afterglow_s"] = given.pop("glows")
        return given


# --- settings ------------------------------------------------------------------------------------


class LimitsForm(WorkshopForm):
    """Every house limit with its reason, as the core's table lists them."""

    by = forms.CharField(label="Set by", max_length=80)

    def __init__(self, *arguments, limits: HouseLimits, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.rows = limits.rule["limits"]
        self.limits = limits
        for row in self.rows:
            key = row["key"]
            if row["unit"] == "°C":
                field = TemperatureField(label=row["what"].capitalize(), units=self.workshop.units)
            elif row["unit"] == "mm":
                field = LengthField(label=row["what"].capitalize(), units=self.workshop.units)
            else:
                field = forms.DecimalField(
                    label=f"{row['what'].capitalize()}, {row['unit']}", max_digits=9,
                    decimal_places=3,
                )  # fmt: skip
            value = limits[key]
            field.initial = (Decimal(value.numerator) / value.denominator).normalize()
            if not isinstance(field, TemperatureField | LengthField):
                field.initial = f"{field.initial:f}"
            self.fields[key] = field
            self.fields[f"why_{key}"] = forms.CharField(
                label="Why it is laxer than the default", required=False, max_length=300,
                initial=limits.reasons.get(key, ""),
            )  # fmt: skip
        _decimal_pad(self)

    def pairs(self):
        """Return for each limit its row, its field, its reason's, and whether it is the default."""
        return [
            (
                row,
                self[row["key"]],
                self[f"why_{row['key']}"],
                self.limits.is_default(row["key"]),
                number(Fraction(row["default"]), places=2, strip=True),
            )
            for row in self.rows
        ]

    def told(self) -> dict:
        given = self.cleaned_data
        return {
            "values": {row["key"]: given[row["key"]] for row in self.rows},
            "reasons": {row["key"]: given[f"why_{row['key']}"] for row in self.rows},
            "by": given["by"],
        }


class SearchForm(WorkshopModelForm):
    depth_mm = LengthField(label="Pool at most deep")
    wall_c = TemperatureField(label="Wall at most, in a room of 21 °C (70 °F)")

    class Meta:
        model = SearchSettings
        fields = (
            "full_pct", "soonest_h", "latest_h", "depth_mm", "wall_c", "needed", "side_by_side",
            "week_in_burns",
        )  # fmt: skip

    def _post_clean(self) -> None:
        """The service keeps it."""


class NextForm(WorkshopForm):
    """Which wicks to choose from."""

    series = forms.MultipleChoiceField(
        label="Wick series", required=False, widget=forms.CheckboxSelectMultiple
    )
    wick_count = forms.IntegerField(label="Wicks in the candle", min_value=1, max_value=10)
    side_by_side = forms.IntegerField(
        label="Pieces side by side, at most", min_value=1, max_value=20
    )

    def __init__(self, *arguments, series: list[str], **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["series"].choices = [(name, name) for name in series]
