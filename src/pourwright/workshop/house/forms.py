"""The workshop's own settings as a form."""

from __future__ import annotations

import re
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

from django import forms
from django.core.exceptions import ValidationError

from pourwright.core.hazard import identifier
from pourwright.workshop.house import fields
from pourwright.workshop.house.models import Workshop

MARKETS = (
    ("us", "United States"),
    ("eu", "European Union"),
    ("gb", "Great Britain"),
)
CURRENCY = re.compile(r"[A-Z]{3}")


class ZoneInput(forms.TextInput):
    """A text box that offers every time zone's name as one types."""

    template_name = "house/zone_input.html"

    def get_context(self, name, value, attrs):
        context = super().get_context(name, value, attrs)
        context["widget"]["attrs"]["list"] = f"{name}-names"
        context["zones"] = _zones()
        return context


@cache
def _zones() -> list[str]:
    """Read once: it walks the time zone files."""
    return sorted(available_timezones())


class WorkshopSettings(fields.WorkshopModelForm):
    """Name, habits and units. Units and currency change how amounts show, never the records."""

    scale_division_mg = fields.MassField(
        label="Scale division", help_text="The smallest step that your scale shows."
    )
    loss_pct = fields.PercentField(
        label="Usual loss, %",
        places=2,
        help_text="What stays in the pot and the pitcher; each pour may set its own.",
    )
    labour_rate_minor100 = fields.MoneyField(
        label="An hour of work costs", help_text="Goes into a candle's cost by the minutes."
    )
    overhead_pct = fields.PercentField(
        label="Overhead, %",
        places=2,
        help_text="Rent, power, insurance and the like, as per cent of materials and labour.",
    )
    markets = forms.MultipleChoiceField(
        label="Sold in",
        choices=MARKETS,
        widget=forms.CheckboxSelectMultiple,
        help_text="Whose rules a design has to meet before it may be sold.",
    )

    vat_country = forms.ChoiceField(
        label="Country of your VAT number",
        required=False,
        help_text="For the unique formula identifier on labels in the EU and Northern Ireland.",
    )
    company_key = forms.IntegerField(
        label="Company key",
        required=False,
        min_value=0,
        help_text="Where you have no VAT number: from the European Chemicals Agency’s generator.",
    )

    sheet_old_months = forms.IntegerField(
        label="Safety sheets count as old after, months",
        required=False,
        min_value=1,
        max_value=240,
        help_text="From the sheet’s date. Common practice, no source: ask for a new one by then.",
    )

    class Meta:
        model = Workshop
        fields = (
            "name", "maker", "address", "markets", "units", "currency", "time_zone",
            "scale_division_mg", "loss_pct", "cure_days", "labour_rate_minor100", "overhead_pct",
            "vat_country", "vat_number", "company_key", "sheet_old_months",
            "legal_name", "street", "place", "country", "telephone", "electronic", "made_for",
            "eu_name", "eu_street", "eu_place", "eu_country", "eu_electronic",
        )  # fmt: skip
        labels = {
            "name": "Workshop’s name",
            "maker": "Maker",
            "units": "Amounts are shown in",
            "cure_days": "Usual days to cure",
            "vat_number": "VAT number",
            "legal_name": "Name on labels",
            "place": "Town, state or county, post code",
            "electronic": "E-mail or web address",
            "made_for": "Somebody else makes the candles for us",
            "eu_name": "Responsible person in the EU",
            "eu_street": "Their street",
            "eu_place": "Their town and post code",
            "eu_country": "Their country",
            "eu_electronic": "Their e-mail or web address",
        }
        help_texts = {
            "maker": "Whoever signs at the gates.",
            "address": "As it stands on a label or a lot paper.",
            "units": "Changes how amounts show and how a bare number is read; the records stay.",
            "legal_name": "Where the company’s actual name is not the workshop’s.",
            "place": "As on an envelope, such as Hollowbridge, VT 05001.",
            "country": "Two letters, such as US, GB or DE.",
            "telephone": "Stands beside a hazard statement in the EU and Great Britain.",
            "made_for": "The label then says “Made for”.",
            "eu_name": "Where you sell there from outside: who answers for the candle in the EU.",
            "currency": "Three letters, such as GBP. Nothing is converted.",
            "time_zone": "Such as Europe/London. Empty: this machine’s own.",
            "cure_days": "Where neither the design nor its wax says otherwise.",
        }
        widgets = {"address": forms.Textarea(attrs={"rows": 3}), "time_zone": ZoneInput}

    def __init__(self, *arguments, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.initial["markets"] = self.instance.market_list
        self._propose_address()
        countries = sorted(identifier.countries().items(), key=lambda country: country[1])
        self.fields["vat_country"].choices = [("", "none"), *countries]
        # The rate is read in the currency chosen beside it, not in the one there was.
        chosen = (self.data.get("currency") or "").strip().upper()
        if CURRENCY.fullmatch(chosen):
            self.fields["labour_rate_minor100"].currency = chosen

    # The second group is what labels say of the maker; the rest comes first.
    LABEL = (
        "legal_name", "street", "place", "country", "telephone", "electronic", "made_for",
        "eu_name", "eu_street", "eu_place", "eu_country", "eu_electronic",
        "vat_country", "vat_number", "company_key",
    )  # fmt: skip

    def groups(self):
        """Return the fields in two groups: the workshop's habits, and who stands on a label."""
        label = [self[name] for name in self.LABEL]
        habits = [field for field in self.visible_fields() if field.name not in self.LABEL]
        return [("How it works here", "", habits), ("On the label", "label", label)]

    def _propose_address(self) -> None:
        """Offer the free address's lines as street and place where neither was ever entered."""
        lines = [line.strip() for line in self.instance.address.splitlines() if line.strip()]
        if lines and not self.instance.street and not self.instance.place:
            *street, place = lines
            self.initial["street"] = ", ".join(street)
            self.initial["place"] = place
            self.fields["street"].help_text = "Proposed from the address above; check it."

    def _clean_country(self, name: str) -> str:
        given = self.cleaned_data[name].strip().upper()
        if given and not (len(given) == 2 and given.isascii() and given.isalpha()):
            raise ValidationError(
                f"“{given}” is no country’s code; write two letters, as US or DE."
            )
        return given

    def clean_country(self) -> str:
        return self._clean_country("country")

    def clean_eu_country(self) -> str:
        return self._clean_country("eu_country")

    def clean_name(self) -> str:
        return self.cleaned_data["name"].strip()

    def clean_sheet_old_months(self) -> int:
        return self.cleaned_data["sheet_old_months"] or self.instance.sheet_old_months

    def clean_currency(self) -> str:
        given = self.cleaned_data["currency"].strip().upper()
        if not CURRENCY.fullmatch(given):
            raise ValidationError(
                f"Currency “{given}” is not a code of three letters; write for example USD or EUR."
            )
        return given

    def clean_time_zone(self) -> str:
        given = self.cleaned_data["time_zone"].strip()
        if given:
            try:
                ZoneInfo(given)
            except (KeyError, ValueError, OSError) as problem:
                raise ValidationError(
                    f"“{given}” is not a time zone’s name; write for example Europe/London or "
                    "America/Chicago, or leave it empty."
                ) from problem
        return given

    def clean_scale_division_mg(self) -> int:
        given = self.cleaned_data["scale_division_mg"]
        if not 1 <= given <= 100_000:
            raise ValidationError("A scale’s division is above nothing and up to 100 g, say 0.1 g.")
        return given

    def clean(self):
        cleaned = super().clean()
        country, vat = cleaned.get("vat_country"), (cleaned.get("vat_number") or "").strip()
        key = cleaned.get("company_key")
        if (country or vat or key is not None) and not self.errors:
            try:
                identifier.make(formulation=0, country=country or "", vat=vat, company_key=key)
            except identifier.BadIdentifier as problem:
                self.add_error("company_key" if key is not None else "vat_number", str(problem))
        return cleaned

    def clean_loss_pct(self):
        return self._up_to("loss_pct", 50, "A loss")

    def clean_overhead_pct(self):
        return self._up_to("overhead_pct", 1000, "Overhead")

    def _up_to(self, name: str, most: int, what: str):
        given = self.cleaned_data[name]
        if not 0 <= given <= most:
            raise ValidationError(f"{what} is 0 to {most} %, and {given} % was given.")
        return given

    def clean_markets(self) -> str:
        chosen = self.cleaned_data["markets"]
        return ",".join(code for code, _ in MARKETS if code in chosen)
