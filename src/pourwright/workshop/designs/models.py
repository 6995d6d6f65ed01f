"""Designs: a formula in a vessel with its wicks and everything else a finished candle takes."""

from django.db import models
from django.db.models import Q

from pourwright.workshop.formulas.models import FormulaVersion
from pourwright.workshop.stores.models import Item


class Design(models.Model):
    name = models.CharField(max_length=120, unique=True)
    label_name = models.CharField("name on the label", max_length=80, blank=True)
    candle = models.OneToOneField(Item, models.PROTECT, related_name="design")
    retired = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def current(self) -> "DesignVersion | None":
        return self.versions.order_by("-number").first()


class DesignVersion(models.Model):
    design = models.ForeignKey(Design, models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    formula_version = models.ForeignKey(FormulaVersion, models.PROTECT, related_name="designs")
    vessel = models.ForeignKey(Item, models.PROTECT, related_name="designs_in")
    wick = models.ForeignKey(Item, models.PROTECT, related_name="designs_with")
    wick_count = models.PositiveSmallIntegerField(default=1)
    trim_mm = models.DecimalField(max_digits=4, decimal_places=1, default=6)
    fill_mg = models.PositiveBigIntegerField("fill weight of wax and oil")
    declared = models.CharField(
        "net weight on the label", max_length=40, blank=True,
        help_text="As the label says it; empty: proposed from the fill weight.",
    )  # fmt: skip
    cure_days = models.PositiveSmallIntegerField(null=True, blank=True)
    best_before_months = models.PositiveSmallIntegerField(null=True, blank=True)
    minutes_each = models.DecimalField(
        "minutes of work a candle", max_digits=6, decimal_places=2, default=0
    )
    price_minor100 = models.PositiveBigIntegerField("price, direct", null=True, blank=True)
    wholesale_minor100 = models.PositiveBigIntegerField(null=True, blank=True)
    markets = models.CharField(max_length=40, blank=True, help_text="Empty: the workshop's.")
    note = models.CharField(max_length=200, blank=True)
    made_on = models.DateField()
    used = models.BooleanField(default=False, help_text="Poured: fixed for good.")

    class Meta:
        ordering = ["design", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["design", "number"], name="design_version_once"),
            models.CheckConstraint(
                condition=Q(wick_count__gte=1, wick_count__lte=10), name="one_to_ten_wicks"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.design.name} v{self.number}"


class Stage(models.TextChoices):
    POUR = "pour", "when poured"
    FINISH = "finish", "when finished"


class DesignPart(models.Model):
    """Wick tabs, adhesive, lids, boxes, labels: so much of an item for each candle."""

    version = models.ForeignKey(DesignVersion, models.CASCADE, related_name="parts")
    item = models.ForeignKey(Item, models.PROTECT, related_name="in_designs")
    qty = models.PositiveBigIntegerField(help_text="Pieces, or milligrams of what is weighed.")
    stage = models.CharField(max_length=6, choices=Stage, default=Stage.FINISH)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(qty__gt=0), name="part_positive"),
            models.UniqueConstraint(fields=["version", "item", "stage"], name="part_once"),
        ]

    def __str__(self) -> str:
        return f"{self.qty} × {self.item_id}"
