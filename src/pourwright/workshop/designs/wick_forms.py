"""What a placement and a jig are asked by: the two forms, both sent in the address."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from django import forms
from django.core.exceptions import ValidationError

from pourwright.core.amounts import show_length
from pourwright.core.errors import BadInput
from pourwright.papers.labels.sheets import PAPERS
from pourwright.workshop.designs.placing import Asked, Shape
from pourwright.workshop.house.fields import LengthField, WorkshopForm

LAYOUTS = [
    ("slices", "in the middles of equal slices"),
    ("smallest", "for the smallest reach"),
]
SHAPES = [
    ("", "round, as in the stores"),
    ("round", "round, another size"),
    ("oval", "oval"),
    ("square", "square"),
    ("rectangle", "rectangle"),
]
MM_PER_INCH = Decimal("25.4")
# Common practice, no source: as in the core, which is loaded only where wicks are placed.
LEAST_GAP_MM, LEAST_SPACING_MM = Decimal(12), Decimal(20)
MOST_APART_MM = 300
PLACING = ("layout", "gap_mm", "spacing_mm", "shape", "width_mm", "length_mm", "corner_mm")


class PlacingForm(WorkshopForm):
    """
    How wicks are placed, from what an address says.

    What it does not say is as the candle is drawn, under the usual least distances.
    """

    layout = forms.ChoiceField(
        label="Wicks stand", choices=LAYOUTS,
        help_text="Equal slices: a round vessel, as the candle is drawn.",
    )  # fmt: skip
    gap_mm = LengthField(label="Wick to wall, at least")
    spacing_mm = LengthField(label="Wick to wick, at least")
    shape = forms.ChoiceField(label="Inside, from above", choices=SHAPES, required=False)
    width_mm = LengthField(
        label="Inside width", required=False, help_text="The diameter of a round one."
    )
    length_mm = LengthField(
        label="Inside length", required=False, help_text="Of an oval or a rectangle."
    )
    corner_mm = LengthField(
        label="Corner’s radius", required=False, help_text="Of a square or a rectangle; or none."
    )

    OF_THE_SHAPE = ("shape", "width_mm", "length_mm", "corner_mm")

    def __init__(self, address, *, workshop) -> None:
        super().__init__(None, workshop=workshop)
        for name, least in (("gap_mm", LEAST_GAP_MM), ("spacing_mm", LEAST_SPACING_MM)):
            shown = show_length(Fraction(least), workshop.units)
            self.fields[name].help_text = f"{shown}: common practice."
        usual = {
            "layout": "slices",
            "gap_mm": self.fields["gap_mm"].prepare_value(LEAST_GAP_MM),
            "spacing_mm": self.fields["spacing_mm"].prepare_value(LEAST_SPACING_MM),
        }
        self.data = usual | address.dict()
        self.is_bound = True
        for field in self.fields.values():
            # The boxes stand beside the picture, outside of their form.
            field.widget.attrs["form"] = "placing"

    def first(self):
        return [self[name] for name in ("layout", "gap_mm", "spacing_mm")]

    def of_the_shape(self):
        return [self[name] for name in self.OF_THE_SHAPE]

    @property
    def shape_is_asked(self) -> bool:
        """Whether the part for another shape has something in it to see."""
        return any(self.data.get(name) for name in self.OF_THE_SHAPE)

    def _least(self, name: str) -> Decimal:
        given = self.cleaned_data[name]
        if given > MOST_APART_MM:
            shown, most = (
                show_length(Fraction(mm), self.workshop.units) for mm in (given, MOST_APART_MM)
            )
            raise ValidationError(f"{shown} was given; a least distance is 0 to {most}.")
        return given

    def clean_gap_mm(self) -> Decimal:
        return self._least("gap_mm")

    def clean_spacing_mm(self) -> Decimal:
        return self._least("spacing_mm")

    def clean(self):
        cleaned = super().clean()
        shape = cleaned.get("shape")
        if not shape or self.errors:
            return cleaned
        for name, wanted in (
            ("width_mm", True),
            ("length_mm", shape in ("oval", "rectangle")),
        ):
            if wanted and not cleaned.get(name):
                self.add_error(
                    name, f"{self.fields[name].label} is missing; measure inside, at the wax."
                )
        return cleaned

    def asked(self) -> Asked:
        given = self.cleaned_data
        return Asked(
            layout=given["layout"],
            gap_mm=float(given["gap_mm"]),
            spacing_mm=float(given["spacing_mm"]),
            shape=self._shape(),
        )

    def _shape(self) -> Shape | None:
        given = self.cleaned_data
        form = given["shape"]
        if not form:
            return None
        sided, cornered = form in ("oval", "rectangle"), form in ("square", "rectangle")
        return Shape(
            form=form,
            width_mm=float(given["width_mm"]),
            length_mm=float(given["length_mm"]) if sided else None,
            corner_mm=float(given["corner_mm"] or 0) if cornered else 0.0,
        )


class ReachForm(WorkshopForm):
    """How far a lone pool is taken to reach: a bare number, so that it can be slid."""

    reach = forms.DecimalField(
        required=False, max_digits=9, decimal_places=4,
        error_messages={"invalid": "Write the reach as a number, such as 30."},
    )  # fmt: skip

    def __init__(self, *arguments, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        unit = "in" if self.us else "mm"
        self.fields["reach"].label = f"Reach of a lone pool, {unit}"
        self.fields["reach"].widget = forms.TextInput(
            attrs={"inputmode": "decimal", "autocomplete": "off"}
        )

    @property
    def us(self) -> bool:
        return self.workshop.units == "us"

    def from_mm(self, mm: float) -> Decimal:
        """Return a length as the box shows it, rounded up so that a whole cover stays whole."""
        places = Decimal("0.01") if self.us else Decimal("0.1")
        shown = Decimal(mm) / (MM_PER_INCH if self.us else 1)
        return shown.quantize(places, rounding="ROUND_CEILING")

    def clean_reach(self) -> Decimal | None:
        """Return millimetres."""
        given = self.cleaned_data["reach"]
        if given is None:
            return None
        mm = given * MM_PER_INCH if self.us else given
        if not 0 < mm <= 1000:
            most = "39 in" if self.us else "1000 mm"
            raise ValidationError(
                f"A reach of {given:f} was given; it is more than 0 and up to {most}."
            )
        return mm


class JigForm(WorkshopForm):
    """What a jig is made to; the usual values are common practice, no source."""

    form = forms.ChoiceField(
        label="Jig",
        choices=[("bar", "wick bar, on the rim"), ("guide", "setting guide, on the floor")],
    )
    hole_mm = LengthField(label="Hole for the wick", help_text="Bar: the hole’s diameter.")
    tab_mm = LengthField(label="Wick tab", help_text="Guide: the tab’s diameter.")
    clearance_mm = LengthField(
        label="Clearance to the vessel", help_text="All round, to the rim’s inside or the floor’s."
    )
    thickness_mm = LengthField(label="Material, thick")
    lip_mm = LengthField(label="Lip, deep", help_text="Bar: how far it reaches into the vessel.")
    kerf_mm = LengthField(
        label="Tool’s kerf", help_text="The width of the laser’s or saw’s cut; 0 for none."
    )
    slots = forms.BooleanField(
        label="Holes open to the side", required=False,
        help_text="Bar: it comes off by a turn where wicks are held fast.",
    )  # fmt: skip
    paper = forms.ChoiceField(choices=[(name, name) for name in PAPERS])

    LENGTHS = ("hole_mm", "tab_mm", "clearance_mm", "thickness_mm", "lip_mm", "kerf_mm")
    # Which measure to blame where a jig cannot be made: the first that cures it when eased so far.
    EASED = {
        "bar": (("lip_mm", 0.2), ("hole_mm", 0.5), ("clearance_mm", 0.0)),
        "guide": (("tab_mm", 3.0), ("clearance_mm", 0.0)),
    }

    def __init__(self, address, *, workshop) -> None:
        """Read an address; what it does not say is as usual."""
        from pourwright.core.wicks.jigs import Fit

        super().__init__(None, workshop=workshop)
        usual = Fit()
        lengths = {
            name: self.fields[name].prepare_value(Decimal(str(getattr(usual, name))))
            for name in self.LENGTHS
        }
        paper = "US Letter" if workshop.units == "us" else "A4"
        self.data = {"form": "bar", "paper": paper, **lengths, **address.dict()}
        self.is_bound = True

    def clean(self):
        from pourwright.core.wicks.jigs import Fit

        cleaned = super().clean()
        for name in self.LENGTHS:
            if cleaned.get(name) is not None:
                try:
                    Fit(**{name: float(cleaned[name])})
                except BadInput as problem:
                    self.add_error(name, str(problem))
        if not self.errors:
            try:
                self.fit()
            except BadInput as problem:
                self.add_error("kerf_mm", str(problem))
        return cleaned

    def fit(self):
        """Return the jig's measures; raises BadJig."""
        from pourwright.core.wicks.jigs import Fit

        given = self.cleaned_data
        return Fit(**{name: float(given[name]) for name in self.LENGTHS}, slots=given["slots"])

    def jig(self, positions, inside):
        """Return the jig, or None with what cannot be made told beside the field that cures it."""
        from pourwright.core.wicks.jigs import BadJig, jig_for

        kind, fit = self.cleaned_data["form"], self.fit()
        try:
            return jig_for(kind, positions, inside, fit=fit)
        except BadJig as problem:
            for name, least in self.EASED[kind]:
                try:
                    jig_for(kind, positions, inside, fit=replace(fit, **{name: least}, kerf_mm=0.0))
                except BadJig:
                    continue
                self.add_error(name, str(problem))
                return None
            self.add_error(None, str(problem))
            return None
