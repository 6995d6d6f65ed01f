"""Weighing fills, checking a lot, and the log of scales and thermometers."""

from __future__ import annotations

from django import forms
from django.core.exceptions import ValidationError

from pourwright.intake.fills import read_fills
from pourwright.workshop.contents.models import Instrument, InstrumentCheck
from pourwright.workshop.house.doors import EntryId, refusals
from pourwright.workshop.house.fields import (
    MassField,
    MoneyField,
    PercentField,
    TemperatureField,
    WorkshopForm,
    WorkshopModelForm,
)

LARGEST_FILE = 200_000


class ScaleChoice(forms.ModelChoiceField):
    def __init__(self, **keywords) -> None:
        scales = Instrument.objects.filter(what=Instrument.What.SCALE, retired=False)
        super().__init__(scales, required=False, empty_label="not said", label="Scale", **keywords)


class ColumnForm(WorkshopForm):
    """A column of weights, pasted or from a file."""

    weights = forms.CharField(
        label="Weights, one vessel a line", required=False,
        widget=forms.Textarea(attrs={"rows": 8, "class": "pasted", "spellcheck": "false"}),
        help_text="The net weight alone, or empty and filled side by side.",
    )  # fmt: skip
    file = forms.FileField(label="or a CSV file", required=False)
    tare_mg = MassField(
        label="One tare for all", required=False,
        help_text="Where single figures are filled weights: the average empty vessel, wick and tab "
        "in it.",
    )  # fmt: skip
    scale = ScaleChoice()
    by = forms.CharField(label="Weighed by", max_length=80, required=False)
    client_id = EntryId()

    def clean(self):
        cleaned = super().clean()
        text = cleaned.get("weights") or ""
        if given := cleaned.get("file"):
            text = f"{text}\n{self._text_of(given)}"
        bare = "oz" if self.workshop.units == "us" else "g"
        if not self.errors:
            with refusals(self, "weights"):
                cleaned["vessels"] = read_fills(text, bare=bare, tare_mg=cleaned.get("tare_mg"))
        return cleaned

    @staticmethod
    def _text_of(given) -> str:
        if given.size > LARGEST_FILE:
            raise ValidationError("The file is larger than a column of weights can be.")
        try:
            return given.read().decode("utf-8-sig")
        except UnicodeDecodeError as problem:
            raise ValidationError("The file is no text; save it as CSV.") from problem


class OneWeightForm(WorkshopForm):
    """One weight at the bench: large, alone, sent once."""

    weight_mg = MassField(label="Weight")
    scale = ScaleChoice()
    client_id = EntryId()

    def __init__(self, *arguments, label: str, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["weight_mg"].label = label
        self.fields["weight_mg"].widget.attrs |= {"inputmode": "decimal", "autofocus": True}


class LeaveOutForm(WorkshopForm):
    fill = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(label="Why it does not count", max_length=200)


class CheckForm(WorkshopForm):
    lot_size = forms.IntegerField(label="Candles in the lot", min_value=1, max_value=100_000)
    by = forms.CharField(label="Checked by", max_length=80, required=False)


class ReworkForm(WorkshopForm):
    reason = forms.CharField(
        label="What was done with the lot", max_length=300,
        help_text="Such as: all topped up by 3 g. Its fills so far no longer count then.",
    )  # fmt: skip
    by = forms.CharField(label="By", max_length=80, required=False)


class RelabelForm(WorkshopForm):
    declared = forms.CharField(label="Net weight on the new label", max_length=40)
    lot_size = forms.IntegerField(label="Candles in the lot", min_value=1, max_value=100_000)
    reason = forms.CharField(label="What was found and done", max_length=300)
    by = forms.CharField(label="By", max_length=80, required=False)


class TargetForm(WorkshopForm):
    """What the fill to aim at is worked out from."""

    declared = forms.CharField(label="Net weight on the label", max_length=40)
    sd_mg = MassField(label="Spread of your fills (standard deviation)")
    batch_sd_mg = MassField(label="Spread from lot to lot", required=False)
    lot_size = forms.IntegerField(label="Candles in a lot", min_value=1, max_value=10_000)
    probability = PercentField(label="Lots that shall pass, per cent")
    eye_sd_mg = MassField(
        label="Spread when poured by eye", required=False,
        help_text="Fill a dozen by eye once and weigh them; the page of their lot shows it.",
    )  # fmt: skip
    candles_a_year = forms.IntegerField(
        label="Candles a year", min_value=0, max_value=1_000_000, required=False
    )
    mix_minor100 = MoneyField(label="Price of the mix, a kilogram", required=False)


class InstrumentForm(WorkshopModelForm):
    division_mg = MassField(label="Smallest step it shows (scales)", required=False)
    capacity_mg = MassField(label="Most it weighs (scales)", required=False)

    class Meta:
        model = Instrument
        fields = ["what", "name", "division_mg", "capacity_mg", "scale_class", "note", "retired"]


class ScaleCheckForm(WorkshopForm):
    test_mg = MassField(label="Test weight")
    reading_mg = MassField(label="What the scale showed")
    allowed_mg = MassField(
        label="Allowed", required=False,
        help_text="Empty: by its class, else one step of the scale.",
    )  # fmt: skip
    on = forms.DateField(label="On")
    by = forms.CharField(label="By whom", max_length=80, required=False)
    note = forms.CharField(label="Note", max_length=200, required=False)
    client_id = EntryId()


class ThermometerCheckForm(WorkshopForm):
    how = forms.ChoiceField(
        label="In", choices=[(InstrumentCheck.How.ICE, "ice and water, stirred"),
                             (InstrumentCheck.How.BOILING, "boiling water")],
    )  # fmt: skip
    reading_c = TemperatureField(label="What it showed")
    altitude_m = forms.IntegerField(
        label="Altitude, m", min_value=-500, max_value=5000, required=False,
        help_text="For boiling water: this, or the pressure.",
    )  # fmt: skip
    pressure_hpa = forms.DecimalField(
        label="Pressure where you are, hPa", min_value=500, max_value=1100, max_digits=6,
        decimal_places=1, required=False,
        help_text="Not reduced to sea level, as weather reports give it.",
    )  # fmt: skip
    on = forms.DateField(label="On")
    by = forms.CharField(label="By whom", max_length=80, required=False)
    note = forms.CharField(label="Note", max_length=200, required=False)
    client_id = EntryId()
