"""
What the workshop holds: items, the lots they came in, and the ledger of every move.

Quantities are whole milligrams or whole pieces, as ``Item.measure`` says; values are whole
hundredths of the currency's minor unit.
"""

from django.db import models
from django.db.models import F, Q


class Kind(models.TextChoices):
    WAX = "wax", "wax"
    OIL = "oil", "fragrance oil"
    DYE = "dye", "dye"
    ADDITIVE = "additive", "additive"
    VESSEL = "vessel", "vessel"
    WICK = "wick", "wick"
    PART = "part", "part or packaging"
    MIX = "mix", "scented mix"
    CANDLE = "candle", "finished candle"


# What a maker buys in; the others are made here.
SUPPLY_KINDS = (Kind.WAX, Kind.OIL, Kind.DYE, Kind.ADDITIVE, Kind.VESSEL, Kind.WICK, Kind.PART)
LOT_PREFIX = {
    Kind.WAX: "W",
    Kind.OIL: "O",
    Kind.DYE: "D",
    Kind.ADDITIVE: "A",
    Kind.VESSEL: "V",
    Kind.WICK: "K",
    Kind.PART: "P",
    Kind.MIX: "M",
    Kind.CANDLE: "L",
}


class Measure(models.TextChoices):
    MASS = "mass", "by weight"
    COUNT = "count", "by the piece"


class Basis(models.TextChoices):
    OF_WAX = "wax", "of the wax"
    OF_WHOLE = "whole", "of the whole"


class Supplier(models.Model):
    name = models.CharField(max_length=120, unique=True)
    contact = models.CharField(max_length=200, blank=True)
    email = models.EmailField(blank=True)
    website = models.CharField(max_length=200, blank=True)
    address = models.TextField(blank=True)
    lead_days = models.PositiveSmallIntegerField("usual days to arrive", null=True, blank=True)
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Item(models.Model):
    """Anything that can be in stock, bought in or made here."""

    kind = models.CharField(max_length=8, choices=Kind)
    name = models.CharField(max_length=120)
    measure = models.CharField(max_length=5, choices=Measure)
    supplier = models.ForeignKey(
        Supplier, models.PROTECT, null=True, blank=True, related_name="items"
    )
    supplier_ref = models.CharField("supplier's number for it", max_length=80, blank=True)
    reorder_below = models.PositiveBigIntegerField(
        null=True, blank=True, help_text="Milligrams or pieces; Today says when it is reached."
    )
    piece_mg = models.PositiveBigIntegerField(
        "mass of one piece", null=True, blank=True, help_text="To spread freight by weight."
    )
    notes = models.TextField(blank=True)
    retired = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "name"], name="item_name_once_in_its_kind")
        ]
        indexes = [models.Index(fields=["name"], name="item_by_name")]

    def __str__(self) -> str:
        return self.name

    @property
    def by_mass(self) -> bool:
        return self.measure == Measure.MASS


class WaxFacts(models.Model):
    """What is known of a wax. ``figures_from`` says whose word the figures are."""

    item = models.OneToOneField(Item, models.CASCADE, related_name="wax")
    max_load_pct = models.DecimalField(max_digits=6, decimal_places=3, null=True, blank=True)
    max_load_basis = models.CharField(max_length=5, choices=Basis, default=Basis.OF_WAX)
    density_cold_g_ml = models.DecimalField(max_digits=5, decimal_places=4, null=True, blank=True)
    density_liquid_g_ml = models.DecimalField(max_digits=5, decimal_places=4, null=True, blank=True)
    melt_to_c = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    add_at_c = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    pour_at_c = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    never_above_c = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    set_hours = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    cure_days = models.PositiveSmallIntegerField(null=True, blank=True)
    figures_from = models.CharField(max_length=200, blank=True)
    revision = models.CharField("supplier's revision", max_length=40, blank=True)

    def __str__(self) -> str:
        return f"facts of {self.item_id}"


class OilFacts(models.Model):
    item = models.OneToOneField(Item, models.CASCADE, related_name="oil")
    flash_point_c = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    density_g_ml = models.DecimalField(max_digits=5, decimal_places=4, null=True, blank=True)
    max_pct_of_whole = models.DecimalField(
        "safety limit, % of the whole", max_digits=6, decimal_places=3, null=True, blank=True
    )
    limit_from = models.CharField("the limit's source", max_length=200, blank=True)
    sheet_date = models.DateField("date of the safety sheet", null=True, blank=True)
    sheet_revision = models.CharField(max_length=40, blank=True)

    def __str__(self) -> str:
        return f"facts of {self.item_id}"


class Shape(models.TextChoices):
    STRAIGHT = "straight", "straight-sided"
    TAPERED = "tapered", "tapered"
    WATER = "water", "measured by water"


class Material(models.TextChoices):
    GLASS = "glass", "glass"
    CERAMIC = "ceramic", "ceramic"
    METAL = "metal", "metal"
    CONCRETE = "concrete", "concrete"
    OTHER = "other", "other"


class VesselFacts(models.Model):
    """
    A vessel's inside, and the evidence that it may hold a flame.

    ``inside_mm`` is the inside diameter at the base; ``top_inside_mm`` at the brim of a tapered
    one. ``brim_ml`` is what was measured by water. ``water_marks`` are pairs of height (mm) and
    the volume below it (ml), as text, lowest first, for a vessel filled with water step by step.
    """

    item = models.OneToOneField(Item, models.CASCADE, related_name="vessel")
    shape = models.CharField(max_length=8, choices=Shape, default=Shape.STRAIGHT)
    material = models.CharField(max_length=8, choices=Material, default=Material.GLASS)
    inside_mm = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    top_inside_mm = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    depth_mm = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    brim_ml = models.DecimalField(max_digits=9, decimal_places=3, null=True, blank=True)
    water_marks = models.JSONField(default=list, blank=True)
    wall_mm = models.DecimalField(max_digits=5, decimal_places=2, default=3)
    base_mm = models.DecimalField(max_digits=5, decimal_places=2, default=5)
    fit_for_candles = models.CharField(
        "supplier's statement that it is fit for candles", max_length=200, blank=True
    )
    shock_statement = models.CharField(
        "supplier's statement on thermal shock and annealing", max_length=200, blank=True
    )
    leak_tested_on = models.DateField(null=True, blank=True)
    revision = models.CharField("supplier's revision", max_length=40, blank=True)

    def __str__(self) -> str:
        return f"inside of {self.item_id}"


class WickFacts(models.Model):
    item = models.OneToOneField(Item, models.CASCADE, related_name="wick")
    series = models.CharField(max_length=80, blank=True)
    size = models.CharField(max_length=40, blank=True)
    core = models.CharField(max_length=40, default="cotton")
    length_mm = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    burn_rate_g_h = models.DecimalField(
        "wax burnt an hour, by the supplier's chart",
        max_digits=6, decimal_places=3, null=True, blank=True,
    )  # fmt: skip
    revision = models.CharField("supplier's revision", max_length=40, blank=True)
    lead_free = models.CharField(
        "supplier's statement that the core is free of lead", max_length=200, blank=True
    )

    def __str__(self) -> str:
        return f"facts of {self.item_id}"


# --- lots and the ledger -------------------------------------------------------------------------


class Origin(models.TextChoices):
    RECEIPT = "receipt", "received"
    OPENING = "opening", "there when the books began"
    POUR = "pour", "poured"
    SECONDS = "seconds", "seconds of a pour"
    LEFT_PLAIN = "left plain", "plain wax left over"
    LEFT_MIX = "left mix", "scented mix left over"
    TESTER = "tester", "set aside to test"
    GIFT = "gift", "given away"
    RETURN = "return", "come back from a customer"


class Lot(models.Model):
    """What came or was made at one time and can be told apart from the rest."""

    code = models.CharField(max_length=20, unique=True)
    item = models.ForeignKey(Item, models.PROTECT, related_name="lots")
    origin = models.CharField(max_length=10, choices=Origin)
    began_on = models.DateField("received or poured on")
    best_before = models.DateField(null=True, blank=True)
    ready_on = models.DateField("cured on", null=True, blank=True)
    supplier_lot = models.CharField("supplier's lot", max_length=80, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["began_on", "id"]
        indexes = [
            models.Index(fields=["item", "began_on", "id"], name="lot_oldest_first"),
            models.Index(fields=["origin", "ready_on"], name="lot_by_ready"),
        ]

    def __str__(self) -> str:
        return self.code


class Place(models.TextChoices):
    """Where stock is. Those outside the workshop may owe; those inside never hold less than 0."""

    STORE = "store", "store"
    SHELF = "shelf", "cure shelf"
    TEST = "test", "test table"
    RETURNED = "returned", "returned, set apart"
    SUPPLIER = "supplier", "supplier"
    OPENING = "opening", "before the books"
    MADE = "made", "worked up"
    WORK = "work", "labour and overhead"
    SOLD = "sold", "sold"
    GIVEN = "given", "given away"
    BURNT = "burnt", "burnt in tests"
    SCRAP = "scrap", "scrap"
    CORRECTION = "correction", "count and correction"


INSIDE = (Place.STORE, Place.SHELF, Place.TEST, Place.RETURNED)


class EntryKind(models.TextChoices):
    RECEIPT = "receipt", "receipt"
    OPENING = "opening", "opening stock"
    POUR = "pour", "pour"
    FINISH = "finish", "finishing"
    DESPATCH = "despatch", "despatch"
    RETURN = "return", "return"
    SET_ASIDE = "set aside", "set aside"
    COUNT = "count", "count"
    SCRAP = "scrap", "scrap"
    TEST = "test", "burnt in a test"
    UNDO = "undo", "undone"


class Entry(models.Model):
    """One event of the ledger: all of its moves, or none."""

    kind = models.CharField(max_length=10, choices=EntryKind)
    on = models.DateField()
    at = models.DateTimeField()
    reason = models.CharField(max_length=300, blank=True)
    undoes = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="undone_by"
    )
    client_id = models.UUIDField(null=True, blank=True, unique=True)

    class Meta:
        ordering = ["-id"]
        indexes = [
            models.Index(fields=["on", "id"], name="entry_by_day"),
            models.Index(fields=["kind", "id"], name="entry_by_kind"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.pk}"


class Move(models.Model):
    """
    A quantity, with its value, from one place to another. Written once and never edited.

    A move of quantity 0 carries value alone: labour onto a lot, or a rounding remainder.
    The database itself refuses to change or delete a move (see the first migration).
    """

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="moves")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="moves")
    from_place = models.CharField(max_length=10, choices=Place)
    to_place = models.CharField(max_length=10, choices=Place)
    qty = models.BigIntegerField()
    value = models.BigIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(qty__gte=0, value__gte=0), name="move_forward"),
            models.CheckConstraint(
                condition=~Q(from_place=F("to_place")), name="move_goes_somewhere"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.qty} of {self.lot_id}: {self.from_place} to {self.to_place}"


class Balance(models.Model):
    """The running sum of a lot's moves at a place, written in the same transaction as the moves."""

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="balances")
    place = models.CharField(max_length=10, choices=Place)
    qty = models.BigIntegerField(default=0)
    value = models.BigIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["lot", "place"], name="balance_once"),
            models.CheckConstraint(
                condition=~Q(place__in=[str(place) for place in INSIDE])
                | Q(qty__gte=0, value__gte=0),
                name="balance_never_below_zero",
            ),
        ]
        indexes = [
            models.Index(fields=["place", "lot"], condition=Q(qty__gt=0), name="balance_in_stock")
        ]

    def __str__(self) -> str:
        return f"{self.qty} of {self.lot_id} at {self.place}"


class LotSource(models.Model):
    """So much of ``parent`` went into ``child``: the thread that a trace follows, both ways."""

    entry = models.ForeignKey(Entry, models.PROTECT, related_name="sources")
    parent = models.ForeignKey(Lot, models.PROTECT, related_name="went_into")
    child = models.ForeignKey(Lot, models.PROTECT, related_name="made_from")
    qty = models.BigIntegerField()
    value = models.BigIntegerField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(parent=F("child")), name="source_is_another_lot")
        ]

    def __str__(self) -> str:
        return f"{self.parent_id} in {self.child_id}"


# --- receipts ------------------------------------------------------------------------------------


class Spread(models.TextChoices):
    BY_VALUE = "value", "by value"
    BY_WEIGHT = "weight", "by weight"


class Receipt(models.Model):
    number = models.CharField(max_length=20, unique=True)
    supplier = models.ForeignKey(
        Supplier, models.PROTECT, null=True, blank=True, related_name="receipts"
    )
    on = models.DateField("received on")
    reference = models.CharField("invoice or parcel number", max_length=80, blank=True)
    freight_minor100 = models.PositiveBigIntegerField("freight and duty", default=0)
    spread = models.CharField(max_length=6, choices=Spread, default=Spread.BY_VALUE)
    note = models.CharField(max_length=200, blank=True)
    entry = models.OneToOneField(Entry, models.PROTECT, related_name="receipt")

    class Meta:
        ordering = ["-on", "-id"]
        indexes = [models.Index(fields=["-on", "-id"], name="receipt_newest_first")]

    def __str__(self) -> str:
        return self.number


class ReceiptLine(models.Model):
    receipt = models.ForeignKey(Receipt, models.PROTECT, related_name="lines")
    lot = models.OneToOneField(Lot, models.PROTECT, related_name="receipt_line")
    qty = models.BigIntegerField()
    price_minor100 = models.PositiveBigIntegerField("price of the line")
    freight_minor100 = models.PositiveBigIntegerField("its share of the freight", default=0)

    def __str__(self) -> str:
        return f"{self.receipt_id}: {self.lot_id}"
