"""What the maker knows better than the tables, and the forecasts kept to be measured by."""

from django.db import models

from pourwright.workshop.burns.models import TestBurn
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.pours.models import Melter, Pour
from pourwright.workshop.stores.models import Item


class MaterialKind(models.Model):
    """Which tables an item goes by: one wax or vessel material, or several in equal parts."""

    item = models.OneToOneField(Item, models.CASCADE, related_name="heat_kind")
    kinds = models.CharField(max_length=60, help_text="Names of tables; comma between.")
    by = models.CharField("chosen by", max_length=80, blank=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.item_id}: {self.kinds}"


class MaterialOverride(models.Model):
    """
    The maker's own value of a material, with its source: of an item, of a melter, or of the flame.

    Never edited: the newest of a name counts, and one without a value goes back to the table.
    Values are in the core's units, which the names carry.
    """

    item = models.ForeignKey(
        Item, models.CASCADE, null=True, blank=True, related_name="heat_values"
    )
    melter = models.ForeignKey(
        Melter, models.CASCADE, null=True, blank=True, related_name="heat_values"
    )
    name = models.CharField(max_length=40)
    value = models.FloatField(null=True, blank=True)
    source = models.CharField(max_length=200)
    by = models.CharField("entered by", max_length=80, blank=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-id"]
        indexes = [models.Index(fields=["item", "name"], name="heat_value_by_item")]

    def __str__(self) -> str:
        return f"{self.name} {self.value}"


class ForecastKind(models.TextChoices):
    SET = "set", "setting"
    BURN = "burn", "burning"


class Forecast(models.Model):
    """
    What was foretold, before it was seen, and what was seen: the program's own score.

    ``inputs`` is everything that the core computed with, in its own units. ``values`` maps a name
    (``movable_h``, ``pool_mm 2.0``) to ``value``, ``low`` and ``high``, the ends that nine in ten
    readings should lie between; empty while a burn's are still being worked out. ``outcome`` maps
    the same names to what was recorded; what was read of a ``burn`` stands in the burn book.
    """

    version = models.ForeignKey(DesignVersion, models.PROTECT, related_name="forecasts")
    kind = models.CharField(max_length=4, choices=ForecastKind)
    pour = models.ForeignKey(Pour, models.PROTECT, null=True, blank=True, related_name="forecasts")
    burn = models.ForeignKey(
        TestBurn, models.PROTECT, null=True, blank=True, related_name="forecasts"
    )
    inputs = models.JSONField()
    values = models.JSONField(default=dict, blank=True)
    curve = models.JSONField(
        default=dict, blank=True, help_text="By name, a list of hours, value, low, high."
    )
    calibrated = models.BooleanField(default=False)
    basis = models.CharField("what it rests on", max_length=200, blank=True)
    by_hand = models.BooleanField(default=True)
    made_at = models.DateTimeField()
    outcome = models.JSONField(null=True, blank=True)
    outcome_note = models.CharField(max_length=200, blank=True)
    outcome_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        indexes = [models.Index(fields=["kind", "-id"], name="forecast_by_kind")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.version_id}"
