"""A label's look, a sheet's measures, a printer's offset, and what to print."""

from __future__ import annotations

from decimal import Decimal

from django import forms
from django.core.exceptions import ValidationError

from pourwright.core.labelling.codes import article_number
from pourwright.core.labelling.texts import languages, texts
from pourwright.papers.labels.sheets import BadSheet
from pourwright.papers.labels.style import LEAST_CONTRAST, contrast, rgb
from pourwright.workshop.house.doors import EntryId, refusals
from pourwright.workshop.house.fields import LengthField, WorkshopForm, WorkshopModelForm
from pourwright.workshop.labels import services
from pourwright.workshop.labels.composing import ON_BASE, LabelSet
from pourwright.workshop.labels.measures import PROPOSED
from pourwright.workshop.labels.models import LabelLook, Printer, SheetSize

COLOUR = forms.TextInput(attrs={"type": "color"})
BASE_CHOICES = (
    ("fire", "Fire-safety warnings"),
    ("lot", "Lot"),
    ("business", "Maker and address"),
)
assert {key for key, _ in BASE_CHOICES} == set(ON_BASE)


def _mm(label: str, *, required: bool = False, help_text: str = "") -> LengthField:
    return LengthField(label=label, required=required, help_text=help_text)


class LookForm(WorkshopModelForm):
    """How a design's labels look. Empty measures are proposed from the vessel."""

    language = forms.ChoiceField(label="Language of the fixed texts")
    outside_mm = _mm("Vessel’s outside diameter", help_text="Where the label sits.")
    side_mm = _mm("Height of the vessel’s side", help_text="Straight side, without neck and lid.")
    height_mm = _mm("Height of the label")
    foot_mm = _mm("Begins above the vessel’s foot")
    overlap_mm = _mm("Overlap at the seam", required=True)
    bleed_mm = _mm("Bleed", required=True, help_text="How far colour runs beyond the cut.")
    on_base = forms.MultipleChoiceField(
        label="On the base", choices=BASE_CHOICES, required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="What stands there is left off the side. Hazard text never stands on the base "
        "alone.",
    )  # fmt: skip
    base_mm = _mm("Diameter of the base label")
    lid_mm = _mm("Diameter of the lid’s disc")
    fold_width_mm = _mm("Width of the fold-out")
    tag_width_mm = _mm("Tag, width", required=True)
    tag_height_mm = _mm("Tag, height", required=True)
    carton_width_mm = _mm("Carton label, width", required=True)
    carton_height_mm = _mm("Carton label, height", required=True)
    pictogram_mm = _mm(
        "Side of the hazard pictograms", help_text="Empty: the size that the rules aim at."
    )
    us_precautions = forms.CharField(
        label="Precautions and first aid, in your words", required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Only for what a list of the United States names: what to do or avoid, and what "
        "helps.",
    )  # fmt: skip

    GROUPS = (
        ("The look", ("ground", "ink", "brand", "identity", "art_place", "language")),
        ("The vessel and the label on it",
         ("outside_mm", "side_mm", "height_mm", "foot_mm", "overlap_mm", "bleed_mm")),
        ("Where the text stands",
         ("carrier", "on_base", "base_mm", "lid_mm", "fold_width_mm", "tag_width_mm",
          "tag_height_mm", "carton_width_mm", "carton_height_mm", "carton_holds")),
        ("What it says besides",
         ("article_number", "web_page", "metal_core", "in_a_box", "small_pack", "pictogram_mm",
          "us_precautions")),
    )  # fmt: skip

    class Meta:
        model = LabelLook
        fields = (
            "ground", "ink", "brand", "identity", "art_place", "language", "outside_mm", "side_mm",
            "height_mm", "foot_mm", "overlap_mm", "bleed_mm", "carrier", "on_base", "base_mm",
            "lid_mm", "fold_width_mm", "tag_width_mm", "tag_height_mm", "carton_width_mm",
            "carton_height_mm", "carton_holds", "article_number", "web_page", "metal_core",
            "in_a_box", "small_pack", "pictogram_mm", "us_precautions",
        )  # fmt: skip
        labels = {
            "ground": "Ground", "ink": "Ink", "brand": "Line at the head of the front",
            "identity": "What it is", "art_place": "The picture stands",
            "carrier": "The full text stands", "carton_holds": "Candles in a carton",
            "article_number": "Article number (GTIN)", "web_page": "Web page for the square code",
            "metal_core": "The wick has a metal core",
            "in_a_box": "Sold in a box that carries the hazard text too",
            "small_pack": "Leave out what a small pack may leave out",
        }  # fmt: skip
        help_texts = {
            "identity": "Empty: “Scented candle”, or “Candle” without oil.",
            "article_number": "12 or 13 digits of your own; the last one is checked.",
            "small_pack": "Up to 125 ml, and only what the rule lets go; the checklist shows it.",
        }
        widgets = {"ground": COLOUR, "ink": COLOUR}

    def __init__(self, *arguments, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["language"].choices = [(code, texts(code).language) for code in languages()]
        self.initial["on_base"] = [key for key in self.instance.on_base.split(",") if key]

    def groups(self):
        """Return each group's title with its fields, for the page."""
        return [(title, [self[name] for name in names]) for title, names in self.GROUPS]

    def propose(self, labels: LabelSet) -> None:
        """Show in each empty measure what is taken instead."""
        for name in PROPOSED:
            value = getattr(labels.measures, name)
            field = self.fields[name]
            if value is not None and name in labels.measures.proposed:
                field.widget.attrs["placeholder"] = field.show(Decimal(str(round(value, 1))))

    def clean_on_base(self) -> str:
        chosen = self.cleaned_data["on_base"]
        return ",".join(key for key, _ in BASE_CHOICES if key in chosen)

    def clean_article_number(self) -> str:
        given = self.cleaned_data["article_number"].strip()
        if not given:
            return ""
        with refusals(self, "article_number"):
            found = article_number(given)
            if len(found.digits) not in (12, 13):
                raise ValidationError("A bar code for tills is made of 12 or 13 digits.")
            return found.digits
        return given

    def clean_web_page(self) -> str:
        given = self.cleaned_data["web_page"].strip()
        if given and not given.startswith(("https://", "http://")):
            raise ValidationError(
                f"“{given}” is no web address; it begins with https:// or http://."
            )
        return given

    def clean(self):
        cleaned = super().clean()
        for name in ("overlap_mm", "bleed_mm", "foot_mm"):
            if (cleaned.get(name) or 0) < 0 or (cleaned.get(name) or 0) > 40:
                self.add_error(name, "This is from 0 to 40 mm.")
        for name in (*PROPOSED, "tag_width_mm", "tag_height_mm", "carton_width_mm",
                     "carton_height_mm", "pictogram_mm"):  # fmt: skip
            given = cleaned.get(name)
            if name != "foot_mm" and given is not None and not 4 <= given <= 600:
                self.add_error(name, "This is from 4 to 600 mm.")
        if not self.errors:
            with refusals(self, "ink"):
                found = contrast(rgb(cleaned["ink"]), rgb(cleaned["ground"]))
                if found < LEAST_CONTRAST:
                    self.add_error("ink", (
                        f"On this ground the ink has a contrast of {found:.1f} to 1; what must be "
                        f"read wants {LEAST_CONTRAST:g} to 1. Take a darker or a lighter one."
                    ))  # fmt: skip
        return cleaned


class ArtForm(forms.Form):
    art = forms.FileField(
        label="Picture (PNG, JPEG or SVG)",
        widget=forms.FileInput(attrs={"accept": ".png,.jpg,.jpeg,.svg"}),
    )


class PrintForm(WorkshopForm):
    """Which labels of a lot, on what, how many."""

    faces = forms.MultipleChoiceField(label="Labels", widget=forms.CheckboxSelectMultiple)
    sheet = forms.ChoiceField(
        label="On", help_text="Sheets are named by their measures; enter yours if none fits."
    )
    number = forms.IntegerField(label="How many of each", min_value=1, max_value=2000)
    start = forms.IntegerField(
        label="Begin at place", min_value=1, initial=1,
        help_text="On a sheet that was begun: counted row by row.",
    )  # fmt: skip
    printer = forms.ModelChoiceField(
        Printer.objects.none(), label="Printer", required=False, empty_label="no offset"
    )
    cut = forms.BooleanField(label="Marks to cut by", required=False)
    serial = forms.BooleanField(label="Number each label within the lot", required=False)
    draft = forms.BooleanField(
        label="A draft to look at: DRAFT is printed across each", required=False
    )
    client_id = EntryId()

    def __init__(self, *arguments, labels: LabelSet, **keywords) -> None:
        super().__init__(*arguments, **keywords)
        self.fields["faces"].choices = [
            (face.key, f"{face.title}, {face.size}") for face in labels.faces if not face.problem
        ]
        self.fields["sheet"].choices = services.sheet_choices()
        self.fields["printer"].queryset = Printer.objects.all()

    @property
    def printing(self) -> services.Printing:
        given = {k: v for k, v in self.cleaned_data.items() if k != "client_id"}
        return services.Printing(**given)


class SheetForm(WorkshopModelForm):
    width_mm = _mm("Width of a label", required=True)
    height_mm = _mm("Height of a label", required=True)
    left_mm = _mm("Left margin", required=True, help_text="From the paper’s edge to the first.")
    top_mm = _mm("Top margin", required=True)
    across_mm = _mm("Pitch across", required=True,
                    help_text="From one label’s left edge to the next one’s.")  # fmt: skip
    down_mm = _mm("Pitch down", required=True)

    class Meta:
        model = SheetSize
        fields = (
            "paper", "columns", "rows", "width_mm", "height_mm", "left_mm", "top_mm", "across_mm",
            "down_mm", "round", "note",
        )  # fmt: skip

    def clean(self):
        cleaned = super().clean()
        if not self.errors:
            for name, value in cleaned.items():
                setattr(self.instance, name, value)
            try:
                services.as_sheet(self.instance)
            except BadSheet as problem:
                self.add_error(None, str(problem))
        return cleaned


class PrinterForm(WorkshopModelForm):
    class Meta:
        model = Printer
        fields = ("name", "dx_mm", "dy_mm")
        labels = {"dx_mm": "Prints too far left by, mm", "dy_mm": "Prints too high by, mm"}
        help_texts = {
            "dx_mm": "Less than 0 where it prints too far right.",
            "dy_mm": "Less than 0 where it prints too low.",
        }
