"""
What the things that go into the melt are made of, and the safety sheets that say so.

A composition is drafted (read from a sheet, typed, pasted), then confirmed by the maker; only a
confirmed one counts, one an item at a time. Confirmed ones never change: mending makes the next.
"""

from django.db import models
from django.db.models import Q

from pourwright.workshop.stores.models import Item, Kind

# What melts into the candle, and so what its classification has to know of.
MELTED_KINDS = (Kind.OIL, Kind.DYE, Kind.ADDITIVE, Kind.WAX)


class SafetySheet(models.Model):
    """
    A safety sheet's file, known by what is in it: the same sheet is kept once, whoever uses it.

    The bytes stand apart in ``SheetFile``, so that no list loads them by accident.
    """

    sha256 = models.CharField("SHA-256 of the file", max_length=64, unique=True)
    name = models.CharField("the file's name", max_length=120)
    size = models.PositiveIntegerField("bytes")
    pages = models.PositiveSmallIntegerField(null=True, blank=True)
    has_text = models.BooleanField(null=True, blank=True)
    added_at = models.DateTimeField()

    class Meta:
        ordering = ["-added_at"]

    def __str__(self) -> str:
        return self.name


class SheetFile(models.Model):
    """The bytes of a sheet, in the database so that every backup carries them."""

    sheet = models.OneToOneField(SafetySheet, models.CASCADE, primary_key=True, related_name="file")
    content = models.BinaryField()

    def __str__(self) -> str:
        return f"file of {self.sheet_id}"


class State(models.TextChoices):
    DRAFT = "draft", "waits to be confirmed"
    CONFIRMED = "confirmed", "confirmed"
    SUPERSEDED = "superseded", "superseded"
    WITHDRAWN = "withdrawn", "withdrawn"


class Made(models.TextChoices):
    SHEET = "sheet", "read from a safety sheet"
    TYPED = "typed", "typed"
    PASTED = "pasted", "pasted from a spreadsheet"
    FILE = "file", "brought in from a file"


class ItemComposition(models.Model):
    """
    What an item is made of, by one sheet or one hand: version ``number`` for the item.

    ``typed`` holds a draft as it was typed, unread, so that nothing of it is lost; ``reading``
    where on the sheet's pages each thing was found, and what was doubtful. Rows are written when
    it is confirmed. ``unknown_acute`` is what the sheet states as of unknown acute toxicity: a
    route and a percentage, as text.
    """

    item = models.ForeignKey(Item, models.PROTECT, related_name="compositions")
    number = models.PositiveSmallIntegerField()
    state = models.CharField(max_length=10, choices=State, default=State.DRAFT)
    made = models.CharField("how it came", max_length=6, choices=Made, default=Made.TYPED)
    sheet = models.ForeignKey(
        SafetySheet, models.PROTECT, null=True, blank=True, related_name="compositions"
    )
    product_name = models.CharField("product's name on the sheet", max_length=200, blank=True)
    sheet_date = models.DateField("date of the sheet", null=True, blank=True)
    revision = models.CharField("revision of the sheet", max_length=40, blank=True)
    flash_point_c = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    density_g_ml = models.DecimalField(max_digits=5, decimal_places=4, null=True, blank=True)
    unknown_acute = models.JSONField(default=dict, blank=True)
    note = models.CharField(max_length=300, blank=True)
    typed = models.JSONField(default=dict, blank=True)
    reading = models.JSONField(default=dict, blank=True)
    made_at = models.DateTimeField()
    confirmed_at = models.DateTimeField(null=True, blank=True)
    confirmed_by = models.CharField(max_length=80, blank=True)
    closed_at = models.DateTimeField("superseded or withdrawn", null=True, blank=True)
    reason = models.CharField("why it was withdrawn", max_length=300, blank=True)

    class Meta:
        ordering = ["item", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["item", "number"], name="composition_number_once"),
            models.UniqueConstraint(
                fields=["item"], condition=Q(state="confirmed"), name="one_composition_counts"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item.name}, composition {self.number}"

    @property
    def is_draft(self) -> bool:
        return self.state == State.DRAFT

    @property
    def counts(self) -> bool:
        return self.state == State.CONFIRMED


class CompositionRow(models.Model):
    """
    One substance of a composition, as its sheet states it. Percentages are of the item.

    ``classes`` is what ``classes_text`` was read as when it was confirmed: a record does not
    change its meaning with the program's reading. Numbers in JSON are exact and stand as text.
    """

    composition = models.ForeignKey(ItemComposition, models.CASCADE, related_name="rows")
    place = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=300)
    cas = models.CharField("CAS number", max_length=12, blank=True, db_index=True)
    low_pct = models.DecimalField(max_digits=10, decimal_places=7, null=True, blank=True)
    high_pct = models.DecimalField(max_digits=10, decimal_places=7)
    open_above = models.BooleanField("the upper end itself is not reached", default=False)
    classes_text = models.TextField(blank=True)
    classes = models.JSONField(default=list, blank=True)
    m_acute = models.DecimalField(max_digits=12, decimal_places=3, null=True, blank=True)
    m_chronic = models.DecimalField(max_digits=12, decimal_places=3, null=True, blank=True)
    specific_limits = models.JSONField(default=list, blank=True)
    ate = models.JSONField("acute toxicity estimates", default=dict, blank=True)
    non_additive = models.BooleanField(default=False)
    unknown_acute = models.JSONField("routes without data", default=list, blank=True)
    unknown_aquatic = models.BooleanField(default=False)

    class Meta:
        ordering = ["composition", "place"]
        constraints = [
            models.UniqueConstraint(fields=["composition", "place"], name="row_place_once"),
            models.CheckConstraint(
                condition=Q(high_pct__gte=0, high_pct__lte=100), name="row_is_a_percentage"
            ),
        ]

    def __str__(self) -> str:
        return self.name
