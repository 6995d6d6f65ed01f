"""The plan's means and demand as forms: sessions, days off, minutes, places, targets, markets."""

from __future__ import annotations

from datetime import datetime

from django import forms
from django.core.exceptions import ValidationError

from pourwright.workshop.designs.models import Design
from pourwright.workshop.house.doors import EntryId
from pourwright.workshop.house.fields import (
    MassField,
    MoneyField,
    PercentField,
    WorkshopForm,
    WorkshopModelForm,
)
from pourwright.workshop.planning.markets import BadMarketDay, Counted
from pourwright.workshop.planning.models import (
    DayOff,
    ExtraSession,
    Market,
    MarketDay,
    Means,
    Plan,
    Weekday,
    WeeklySession,
)
from pourwright.workshop.pours.models import Melter


class ClockInput(forms.TimeInput):
    input_type = "time"

    def __init__(self) -> None:
        super().__init__(format="%H:%M")


class _SessionForm(WorkshopModelForm):
    minutes = forms.IntegerField(label="Lasts, minutes", min_value=30, max_value=16 * 60)
    people = forms.IntegerField(label="People", min_value=1, max_value=20, initial=1)

    def __init__(self, *arguments, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["starts"].widget = ClockInput()
        self.fields["starts"].label = "Begins"

    def clean(self):
        cleaned = super().clean()
        starts, minutes = cleaned.get("starts"), cleaned.get("minutes")
        if starts and minutes and starts.hour * 60 + starts.minute + minutes > 24 * 60:
            self.add_error(
                "minutes",
                f"{minutes} min from {starts:%H:%M} go past midnight; give the time after it to "
                "the next day.",
            )
        return cleaned


class WeeklySessionForm(_SessionForm):
    class Meta:
        model = WeeklySession
        fields = ("weekday", "starts", "minutes", "people", "from_on", "until_on")
        labels = {"weekday": "Every", "from_on": "From", "until_on": "Until"}

    def clean(self):
        cleaned = super().clean()
        first, last = cleaned.get("from_on"), cleaned.get("until_on")
        if first and last and last < first:
            self.add_error("until_on", f"{last} is before {first}; it ends on or after that day.")
        return cleaned


class ExtraSessionForm(_SessionForm):
    class Meta:
        model = ExtraSession
        fields = ("on", "starts", "minutes", "people")
        labels = {"on": "On"}


class DayOffForm(WorkshopModelForm):
    class Meta:
        model = DayOff
        fields = ("from_on", "until_on", "reason")
        labels = {"from_on": "From", "until_on": "Until, that day too", "reason": "Why"}

    def clean(self):
        cleaned = super().clean()
        first, last = cleaned.get("from_on"), cleaned.get("until_on")
        if first and last and last < first:
            self.add_error("until_on", f"{last} is before {first}; give the last day off.")
        return cleaned


MINUTES = {
    "set_up_minutes": ("Setting up and weighing", "Before each melt."),
    "melt_minutes": ("Melting, whatever the mass", "You are free, but in the room."),
    "melt_minutes_kg": ("and for each kilogram", "The melter’s page works it out."),
    "stir_minutes": ("Adding and stirring", "For each formula."),
    "cool_minutes": ("Cooling to the pour", "You are free, but in the room."),
    "pour_minutes": ("Pouring, a vessel", ""),
    "wipe_minutes": ("Wiping, a melt", ""),
    "clean_minutes": ("Cleaning between scents", ""),
    "wick_minutes": ("Sticking and centring, a wick", "Before the pour."),
    "finish_minutes": ("Finishing and labelling, a candle", "The day after, or later."),
}


class MeansForm(WorkshopModelForm):
    """What the workshop can do. Every minute here is common practice, no source, until learnt."""

    scrap_pct = PercentField(label="Come to nothing, % of vessels poured", places=2)
    holding_pct_year = PercentField(
        label="Cost of holding stock, % a year", places=2,
        help_text="Money tied up, room, what spoils. Weighs large packs against small ones.",
    )  # fmt: skip
    late_minutes = forms.IntegerField(
        label="One candle less late is worth, minutes of work", required=False, min_value=1,
        max_value=600,
        help_text="Empty: lateness comes first, whatever work it costs.",
    )  # fmt: skip

    circuit_w = forms.IntegerField(
        label="The melters’ circuit gives, W", required=False, min_value=1, max_value=100_000,
        help_text="Melters that would draw more together take turns. Empty: no limit is known. "
        "What a circuit may carry for hours on end, a licensed electrician can say.",
    )  # fmt: skip

    class Meta:
        model = Means
        fields = (
            "table_places", "circuit_w", "set_hours", "scrap_pct", "spare_sessions", "late_minutes",
            "holding_pct_year", *MINUTES,
        )  # fmt: skip
        labels = {
            "table_places": "Places on the pour table",
            "set_hours": "Hours until a vessel may be moved",
            "spare_sessions": "Sessions kept free for a failed melt",
        } | {name: f"{words}, min" for name, (words, _) in MINUTES.items()}
        help_texts = {
            "table_places": "Vessels that can set at once, level and out of a draught.",
            "set_hours": "Where neither the design nor its wax says.",
            "spare_sessions": "For the latest safe start of a promise.",
        } | {name: words for name, (_, words) in MINUTES.items()}

    def __init__(self, *arguments, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        for name in MINUTES:
            self.fields[name].min_value = 0
            self.fields[name].widget.attrs["min"] = "0"
        self.fields["table_places"].widget.attrs["min"] = "1"

    def groups(self):
        """Return what there is, and how long things take."""
        means = [self[name] for name in self.fields if name not in MINUTES]
        return [("What there is", means), ("How long it takes", [self[name] for name in MINUTES])]

    def clean_table_places(self):
        places = self.cleaned_data["table_places"]
        if not places:
            raise ValidationError("A pour table has one place or more.")
        return places

    def clean_circuit_w(self):
        circuit = self.cleaned_data["circuit_w"]
        most = Melter.objects.filter(retired=False, power_w__isnull=False).order_by("-power_w")
        if circuit is not None and (melter := most.first()) and melter.power_w > circuit:
            raise ValidationError(
                f"{melter.name} alone draws {melter.power_w} W; give no less, or leave it empty."
            )
        return circuit

    def clean_scrap_pct(self):
        given = self.cleaned_data["scrap_pct"]
        if not 0 <= given <= 50:
            raise ValidationError(f"{given} % come to nothing; give 0 to 50.")
        return given

    def clean(self):
        cleaned = super().clean()
        for name in (*MINUTES, "set_hours"):
            value = cleaned.get(name)
            if value is not None and value < 0:
                self.add_error(name, f"{value} is below nothing; give 0 or more.")
        return cleaned


class MelterMeansForm(WorkshopForm):
    """How a melter is used in a plan."""

    minimum_mg = MassField(label="Least that it melts", required=False)
    pitchers = forms.IntegerField(
        label="Pitchers drawn from one melt", min_value=0, max_value=12, initial=0,
        help_text="0: one formula a melt, the oil goes into the melter.",
    )  # fmt: skip
    pitcher_mg = MassField(label="What a pitcher holds", required=False)

    def clean(self):
        cleaned = super().clean()
        if cleaned.get("pitchers") and not cleaned.get("pitcher_mg"):
            self.add_error("pitcher_mg", "Say what a pitcher holds, such as 900 g.")
        return cleaned


class DesignMeansForm(WorkshopForm):
    """What of a design matters for planning: how many to keep, and the room that it takes."""

    qty = forms.IntegerField(
        label="Keep on the shelf", required=False, min_value=0, max_value=100_000
    )
    priority = forms.TypedChoiceField(
        label="That matters", coerce=int, initial=1,
        choices=[(3, "as much as an order"), (2, "as much as a market"), (1, "less than both")],
    )  # fmt: skip
    table_places = forms.IntegerField(
        label="Places on the pour table", min_value=1, max_value=20, initial=1
    )
    set_hours = forms.DecimalField(
        label="Hours until it may be moved", required=False, min_value=0, max_value=240,
        max_digits=5, decimal_places=1, help_text="Empty: as a kept forecast or its wax says.",
    )  # fmt: skip
    stall_room = forms.DecimalField(
        label="Room on a stall", min_value=0, max_value=100, max_digits=5, decimal_places=2,
        initial=1, help_text="In places of the stall’s own: 1 for a usual candle.",
    )  # fmt: skip


class MarketForm(WorkshopModelForm):
    class Meta:
        model = Market
        fields = ("name", "place", "stall_places", "opens", "closes", "note", "retired")
        labels = {
            "name": "Market", "place": "Where", "stall_places": "Room on the stall",
            "retired": "No longer gone to",
        }  # fmt: skip
        help_texts = {
            "stall_places": "Candles that can be brought and shown; empty: no limit.",
            "opens": "With both, the time at which one sold out says how much more was wanted.",
        }

    def __init__(self, *arguments, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        for name in ("opens", "closes"):
            self.fields[name].widget = ClockInput()

    def clean(self):
        cleaned = super().clean()
        opens, closes = cleaned.get("opens"), cleaned.get("closes")
        if opens and closes and closes <= opens:
            self.add_error("closes", f"It closes at {closes:%H:%M}, before it opens.")
        return cleaned


class MarketDayForm(WorkshopModelForm):
    client_id = EntryId()

    class Meta:
        model = MarketDay
        fields = ("on", "exposure", "priority", "note", "client_id")
        labels = {"on": "On", "exposure": "Against a usual day there", "priority": "That matters"}
        help_texts = {"exposure": "1 for a usual day, 0.5 for half of one, 2 for a feast."}

    priority = forms.TypedChoiceField(
        label="That matters", coerce=int, initial=2,
        choices=[(3, "as much as an order"), (2, "less than an order"), (1, "least")],
    )  # fmt: skip


class DesignChoice(forms.ModelChoiceField):
    def __init__(self, **keywords) -> None:
        found = Design.objects.filter(retired=False)
        super().__init__(found, label="Candle", empty_label="choose", **keywords)


# --- plans ---------------------------------------------------------------------------------------

EFFORTS = [(20, "quick"), (80, "usual"), (300, "thorough")]


class MakeForm(WorkshopForm):
    """Ask for a plan."""

    effort = forms.TypedChoiceField(
        label="How hard to look", coerce=int, choices=EFFORTS, initial=80,
        help_text="The same again gives the same plan.",
    )  # fmt: skip
    until = forms.DateField(
        label="Until", required=False, help_text="Empty: to the last date that is wanted."
    )
    name = forms.CharField(label="Called", required=False, max_length=80)
    afresh = forms.BooleanField(
        label="Begin afresh", required=False,
        help_text="Otherwise as little as helps is changed in the plan that you follow.",
    )  # fmt: skip


class SessionChoice(forms.Form):
    """A session by its key, as "2026-03-02 18:00"."""

    to = forms.CharField(max_length=20)

    def clean_to(self) -> dict:
        try:
            found = datetime.strptime(self.cleaned_data["to"], "%Y-%m-%d %H:%M")  # noqa: DTZ007
        except ValueError as problem:
            raise ValidationError("Choose a session of this plan.") from problem
        return {"on": found.date(), "session_starts": found.time()}


class PromiseForm(WorkshopForm):
    """An enquiry: so many of a candle by a day."""

    quantity = forms.IntegerField(label="How many", min_value=1, max_value=100_000)
    design = DesignChoice()
    by = forms.DateField(label="By")


class WhatIfForm(WorkshopForm):
    """What would be different."""

    table_places = forms.IntegerField(
        label="Places on the pour table", required=False, min_value=1, max_value=2000
    )
    melter_mg = MassField(label="One more melter, of", required=False)
    weekday = forms.TypedChoiceField(
        label="One more session, every", required=False, coerce=int, empty_value=None,
        choices=[("", "none"), *Weekday.choices],
    )  # fmt: skip
    starts = forms.TimeField(label="beginning", required=False, widget=ClockInput())
    minutes = forms.IntegerField(
        label="lasting, minutes", required=False, min_value=30, max_value=16 * 60
    )
    off_from = forms.DateField(label="Nobody pours from", required=False)
    off_until = forms.DateField(label="until, that day too", required=False)
    effort = forms.TypedChoiceField(
        label="How hard to look", coerce=int, choices=EFFORTS, initial=80
    )

    def clean(self):
        cleaned = super().clean()
        given = [name for name in self.fields if name != "effort" and cleaned.get(name) is not None]
        if not self.errors and not given:
            raise ValidationError("Say at least one thing that would be different.")
        if cleaned.get("weekday") is not None:
            for name in ("starts", "minutes"):
                if not cleaned.get(name):
                    self.add_error(name, "Say when the further session begins and how long it is.")
        first, last = cleaned.get("off_from"), cleaned.get("off_until")
        if (first is None) != (last is None):
            self.add_error("off_from" if first is None else "off_until", "Give both days.")
        elif first and last and last < first:
            self.add_error("off_until", f"{last} is before {first}.")
        return cleaned


class CompareForm(WorkshopForm):
    """Two plans."""

    one = forms.ModelChoiceField(Plan.objects.none(), label="This plan")
    other = forms.ModelChoiceField(Plan.objects.none(), label="beside")

    def __init__(self, *arguments, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        for name in ("one", "other"):
            self.fields[name].queryset = Plan.objects.all()
            self.fields[name].to_field_name = "number"


class DayForm(WorkshopForm):
    """A market day: how many to bring of each, or, once it is over, what came of each."""

    takings = MoneyField(
        label="Takings", required=False, help_text="What the till says, to set beside the count."
    )
    sell = forms.BooleanField(
        label="Take what was sold off the shelf", required=False, initial=True
    )

    def __init__(self, *arguments, designs, lines, over: bool, bring, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.designs, self.over, self.bring = designs, over, bring
        count = {"required": False, "min_value": 0, "max_value": 10_000}
        for design in designs:
            line = lines.get(design.pk)
            names = ("taken", "back", "sold") if over else ("wanted",)
            for name in names:
                self.fields[f"{name}-{design.pk}"] = forms.IntegerField(
                    label=f"{design.name}: {name}", initial=getattr(line, name, None), **count
                )
            if over:
                if line and line.wanted and line.taken is None:
                    self.fields[f"taken-{design.pk}"].initial = line.wanted
                self.fields[f"out-{design.pk}"] = forms.TimeField(
                    label=f"{design.name}: sold out at", required=False, widget=ClockInput()
                )
        if not over:
            del self.fields["takings"], self.fields["sell"]

    def rows(self):
        """Return each design with its boxes, and what the past says to bring."""
        names = ("taken", "back", "sold", "out") if self.over else ("wanted",)
        for design in self.designs:
            boxes = [self[f"{name}-{design.pk}"] for name in names]
            yield design, boxes, self.bring.of.get(design.pk) if self.bring else None

    def wanted(self) -> list[tuple[Design, int]]:
        return [(design, self.cleaned_data[f"wanted-{design.pk}"] or 0) for design in self.designs]

    def counted(self) -> list[Counted]:
        found = []
        for design in self.designs:
            given = {n: self.cleaned_data[f"{n}-{design.pk}"] for n in ("taken", "back", "sold")}
            if given["taken"]:
                found.append(
                    Counted(
                        design=design, taken=given["taken"], back=given["back"] or 0,
                        sold=given["sold"], sold_out_at=self.cleaned_data[f"out-{design.pk}"],
                    )
                )  # fmt: skip
            elif given["back"] or given["sold"]:
                raise BadMarketDay(f"{design.name}: say how many were taken.")
        return found
