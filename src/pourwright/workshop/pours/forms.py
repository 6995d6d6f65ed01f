"""The forms of a pour: planning it, the bench's entries, closing it, and the melters."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from django import forms
from django.db.models import OuterRef, Subquery

from pourwright.core import amounts
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.house.doors import EntryId
from pourwright.workshop.house.fields import (
    MassField,
    PercentField,
    QuantityField,
    TemperatureField,
    VolumeField,
    WorkshopForm,
    WorkshopModelForm,
)
from pourwright.workshop.pours.models import Filling, Melter, Pitcher, Pour, Take, Use
from pourwright.workshop.pours.planning import PitcherPlan
from pourwright.workshop.pours.services import Outcome
from pourwright.workshop.stores.models import Balance, Lot, Place

MOST_CANDLES = 2000


def shown_mg(mg: int, units: str) -> str:
    return amounts.show_mass(amounts.from_mg(mg), units)


def newest_versions():
    """Return the newest version of every design in use, as what can be poured."""
    newest = DesignVersion.objects.filter(design=OuterRef("design")).order_by("-number")
    return (
        DesignVersion.objects.filter(design__retired=False, pk=Subquery(newest.values("pk")[:1]))
        .select_related("design", "formula_version__formula", "vessel")
        .order_by("design__name")
    )


class VersionChoice(forms.ModelChoiceField):
    def label_from_instance(self, version: DesignVersion) -> str:
        return f"{version.design.name} ({version.vessel.name})"


# --- planning ------------------------------------------------------------------------------------


class PlanForm(WorkshopForm):
    on = forms.DateField(label="Pour on")
    melter = forms.ModelChoiceField(
        Melter.objects.filter(retired=False), required=False, empty_label="not checked"
    )
    loss_pct = PercentField(
        label="Loss, per cent of the mix", required=False, places=2,
        help_text="What stays in melter, pitcher and jug. Empty: as the workshop says.",
    )  # fmt: skip
    extra_wax_mg = MassField(
        label="Extra plain wax in the melt", required=False,
        help_text="Melted along and kept as plain wax: a melter that must not run dry.",
    )  # fmt: skip
    client_id = EntryId()

    def clean_loss_pct(self):
        loss = self.cleaned_data["loss_pct"]
        if loss is not None and not 0 <= loss <= 50:
            raise forms.ValidationError(f"Loss is {loss} %; it lies between 0 and 50 %.")
        return loss


class FillingRow(WorkshopForm):
    """A design and how many; without a design the row is left out."""

    design = VersionChoice(
        DesignVersion.objects.none(), label="Design", required=False, empty_label="– none –"
    )
    number = forms.IntegerField(
        label="How many", required=False, min_value=1, max_value=MOST_CANDLES
    )

    def __init__(self, *arguments, versions=None, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["design"].queryset = versions
        self.fields["number"].widget.attrs["inputmode"] = "numeric"
        for field in self.fields.values():
            field.widget.attrs["aria-label"] = field.label

    def clean(self):
        given = super().clean()
        if given.get("design") and not given.get("number") and "number" not in self.errors:
            self.add_error("number", "How many are poured? Write a number such as 12.")
        if given.get("number") and not given.get("design") and "design" not in self.errors:
            self.add_error("design", "Choose what is poured.")
        return given


class RemeltForm(WorkshopForm):
    """How much of each lot of left-over mix goes in again."""

    def __init__(self, *arguments, offers: Sequence[Balance], **keywords) -> None:
        self.offers = {f"lot_{offer.lot_id}": offer for offer in offers}
        super().__init__(*arguments, **keywords)
        for name, offer in self.offers.items():
            self.fields[name] = MassField(
                label=f"{offer.lot.item.name}, lot {offer.lot.code}",
                required=False,
                units=self.workshop.units,
                help_text=f"{shown_mg(offer.qty, self.workshop.units)} in store",
            )

    def wanted(self) -> list[tuple[Lot, int]]:
        return [
            (offer.lot, mg)
            for name, offer in self.offers.items()
            if (mg := self.cleaned_data.get(name))
        ]


class PlanForms:
    """The plan's form, its rows of designs and the remelts, read as one."""

    def __init__(self, data=None, *, workshop, initial=None, rows=(), offers=()) -> None:
        self.form = PlanForm(data, workshop=workshop, initial=initial)
        versions = newest_versions()
        table = forms.formset_factory(
            FillingRow, extra=2 if not rows else 1, max_num=12, validate_max=True
        )
        self.rows = table(
            data,
            prefix="rows",
            initial=list(rows),
            form_kwargs={"workshop": workshop, "versions": versions},
        )
        self.remelts = RemeltForm(data, workshop=workshop, prefix="again", offers=offers)

    def is_valid(self) -> bool:
        return all([self.form.is_valid(), self.rows.is_valid(), self.remelts.is_valid()])

    @property
    def fillings(self) -> list[tuple[DesignVersion, int]]:
        return [
            (row.cleaned_data["design"], row.cleaned_data["number"])
            for row in self.rows
            if row.cleaned_data.get("design")
        ]

    def pitchers(self) -> list[PitcherPlan]:
        """Return a pitcher for each formula, with its designs and what is melted into it again."""
        groups: dict[int, list[tuple[DesignVersion, int]]] = {}
        for version, number in self.fillings:
            groups.setdefault(version.formula_version_id, []).append((version, number))
        left = self.remelts.wanted()
        plans = []
        for place, fillings in enumerate(groups.values()):
            formula_version = fillings[0][0].formula_version
            own = [
                (lot, mg)
                for lot, mg in left
                if lot.item_id == formula_version.formula.mix_id
                or (place == 0 and lot.item.kind == "wax")
            ]
            left = [pair for pair in left if pair not in own]
            plans.append(
                PitcherPlan(formula_version=formula_version, fillings=fillings, remelts=own)
            )
        for lot, _ in left:
            self.remelts.add_error(
                f"lot_{lot.pk}", f"No design of {lot.item.name} is poured; leave this one empty."
            )
        return plans


# --- the bench -----------------------------------------------------------------------------------


class LotChoice(forms.ModelChoiceField):
    def label_from_instance(self, lot: Lot) -> str:
        return f"{lot.code}, from {lot.began_on.day} {lot.began_on:%b %Y}"


def lots_in_store(take: Take):
    there = Balance.objects.filter(place=Place.STORE, qty__gt=0, lot__item=take.item_id)
    return Lot.objects.filter(pk__in=there.values("lot")).order_by("began_on", "pk")


class WeighForm(WorkshopForm):
    actual = QuantityField(label="Weighed")
    lot = LotChoice(Lot.objects.none(), required=False, empty_label=None, label="From lot")
    client_id = EntryId()

    def __init__(self, *arguments, take: Take, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["actual"].item = take.item
        if not take.item.by_mass:
            self.fields["actual"].label = "Counted"
        self.fields["actual"].widget.attrs["inputmode"] = "decimal"
        self.fields["lot"].queryset = lots_in_store(take)
        self.fields["lot"].initial = take.lot_id


class RestForm(WorkshopForm):
    """Where the rest of a weighing comes from."""

    lot = LotChoice(Lot.objects.none(), empty_label=None, label="The rest from lot")

    def __init__(self, *arguments, take: Take, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["lot"].queryset = lots_in_store(take).exclude(pk=take.lot_id)


class DrawForm(WorkshopForm):
    actual = MassField(label="Drawn off")

    def __init__(self, *arguments, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["actual"].widget.attrs["inputmode"] = "decimal"


class ReadForm(WorkshopForm):
    temp_c = TemperatureField(label="Temperature", required=False)
    minutes = forms.DecimalField(
        label="Minutes", required=False, min_value=0, max_value=10_000, max_digits=6,
        decimal_places=1,
    )  # fmt: skip
    note = forms.CharField(label="Note", required=False, max_length=200)
    client_id = EntryId()

    def __init__(self, *arguments, asks_minutes: bool = False, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        for name in ("temp_c", "minutes"):
            self.fields[name].widget.attrs["inputmode"] = "decimal"
        del self.fields["temp_c" if asks_minutes else "minutes"]


# --- closing -------------------------------------------------------------------------------------


class CloseForm(WorkshopForm):
    """What came of every filling, what is left, how long it took."""

    on = forms.DateField(label="Poured on")
    minutes = forms.DecimalField(
        label="Minutes of work in all", required=False, min_value=0, max_value=10_000,
        max_digits=7, decimal_places=1,
        help_text="Empty: what each design says for a candle.",
    )  # fmt: skip
    left_plain_mg = MassField(label="Plain wax left over, kept", required=False)
    client_id = EntryId()

    def __init__(self, *arguments, pour: Pour, pitchers: Sequence[Pitcher], **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.pitchers = pitchers
        units = self.workshop.units
        for pitcher in pitchers:
            for filling in pitcher.fillings.all():
                self._add_filling(filling, units)
            self.fields[f"left_{pitcher.pk}"] = MassField(
                label="Mix left over, kept", required=False, units=units
            )
        extra = sum(t.target for t in pour.takes.filter(use=Use.WAX)) - sum(
            pitcher.wax_mg for pitcher in pitchers
        )
        if extra > 0:
            self.fields["left_plain_mg"].initial = extra

    def _add_filling(self, filling: Filling, units: str) -> None:
        for name, label, start in (
            ("good", "Good", filling.wanted),
            ("seconds", "Seconds", 0),
            ("scrapped", "Scrapped", 0),
        ):
            field = forms.IntegerField(
                label=label, min_value=0, max_value=MOST_CANDLES * 2, initial=start
            )
            field.widget.attrs["inputmode"] = "numeric"
            self.fields[f"{name}_{filling.pk}"] = field
        self.fields[f"fill_{filling.pk}"] = MassField(
            label="Average fill", required=False, units=units
        )

    def groups(self):
        """Return each pitcher with its fillings' fields, for the page."""
        return [
            (
                pitcher,
                [
                    (
                        filling,
                        [self[f"{name}_{filling.pk}"] for name in NAMES],
                    )
                    for filling in pitcher.fillings.all()
                ],
                self[f"left_{pitcher.pk}"],
            )
            for pitcher in self.pitchers
        ]

    def rest(self):
        return [self["left_plain_mg"], self["minutes"], self["on"]]

    def outcomes(self) -> dict[int, Outcome]:
        given = self.cleaned_data
        return {
            filling.pk: Outcome(
                good=given[f"good_{filling.pk}"],
                seconds=given[f"seconds_{filling.pk}"],
                scrapped=given[f"scrapped_{filling.pk}"],
                fill_mg=given[f"fill_{filling.pk}"],
            )
            for pitcher in self.pitchers
            for filling in pitcher.fillings.all()
        }

    def left(self) -> dict[int, int]:
        return {p.pk: self.cleaned_data[f"left_{p.pk}"] or 0 for p in self.pitchers}


NAMES = ("good", "seconds", "scrapped", "fill")


class ReasonForm(forms.Form):
    reason = forms.CharField(label="Reason", max_length=250)


# --- melters -------------------------------------------------------------------------------------


class MelterForm(WorkshopModelForm):
    capacity_mg = MassField(
        label="Usable capacity by mass", required=False,
        help_text="With the headspace that its maker asks for.",
    )  # fmt: skip
    capacity_ml = VolumeField(
        label="Usable capacity by volume", required=False,
        help_text="Of melted wax, which takes more room than cold wax.",
    )  # fmt: skip
    power_w = forms.IntegerField(
        label="Power, watts", required=False, min_value=1, max_value=20_000
    )
    retired = forms.BooleanField(label="No longer in use", required=False)

    class Meta:
        model = Melter
        fields = ("name", "capacity_mg", "capacity_ml", "power_w", "note", "retired")

    def clean_capacity_ml(self):
        volume = self.cleaned_data["capacity_ml"]
        return None if volume is None else volume.quantize(Decimal("0.1"))
