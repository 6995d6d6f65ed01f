"""
The burn book: test pieces, their burns, and what was read of each.

Lengths in mm, temperatures in °C, times in minutes from lighting, masses in milligrams. What was
entered is never edited: it is left out with a reason and entered anew. Lists of numbers
(``flame_mm`` and the like) are kept as text, so that they stay the decimals that were read.
"""

from decimal import Decimal

from django.db import models
from django.db.models import Q

from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.stores.models import Entry, Item, Lot


def _mm(*, digits: int = 6, **more) -> models.DecimalField:
    return models.DecimalField(max_digits=digits, decimal_places=2, null=True, blank=True, **more)


def _c(**more) -> models.DecimalField:
    return models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True, **more)


class HouseLimit(models.Model):
    """The maker's own change of one of the core's house limits (core/burns/house.py)."""

    key = models.CharField(max_length=40, unique=True)
    value = models.DecimalField(max_digits=9, decimal_places=3)
    reason = models.CharField(max_length=300, blank=True)
    by = models.CharField("changed by", max_length=80, blank=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["key"]

    def __str__(self) -> str:
        return f"{self.key} {self.value}"


class SearchSettings(models.Model):
    """
    What a burn must meet in a search, and what a search may take: the one row of settings.

    Read it through ``SearchSettings.load()``. The defaults are the planner's own
    (core/burns/criteria.py, core/burns/sets.py).
    """

    full_pct = models.DecimalField(
        "full pool from, % of the inside width", max_digits=5, decimal_places=2, default=93
    )
    soonest_h = models.DecimalField(
        "not at the wall before, h", max_digits=4, decimal_places=2, default=Decimal("1.25")
    )
    latest_h = models.DecimalField("full by, h", max_digits=4, decimal_places=2, default=4)
    depth_mm = models.DecimalField("pool at most, mm", max_digits=5, decimal_places=2, default=13)
    wall_c = models.DecimalField(
        "wall at most, °C, in a room of 21 °C", max_digits=5, decimal_places=1, default=60
    )
    needed = models.PositiveSmallIntegerField("burns that must meet them on one wick", default=4)
    side_by_side = models.PositiveSmallIntegerField("pieces burnt side by side", default=1)
    week_in_burns = models.DecimalField(
        "burns given to be done a week sooner",
        max_digits=4,
        decimal_places=2,
        default=Decimal("0.5"),
    )

    def __str__(self) -> str:
        return "search settings"

    @classmethod
    def load(cls) -> "SearchSettings":
        return cls.objects.first() or cls(pk=1)


class Purpose(models.TextChoices):
    SEARCH = "search", "a try of a wick"
    SERIES = "series", "counts towards the design’s series"


class PieceState(models.TextChoices):
    OPEN = "open", "open"
    FINISHED = "finished", "finished"
    DISCARDED = "discarded", "discarded"


class TestPiece(models.Model):
    """
    One candle that is burnt to be tested.

    It may differ from its design version in wick, number, trim and fill: a try in a search.
    ``fingerprint`` is what exactly it was when it was taken (core/burns/change.Fingerprint, by
    ``evidence.as_json``). ``entry`` is the ledger's, where it was taken from a lot on the shelf.
    Whether it cures, is ready or burns follows from ``ready_on`` and its burns.
    """

    __test__ = False  # pytest: no test class, for all its name

    number = models.CharField(max_length=20, unique=True)
    version = models.ForeignKey(DesignVersion, models.PROTECT, related_name="test_pieces")
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="test_pieces")
    purpose = models.CharField(max_length=6, choices=Purpose, default=Purpose.SERIES)
    wick = models.ForeignKey(Item, models.PROTECT, related_name="test_pieces_with")
    wick_count = models.PositiveSmallIntegerField(default=1)
    positions = models.JSONField(
        default=list, blank=True, help_text="Of the wicks, mm from the vessel’s middle."
    )
    trim_mm = models.DecimalField(max_digits=4, decimal_places=1)
    fill_mg = models.PositiveBigIntegerField("wax and oil in it")
    poured_on = models.DateField()
    ready_on = models.DateField("cured on", null=True, blank=True)
    fingerprint = models.JSONField(default=dict, blank=True)
    state = models.CharField(max_length=9, choices=PieceState, default=PieceState.OPEN)
    ended_on = models.DateField("finished or discarded on", null=True, blank=True)
    ended_because = models.CharField("why it was discarded", max_length=200, blank=True)
    entry = models.ForeignKey(
        Entry, models.PROTECT, null=True, blank=True, related_name="test_pieces",
        help_text="Set aside as a tester.",
    )  # fmt: skip
    burnt_entry = models.ForeignKey(
        Entry, models.PROTECT, null=True, blank=True, related_name="test_pieces_burnt",
        help_text="Burnt, or back to scrap.",
    )  # fmt: skip
    note = models.CharField(max_length=200, blank=True)
    made_on = models.DateField("entered in the book on")
    client_id = models.UUIDField(null=True, blank=True, unique=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(wick_count__gte=1, wick_count__lte=10), name="piece_one_to_ten_wicks"
            ),
        ]
        indexes = [
            models.Index(fields=["state", "-id"], name="test_piece_by_state"),
            models.Index(fields=["version", "id"], name="test_piece_by_version"),
        ]

    def __str__(self) -> str:
        return self.number


class BurnSession(models.Model):
    """Pieces burnt side by side: no more than the room has place for and the person can watch."""

    on = models.DateField()
    room_holds = models.PositiveSmallIntegerField("pieces that the room has place for")
    person_watches = models.PositiveSmallIntegerField("pieces that the person can watch")
    by = models.CharField("watched by", max_length=80, blank=True)
    client_id = models.UUIDField(null=True, blank=True, unique=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-id"]

    def __str__(self) -> str:
        return f"{self.on:%Y-%m-%d}, at most {self.most}"

    @property
    def most(self) -> int:
        return min(self.room_holds, self.person_watches)


class TestBurn(models.Model):
    """
    One burn of a piece, from lighting until it was out.

    ``minutes`` is empty while it burns. ``number`` counts a piece's burns from 1. A burn that is
    left out keeps its number, so that the gap shows, unless it is entered anew or was never lit.
    ``last`` says that it was to burn to its natural end.
    """

    __test__ = False

    piece = models.ForeignKey(TestPiece, models.PROTECT, related_name="burns")
    session = models.ForeignKey(
        BurnSession, models.PROTECT, null=True, blank=True, related_name="burns"
    )
    number = models.PositiveSmallIntegerField()
    lit_at = models.DateTimeField()
    planned_minutes = models.PositiveSmallIntegerField("meant to burn, min", default=240)
    by = models.CharField("watched by", max_length=80, blank=True)
    mass_before_mg = models.PositiveBigIntegerField(null=True, blank=True)
    room_c = _c()
    humidity_pct = _c()
    draught = models.CharField(max_length=80, blank=True)
    trim_mm = _mm()
    last = models.BooleanField("burns to its natural end", default=False)
    full_pool_minute = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    # What follows is written down when it is out.
    minutes = models.DecimalField(
        "burnt, min", max_digits=6, decimal_places=1, null=True, blank=True
    )
    out_at = models.DateTimeField(null=True, blank=True)
    mass_after_mg = models.PositiveBigIntegerField(null=True, blank=True)
    afterglow_s = models.JSONField(default=list, blank=True)
    relit = models.BooleanField(null=True, blank=True)
    secondary_flame_s = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    vessel_failed = models.CharField("what cracked or leaked", max_length=200, blank=True)
    pool_flashed = models.BooleanField(default=False)
    soot_index = models.DecimalField(
        "a laboratory’s soot index", max_digits=8, decimal_places=3, null=True, blank=True
    )
    went_out_by_itself = models.BooleanField(null=True, blank=True)
    residue_mm = _mm()
    residue_mg = models.PositiveBigIntegerField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)
    left_out = models.CharField("why it does not count", max_length=200, blank=True)
    left_out_at = models.DateTimeField(null=True, blank=True)
    never_lit = models.BooleanField("entered by mistake, nothing was burnt", default=False)
    instead_of = models.OneToOneField(
        "self", models.PROTECT, null=True, blank=True, related_name="entered_anew",
        help_text="The same burn, of which something was entered wrong.",
    )  # fmt: skip
    client_id = models.UUIDField(null=True, blank=True, unique=True)
    out_client_id = models.UUIDField(null=True, blank=True, unique=True)

    class Meta:
        ordering = ["piece", "number", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["piece", "number"], condition=Q(left_out=""), name="burn_number_once"
            ),
            models.UniqueConstraint(
                fields=["piece"], condition=Q(left_out="", minutes=None), name="one_burn_at_a_time"
            ),
        ]
        indexes = [
            models.Index(fields=["lit_at"], condition=Q(minutes=None), name="burn_alight"),
        ]

    def __str__(self) -> str:
        return f"{self.piece}, burn {self.number}"


class BurnReading(models.Model):
    """
    What was read at one time of a burn.

    ``flame_mm`` has a height for each wick, ``pool_mm`` the width in two directions; ``soot`` is 0
    none to 3 thick.
    """

    burn = models.ForeignKey(TestBurn, models.PROTECT, related_name="readings")
    minute = models.DecimalField(max_digits=6, decimal_places=1)
    flame_mm = models.JSONField(default=list, blank=True)
    pool_mm = models.JSONField(default=list, blank=True)
    depth_mm = _mm()
    wall_pool_c = _c()
    wall_dry_c = _c()
    base_c = _c()
    soot = models.PositiveSmallIntegerField(null=True, blank=True)
    mushroom_mm = _mm()
    note = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    left_out = models.CharField("why it does not count", max_length=200, blank=True)
    left_out_at = models.DateTimeField(null=True, blank=True)
    client_id = models.UUIDField(null=True, blank=True, unique=True)

    class Meta:
        ordering = ["minute", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(minute__gte=0), name="reading_after_lighting"),
        ]

    def __str__(self) -> str:
        return f"{self.burn}, {self.minute} min"


class BurnPhoto(models.Model):
    """A photo of a burn. Its bytes stand in the row, so that one backup carries everything."""

    burn = models.ForeignKey(TestBurn, models.PROTECT, related_name="photos")
    minute = models.DecimalField(max_digits=6, decimal_places=1)
    image = models.BinaryField()
    content_type = models.CharField(max_length=40)
    size = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64, db_index=True)
    note = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    left_out = models.CharField("why it does not count", max_length=200, blank=True)
    client_id = models.UUIDField(null=True, blank=True, unique=True)

    class Meta:
        ordering = ["minute", "id"]

    def __str__(self) -> str:
        return f"photo of {self.burn}, {self.minute} min"
