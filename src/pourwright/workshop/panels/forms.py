"""Planning a panel, and what one assessor said."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django import forms

from pourwright.core.errors import BadInput
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.house.doors import EntryId
from pourwright.workshop.house.fields import PercentField, WorkshopForm
from pourwright.workshop.panels import queries
from pourwright.workshop.panels.models import Asks, PanelKind, Scent
from pourwright.workshop.panels.services import MOST_ASSESSORS, MOST_CANDLES, Candidate
from pourwright.workshop.stores.models import Lot

ROWS_AT_FIRST = 4


class PlanForm(WorkshopForm):
    """What is asked, how, of how many; the candles stand in rows of their own."""

    kind = forms.ChoiceField(
        label="Kind",
        choices=PanelKind,
        help_text="Ranking puts two or more in order. A triangle test asks whether two can be told "
        "apart at all: three jars, two of them alike, which is the odd one?",
    )
    question = forms.CharField(
        label="What is asked, in words",
        max_length=200,
        help_text="Such as: which throws most, hot, after 2 h in the small room? Stands on the "
        "blind sheet.",
    )
    asks = forms.ChoiceField(
        label="What 1 means in a ranking", choices=Asks, initial=Asks.STRENGTH, required=False
    )
    scent = forms.ChoiceField(label="Cold or hot", choices=Scent)
    room = forms.CharField(label="Room", max_length=80, required=False)
    minutes = forms.IntegerField(
        label="Minutes of scent in the air", min_value=0, max_value=1440, required=False,
        help_text="Since lighting, or since the lids came off.",
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip
    on = forms.DateField(label="Held on")
    assessors = forms.IntegerField(
        label="Assessors", min_value=2, max_value=MOST_ASSESSORS, initial=12,
        help_text="Different people: one nose counts once.",
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip
    alpha = forms.DecimalField(
        label="Risk of a false find", min_value=Decimal("0.001"), max_value=Decimal("0.499"),
        decimal_places=3, initial=Decimal("0.05"),
        help_text="The share of panels that would call alike candles different.",
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )  # fmt: skip
    tell_pct = PercentField(
        label="Triangle: show it if so many can tell, %", places=1, required=False,
        initial=Decimal(40),
    )  # fmt: skip
    power_pct = PercentField(
        label="Triangle: and be so sure to show it, %", places=1, required=False,
        initial=Decimal(90),
    )  # fmt: skip
    note = forms.CharField(label="Note", max_length=300, required=False)
    client_id = EntryId()

    def clean_asks(self) -> str:
        return self.cleaned_data["asks"] or Asks.STRENGTH

    def _share(self, name: str) -> Decimal | None:
        given = self.cleaned_data[name]
        if given is not None and not 0 < given < 100:
            raise forms.ValidationError(f"{given} % was given; give more than 0 and less than 100.")
        return given

    def clean_tell_pct(self) -> Decimal | None:
        return self._share("tell_pct")

    def clean_power_pct(self) -> Decimal | None:
        return self._share("power_pct")


class CandleRow(WorkshopForm):
    """One candle: chosen from what there is, or named in words; a row left empty does not count."""

    candle = forms.ChoiceField(label="Candle", required=False)
    words = forms.CharField(label="or in words", max_length=80, required=False)
    poured_on = forms.DateField(label="Poured on", required=False)

    def __init__(self, *arguments, choices, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["candle"].choices = choices
        for field in self.fields.values():
            field.widget.attrs["aria-label"] = field.label

    @property
    def cells(self):
        return [self[name] for name in ("candle", "words", "poured_on")]

    @property
    def filled(self) -> bool:
        given = self.cleaned_data
        return bool(given.get("candle") or given.get("words") or given.get("poured_on"))

    def candidate(self) -> Candidate:
        given = self.cleaned_data
        what, _, pk = (given.get("candle") or "").partition(":")
        return Candidate(
            lot=Lot.objects.select_related("item").get(pk=pk) if what == "lot" else None,
            version=DesignVersion.objects.get(pk=pk) if what == "version" else None,
            words=given.get("words") or "",
            poured_on=given.get("poured_on"),
        )


def candle_rows(data, *, workshop, on: date, design=None, wide: bool = False):
    """Return the rows of candles; of a design, its lots at hand stand in the first ones."""
    lots = queries.lots_of(design)[: ROWS_AT_FIRST - 1] if design else []
    initial = [{"candle": f"lot:{lot.pk}"} for lot in lots]
    rows = forms.formset_factory(
        CandleRow, extra=(MOST_CANDLES if wide else ROWS_AT_FIRST) - len(initial),
        max_num=MOST_CANDLES, absolute_max=MOST_CANDLES,
    )  # fmt: skip
    return rows(
        data, prefix="candle", initial=initial,
        form_kwargs={
            "workshop": workshop, "choices": queries.offered(on=on, design=design),
        },
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class CodeField:
    """A code on the answer's page, with the places it can be given."""

    code: str
    name: str
    chosen: str
    places: list[str]


class AnswerForm(WorkshopForm):
    """What one assessor said: a place for each code, or the odd one."""

    assessor = forms.IntegerField(widget=forms.HiddenInput)
    by = forms.CharField(label="Initials", max_length=20, required=False)
    note = forms.CharField(label="What they said", max_length=200, required=False)
    client_id = EntryId()

    def __init__(self, *arguments, serving, ranking: bool, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.serving, self.ranking = serving, ranking

    def places(self) -> list[CodeField]:
        places = [str(place) for place in range(1, len(self.serving.codes) + 1)]
        return [
            CodeField(code, f"place-{code}", self.data.get(f"place-{code}", ""), places)
            for code in self.serving.codes
        ]

    def given(self) -> dict:
        """Return the answer as ``services.answer`` takes it; raises where a place is no number."""
        about = {key: self.cleaned_data[key] for key in ("by", "note", "client_id")}
        if not self.ranking:
            return about | {"odd": self.data.get("odd", "")}
        ranks = {}
        for one in self.places():
            if one.chosen:
                if one.chosen not in one.places:
                    raise BadInput(f"{one.code} was given “{one.chosen[:9]}”; give 1 to "
                                   f"{len(one.places)}.")  # fmt: skip
                ranks[one.code] = int(one.chosen)
        return about | {"ranks": ranks}


class ReasonForm(WorkshopForm):
    reason = forms.CharField(label="Why", max_length=200, required=False)
    answer = forms.IntegerField(widget=forms.HiddenInput, required=False)
