"""
How a design's labels look, what they are printed on, and what was printed.

Lengths are millimetres. An empty one is proposed from the vessel when the label is composed, so
that a vessel that is measured anew needs nothing typed again.
"""

from django.db import models
from django.db.models import Q

from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.stores.models import Lot


def _mm(words: str, **more) -> models.DecimalField:
    return models.DecimalField(words, max_digits=6, decimal_places=2, null=True, blank=True, **more)


class Art(models.Model):
    """
    A maker's picture as it is printed, known by what is in it: the same one is kept once.

    ``content`` is PNG or JPEG; an SVG was drawn when it came. It stands in the database, so that
    every backup carries it.
    """

    sha256 = models.CharField("SHA-256 of the picture", max_length=64, unique=True)
    name = models.CharField("the file's name", max_length=120)
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    content = models.BinaryField()
    added_at = models.DateTimeField()

    class Meta:
        ordering = ["-added_at"]

    def __str__(self) -> str:
        return self.name


class Carrier(models.TextChoices):
    WRAP = "wrap", "on the wrap itself"
    FOLD = "fold", "inside a label that folds out"
    TAG = "tag", "on a tag that is tied on"


class ArtPlace(models.TextChoices):
    ABOVE = "above", "above the name"
    BEHIND = "behind", "behind the front"


class LabelLook(models.Model):
    """How the labels of one design look. One row a design; what was printed is kept apart."""

    design = models.OneToOneField(Design, models.CASCADE, related_name="label_look")
    ground = models.CharField(max_length=7, default="#ffffff")
    ink = models.CharField(max_length=7, default="#1a1714")
    brand = models.CharField("line at the head of the front", max_length=60, blank=True)
    art = models.ForeignKey(Art, models.PROTECT, null=True, blank=True, related_name="looks")
    art_place = models.CharField(max_length=6, choices=ArtPlace, default=ArtPlace.ABOVE)
    identity = models.CharField("what it is", max_length=60, blank=True)
    language = models.CharField(max_length=8, default="en")

    outside_mm = _mm("outside diameter")
    side_mm = _mm("height of the side")
    height_mm = _mm("height of the label")
    foot_mm = _mm("the label begins above the vessel's foot")
    overlap_mm = models.DecimalField("overlap", max_digits=5, decimal_places=2, default=6)
    bleed_mm = models.DecimalField("bleed", max_digits=4, decimal_places=2, default=2)

    carrier = models.CharField("the full text stands", max_length=4, choices=Carrier,
                               default=Carrier.WRAP)  # fmt: skip
    on_base = models.CharField(
        max_length=80, blank=True, default="fire,lot",
        help_text="Of fire, symbols, lot, business; comma between.",
    )  # fmt: skip
    base_mm = _mm("diameter of the base label")
    lid_mm = _mm("diameter of the lid's disc")
    fold_width_mm = _mm("width of the fold-out")
    tag_width_mm = models.DecimalField(max_digits=6, decimal_places=2, default=70)
    tag_height_mm = models.DecimalField(max_digits=6, decimal_places=2, default=120)
    carton_width_mm = models.DecimalField(max_digits=6, decimal_places=2, default=148)
    carton_height_mm = models.DecimalField(max_digits=6, decimal_places=2, default=105)
    carton_holds = models.PositiveSmallIntegerField("candles in a carton", default=6)

    article_number = models.CharField("article number (GTIN)", max_length=14, blank=True)
    web_page = models.CharField("web page for the square code", max_length=300, blank=True)
    metal_core = models.BooleanField("the wick has a metal core", default=False)
    in_a_box = models.BooleanField("sold in a box that carries the hazard text too", default=False)
    pictogram_mm = _mm("side of the hazard pictograms")
    small_pack = models.BooleanField("leave out what a small pack may leave out", default=False)
    us_precautions = models.TextField(blank=True)

    class Meta:
        ordering = ["design"]

    def __str__(self) -> str:
        return f"the look of {self.design}"


class PaperSize(models.TextChoices):
    A4 = "A4", "A4"
    LETTER = "US Letter", "US Letter"
    A3 = "A3", "A3"
    LEDGER = "US Ledger", "US Ledger"


class SheetSize(models.Model):
    """A sheet of labels that the maker measured: one row a geometry, named by its measures."""

    paper = models.CharField(max_length=12, choices=PaperSize, default=PaperSize.A4)
    columns = models.PositiveSmallIntegerField()
    rows = models.PositiveSmallIntegerField()
    width_mm = models.DecimalField("label's width", max_digits=6, decimal_places=2)
    height_mm = models.DecimalField("label's height", max_digits=6, decimal_places=2)
    left_mm = models.DecimalField("left margin", max_digits=6, decimal_places=2)
    top_mm = models.DecimalField("top margin", max_digits=6, decimal_places=2)
    across_mm = models.DecimalField("pitch across", max_digits=6, decimal_places=2)
    down_mm = models.DecimalField("pitch down", max_digits=6, decimal_places=2)
    round = models.BooleanField("round labels", default=False)
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["paper", "columns", "rows"]

    def __str__(self) -> str:
        return f"{self.paper}, {self.columns} × {self.rows}"


class Printer(models.Model):
    """A printer, and how far it prints too far left and too high (mm; less than 0: the other)."""

    name = models.CharField(max_length=60, unique=True)
    dx_mm = models.DecimalField("too far left", max_digits=5, decimal_places=2, default=0)
    dy_mm = models.DecimalField("too high", max_digits=5, decimal_places=2, default=0)
    measured_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(dx_mm__gte=-20, dx_mm__lte=20, dy_mm__gte=-20, dy_mm__lte=20),
                name="printer_offset_small",
            )
        ]

    def __str__(self) -> str:
        return self.name


class LabelPrint(models.Model):
    """
    One face of a lot's labels, printed so many times: never edited.

    ``says`` is the text that stood on it, so that a recall knows what a candle's label told.
    """

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="label_prints")
    version = models.ForeignKey(DesignVersion, models.PROTECT, related_name="label_prints")
    face = models.CharField(max_length=12)
    number = models.PositiveIntegerField("how many")
    sheet = models.CharField(max_length=80)
    start = models.PositiveSmallIntegerField(default=1)
    draft = models.BooleanField(default=False)
    says = models.TextField(blank=True)
    client_id = models.UUIDField(null=True, blank=True, db_index=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["client_id", "face"], condition=Q(client_id__isnull=False),
                name="label_print_once",
            )
        ]  # fmt: skip

    def __str__(self) -> str:
        return f"{self.number} × {self.face} of {self.lot_id}"
