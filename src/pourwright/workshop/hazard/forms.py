"""The forms of compositions: they read what a sheet says, and put what is refused beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from django import forms
from django.core.exceptions import ValidationError
from django.forms.utils import flatatt
from django.utils.html import format_html

from pourwright.core.errors import BadInput
from pourwright.core.hazard.model import Route
from pourwright.workshop.hazard import drafts, keeping
from pourwright.workshop.hazard.keeping import Head
from pourwright.workshop.hazard.models import ItemComposition
from pourwright.workshop.hazard.records import Row
from pourwright.workshop.house.fields import (
    AmountField,
    PercentField,
    TemperatureField,
    WorkshopForm,
)
from pourwright.workshop.stores.forms import DensityField
from pourwright.workshop.stores.models import Item, Kind

ROUTES = (
    (Route.ORAL, "swallowed"),
    (Route.DERMAL, "on the skin"),
    (Route.VAPOUR, "breathed in, as vapour"),
    (Route.DUST, "breathed in, as dust or mist"),
    (Route.GAS, "breathed in, as gas"),
)
SHORT = {"autocomplete": "off", "spellcheck": "false"}


class SheetForm(WorkshopForm):
    """A safety sheet's file."""

    file = forms.FileField(
        label="The safety sheet, as PDF",
        widget=forms.ClearableFileInput(attrs={"accept": ".pdf,application/pdf"}),
        help_text=f"Up to {keeping.MOST_BYTES // 2**20} MB. It is kept with your records and "
        "goes into every backup.",
    )
    only_keep = forms.BooleanField(
        required=False,
        label="Only keep it: I type what is in it myself",
        help_text="For a sheet that cannot be read.",
    )

    def clean_file(self):
        file = self.cleaned_data["file"]
        # By its stated size first: what is too large is not read into memory at all.
        if file.size > keeping.MOST_BYTES:
            raise ValidationError(
                f"The file is {file.size / 2**20:.1f} MB; a sheet of up to "
                f"{keeping.MOST_BYTES // 2**20} MB is kept."
            )
        return file


class PasteForm(WorkshopForm):
    """Rows from a spreadsheet, pasted or as a file."""

    text = forms.CharField(
        label="Rows, copied from a spreadsheet or a page",
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 10, "spellcheck": "false", "class": "pasted"}),
        help_text="One substance a row: name, CAS number, share and classes, in any order. "
        "A first row that names the columns helps, but need not be there.",
    )
    file = forms.FileField(
        label="or a CSV or XLSX file",
        required=False,
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx"}),
    )

    def clean(self):
        known = super().clean()
        if not self.errors and not known.get("file") and not known.get("text", "").strip():
            raise ValidationError("Paste the rows, or choose a file.")
        return known


class HeadForm(WorkshopForm):
    """What the sheet says of the whole material."""

    product_name = forms.CharField(
        label="Product’s name on the sheet", required=False, max_length=200
    )
    sheet_date = forms.DateField(
        label="Date of the sheet",
        required=False,
        help_text="Of this revision. Without it nobody can tell when the sheet grows old.",
    )
    revision = forms.CharField(label="Its revision", required=False, max_length=40)
    flash_point_c = TemperatureField(
        label="Flash point", required=False, help_text="Closed cup, from section 9."
    )
    density_g_ml = DensityField(
        label="Density, g/ml", required=False, help_text="From section 9; “0.98 kg/l” is the same."
    )
    note = forms.CharField(label="Note", required=False, max_length=300)
    unknown_oral = PercentField(label="Unknown if swallowed, %", required=False)
    unknown_dermal = PercentField(label="Unknown on the skin, %", required=False)
    unknown_vapour = PercentField(label="Unknown as vapour, %", required=False)
    unknown_dust = PercentField(label="Unknown as dust or mist, %", required=False)
    unknown_gas = PercentField(label="Unknown as gas, %", required=False)
    nothing_listed = forms.BooleanField(
        required=False, label="The sheet lists no substance: nothing in it is classified"
    )
    facts_too = forms.BooleanField(
        required=False,
        initial=True,
        label="Put flash point, density, date and revision among the oil’s facts too",
    )

    def __init__(self, *arguments, item: Item, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        if item.kind != Kind.OIL:
            del self.fields["facts_too"]

    @property
    def about(self) -> list:
        """The fields that every sheet fills."""
        return [self[name] for name in ("product_name", "sheet_date", "revision", "flash_point_c",
                                        "density_g_ml", "note")]  # fmt: skip

    @property
    def unknowns(self) -> list:
        return [self[f"unknown_{route}"] for route, _ in ROUTES]

    @property
    def unknowns_open(self) -> bool:
        return any(field.value() or field.errors for field in self.unknowns)

    def head(self) -> Head:
        """Return what was read; call it on a valid form."""
        told = self.cleaned_data
        return Head(
            product_name=told["product_name"],
            sheet_date=told["sheet_date"],
            revision=told["revision"],
            flash_point_c=told["flash_point_c"],
            density_g_ml=told["density_g_ml"],
            note=told["note"],
            nothing_listed=told["nothing_listed"],
            unknown_acute={
                route: Fraction(told[f"unknown_{route}"])
                for route, _ in ROUTES
                if told[f"unknown_{route}"] is not None
            },
        )


class PartField(AmountField):
    """A part of a row, read by the one reader that drafts have for it."""

    def __init__(self, part: str, **keywords) -> None:
        self.reader = drafts.READERS[part]
        super().__init__(**keywords)

    def to_python(self, value):
        text = forms.CharField.to_python(self, value)
        try:
            return self.reader(text)
        except BadInput as problem:
            raise ValidationError(str(problem)) from problem

    def prepare_value(self, value):
        return value

    def has_changed(self, initial, data) -> bool:
        return (initial or "") != (data or "")

    def validate(self, value) -> None:
        """Whether it may be missing is the reader's to say."""


class Box(forms.TextInput):
    """A text box written without a template: a composition of 60 rows has some 700 of them."""

    def render(self, name, value, attrs=None, renderer=None):
        told = self.build_attrs(self.attrs, {**(attrs or {}), "type": self.input_type})
        if value not in (None, ""):
            told["value"] = str(value)
        return format_html('<input name="{}"{}>', name, flatatt(told))


class Area(forms.Textarea):
    """The same of several lines."""

    def render(self, name, value, attrs=None, renderer=None):
        told = self.build_attrs(self.attrs, attrs)
        return format_html(
            '<textarea name="{}"{}>\n{}</textarea>', name, flatatt(told), str(value or "")
        )


class Tick(forms.CheckboxInput):
    """The same to tick."""

    def render(self, name, value, attrs=None, renderer=None):
        told = self.build_attrs(self.attrs, {**(attrs or {}), "type": "checkbox"})
        told["checked"] = self.check_test(value)
        return format_html('<input name="{}"{}>', name, flatatt(told))


class Unseen(Box):
    input_type = "hidden"


def _area(rows: int, example: str = "") -> Area:
    told = {**SHORT, "cols": 30, "rows": rows}
    return Area(attrs={**told, "placeholder": example} if example else told)


class RowForm(WorkshopForm):
    """One substance. A row with nothing in it, or with its “take out” ticked, is no row."""

    name = PartField("name", label="Substance", required=False, widget=Box)
    cas = PartField("cas", label="CAS number", required=False, widget=Box)
    share = PartField("share", label="Share, %", required=False, widget=Box)
    classes = PartField("classes", label="Classes, one a line", required=False, widget=_area(2))
    m_acute = PartField("m_acute", label="M, acute", required=False, widget=Box)
    m_chronic = PartField("m_chronic", label="M, chronic", required=False, widget=Box)
    limits = PartField(
        "limits", label="Specific limits, %", required=False, widget=_area(2, "Skin Sens 1A 0.01")
    )
    ate = PartField("ate", label="Estimates (ATE)", required=False, widget=_area(2, "oral 1200"))
    unknown_acute = PartField(
        "unknown_acute",
        label="No toxicity data for",
        required=False,
        widget=Box(attrs={"placeholder": "oral, dermal"}),
    )
    non_additive = forms.BooleanField(
        required=False,
        label="Not additive for skin and eyes: a strong acid or base, a phenol …",
        widget=Tick,
    )
    unknown_aquatic = forms.BooleanField(
        required=False, label="No data on its harm in water", widget=Tick
    )
    gone = forms.BooleanField(required=False, label="Take this row out", widget=Tick)
    found = forms.IntegerField(required=False, min_value=0, max_value=999, widget=Unseen)

    FIGURES = ("m_acute", "m_chronic", "limits", "ate", "unknown_acute")
    TICKS = ("non_additive", "unknown_aquatic")

    def __init__(self, *arguments, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        # A box as long as what stands in it, so that no class is out of sight.
        lines = str(self["classes"].value() or "").count("\n") + 1
        self.fields["classes"].widget.attrs["rows"] = min(max(lines, 2), 12)

    def full_clean(self) -> None:
        super().full_clean()
        # What is taken out or empty need not be right.
        if self.is_bound and self.no_row:
            self._errors.clear()

    @property
    def no_row(self) -> bool:
        typed = self.typed()
        return bool(typed["gone"]) or drafts.is_empty(typed)

    @property
    def figures(self) -> list:
        return [self[name] for name in self.FIGURES]

    @property
    def ticks(self) -> list:
        return [self[name] for name in self.TICKS]

    @property
    def more_open(self) -> bool:
        return any(field.value() or field.errors for field in (*self.figures, *self.ticks))

    def typed(self) -> dict:
        """Return the row as it stands in its boxes."""
        names = (*drafts.TEXTS, *drafts.TICKS, "gone", "found")
        values = {name: self[name].value() for name in names}
        found = values["found"]
        values["found"] = int(found) if str(found or "").isdigit() or found == 0 else None
        for name in drafts.TEXTS:
            values[name] = str(values[name] or "")
        return values

    def row(self) -> Row:
        """Return what was read; call it on a valid form that is a row."""
        return drafts.row_from(self.cleaned_data, self.typed())


class _Rows(forms.BaseFormSet):
    def rows(self) -> list[Row]:
        return [form.row() for form in self.forms if not form.no_row]

    def typed(self) -> list[dict]:
        kept = [form.typed() for form in self.forms if not form.no_row]
        return [{name: value for name, value in row.items() if name != "gone"} for row in kept]


RowSet = forms.formset_factory(
    RowForm,
    formset=_Rows,
    extra=0,
    max_num=keeping.MOST_ROWS,
    absolute_max=keeping.MOST_ROWS + 20,
)
PREFIX = "rows"


class Sheet:
    """Head and rows of one draft as one thing: bound to what was sent, or begun from text."""

    def __init__(
        self,
        *,
        item: Item,
        workshop,
        data: Mapping | None = None,
        typed: Mapping[str, object] | None = None,
        empty_rows: int = 0,
    ) -> None:
        told = {"workshop": workshop}
        if data is not None:
            self.head = HeadForm(data, item=item, **told)
            self.rows = RowSet(data, prefix=PREFIX, form_kwargs=told)
            return
        typed = typed or {}
        rows: Sequence[Mapping] = [*typed.get("rows", []), *({} for _ in range(empty_rows))]
        self.head = HeadForm(item=item, initial=typed.get("head") or None, **told)
        self.rows = RowSet(prefix=PREFIX, form_kwargs=told, initial=[dict(row) for row in rows])

    def is_valid(self) -> bool:
        good = self.head.is_valid()
        return self.rows.is_valid() and good

    def typed(self) -> dict:
        """Return everything as it was typed, readable or not; JSON can hold it."""
        fields = self.head.fields
        return {
            "head": {name: _plain(self.head[name].value()) for name in fields},
            "rows": self.rows.typed(),
        }


def _plain(value: object) -> object:
    return value if isinstance(value, bool) else str(value or "")


class WithdrawForm(WorkshopForm):
    reason = forms.CharField(
        label="Why it no longer counts", max_length=300, help_text="Stays on the record."
    )


def more_rows(data: Mapping, *, item: Item, workshop, more: int = 3) -> Sheet:
    """Return what was sent, not judged yet, with some empty rows more."""
    sent = Sheet(item=item, workshop=workshop, data=data)
    return Sheet(item=item, workshop=workshop, typed=sent.typed(), empty_rows=more)


def begun(draft: ItemComposition | None) -> dict:
    return dict(draft.typed) if draft else {}
