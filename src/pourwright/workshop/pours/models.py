"""
Pours: one melt of wax, drawn off into pitchers, each scented and poured into vessels.

A melt of one formula is a pour with one pitcher (which may be the melter itself). While a pour is
open its weighings are recorded one by one; closing it moves the stock and makes the lots.
"""

from django.db import models
from django.db.models import Q

from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.formulas.models import FormulaVersion
from pourwright.workshop.stores.models import Entry, Item, Lot


class Melter(models.Model):
    name = models.CharField(max_length=80, unique=True)
    capacity_mg = models.PositiveBigIntegerField("usable capacity by mass", null=True, blank=True)
    capacity_ml = models.DecimalField(
        "usable capacity by volume", max_digits=9, decimal_places=1, null=True, blank=True
    )
    power_w = models.PositiveIntegerField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    retired = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class PourState(models.TextChoices):
    PLANNED = "planned", "planned"
    OPEN = "open", "at the bench"
    CLOSED = "closed", "closed"
    ABANDONED = "abandoned", "abandoned"


class Pour(models.Model):
    number = models.CharField(max_length=20, unique=True)
    state = models.CharField(max_length=9, choices=PourState, default=PourState.PLANNED)
    on = models.DateField("poured on")
    melter = models.ForeignKey(Melter, models.PROTECT, null=True, blank=True, related_name="pours")
    scale_division_mg = models.PositiveBigIntegerField()
    loss_pct = models.DecimalField(max_digits=5, decimal_places=2)
    opened_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    minutes = models.DecimalField(
        "minutes of work in all", max_digits=7, decimal_places=1, null=True, blank=True
    )
    room_c = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    note = models.TextField(blank=True)
    entry = models.OneToOneField(Entry, models.PROTECT, null=True, blank=True, related_name="pour")
    client_id = models.UUIDField(null=True, blank=True, unique=True)

    class Meta:
        ordering = ["-on", "-id"]
        indexes = [
            models.Index(fields=["-on", "-id"], name="pour_newest_first"),
            models.Index(fields=["state", "on"], name="pour_by_state"),
        ]

    def __str__(self) -> str:
        return self.number


class Pitcher(models.Model):
    """One formula's share of the melt. Without a formula it is plain wax."""

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="pitchers")
    position = models.PositiveSmallIntegerField()
    formula_version = models.ForeignKey(
        FormulaVersion, models.PROTECT, null=True, blank=True, related_name="pitchers"
    )
    wax_mg = models.PositiveBigIntegerField("wax to draw off")
    wax_drawn_mg = models.PositiveBigIntegerField("wax drawn off", null=True, blank=True)
    mix_mg = models.PositiveBigIntegerField("mix wanted")
    left_mg = models.PositiveBigIntegerField("mix left over, kept", null=True, blank=True)
    left_lot = models.OneToOneField(
        Lot, models.PROTECT, null=True, blank=True, related_name="left_by_pitcher"
    )

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["pour", "position"], name="pitcher_position_once")
        ]

    def __str__(self) -> str:
        return f"{self.pour_id}/{self.position}"


class Filling(models.Model):
    """One design poured from one pitcher: how many were wanted, and what came of it."""

    pitcher = models.ForeignKey(Pitcher, models.PROTECT, related_name="fillings")
    design_version = models.ForeignKey(DesignVersion, models.PROTECT, related_name="fillings")
    wanted = models.PositiveIntegerField()
    good = models.PositiveIntegerField(null=True, blank=True)
    seconds = models.PositiveIntegerField(null=True, blank=True)
    scrapped = models.PositiveIntegerField(null=True, blank=True)
    fill_mg = models.PositiveBigIntegerField("fill weight each", null=True, blank=True)
    lot = models.OneToOneField(Lot, models.PROTECT, null=True, blank=True, related_name="filling")
    seconds_lot = models.OneToOneField(
        Lot, models.PROTECT, null=True, blank=True, related_name="seconds_of"
    )

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(wanted__gt=0), name="filling_wanted_positive")
        ]

    def __str__(self) -> str:
        return f"{self.wanted} × {self.design_version_id}"


class Use(models.TextChoices):
    WAX = "wax", "wax"
    REMELT = "remelt", "mix melted again"
    OIL = "oil", "fragrance oil"
    EXTRA = "extra", "dye or additive"
    PIECE = "piece", "vessel, wick or part"


class Take(models.Model):
    """
    What the pour takes from one lot: planned at first, then as it was really weighed.

    Wax is taken for the whole melt (``pitcher`` empty), the rest for a pitcher; pieces for a
    filling. ``target`` and ``actual`` are milligrams or pieces, as the item is measured.
    """

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="takes")
    pitcher = models.ForeignKey(
        Pitcher, models.PROTECT, null=True, blank=True, related_name="takes"
    )
    filling = models.ForeignKey(
        Filling, models.PROTECT, null=True, blank=True, related_name="takes"
    )
    use = models.CharField(max_length=6, choices=Use)
    item = models.ForeignKey(Item, models.PROTECT, related_name="+")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="takes")
    position = models.PositiveSmallIntegerField()
    target = models.PositiveBigIntegerField()
    tolerance = models.PositiveBigIntegerField(default=0)
    actual = models.PositiveBigIntegerField(null=True, blank=True)
    weighed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["position", "id"]

    def __str__(self) -> str:
        return f"{self.target} of {self.item_id}"


class Weighing(models.Model):
    """
    One weight as it was entered at the bench; the newest of a take is its ``actual``.

    Kept one by one, so that a correction leaves a trace and an entry that a phone sends again,
    however late, is known by its own id.
    """

    take = models.ForeignKey(Take, models.CASCADE, related_name="weighings")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="+")
    actual = models.PositiveBigIntegerField()
    at = models.DateTimeField()
    client_id = models.UUIDField(null=True, blank=True, unique=True)

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.actual} for {self.take_id}"


class Step(models.TextChoices):
    ROOM = "room", "room"
    MELT = "melt", "wax melted"
    ADD = "add", "oil added"
    STIR = "stir", "stirred"
    POUR = "pour", "poured"
    SET = "set", "set"


class Reading(models.Model):
    """A temperature and the time at which a step really happened."""

    pour = models.ForeignKey(Pour, models.PROTECT, related_name="readings")
    pitcher = models.ForeignKey(
        Pitcher, models.PROTECT, null=True, blank=True, related_name="readings"
    )
    step = models.CharField(max_length=4, choices=Step)
    temp_c = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    minutes = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    at = models.DateTimeField()
    note = models.CharField(max_length=200, blank=True)
    client_id = models.UUIDField(null=True, blank=True, unique=True)

    class Meta:
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return f"{self.step} {self.temp_c}"


class LotCost(models.Model):
    """What went into a lot, by component: the picture of its cost. The sum is its value."""

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="costs")
    component = models.CharField(max_length=12)
    value = models.PositiveBigIntegerField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["lot", "component"], name="cost_component_once")
        ]

    def __str__(self) -> str:
        return f"{self.lot_id} {self.component}: {self.value}"
