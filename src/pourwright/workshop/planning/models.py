"""
What a plan is made from and what it says: sessions, means, demand, offers, and the melts planned.

Orders, stock, lots and melters are records of their own parts; here stands only what they lack.
"""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.house.models import Job
from pourwright.workshop.orders.models import Order
from pourwright.workshop.pours.models import Melter, Pour
from pourwright.workshop.stores.models import Entry, Item, Supplier

# --- time and means ------------------------------------------------------------------------------


class Weekday(models.IntegerChoices):
    MONDAY = 0, "Monday"
    TUESDAY = 1, "Tuesday"
    WEDNESDAY = 2, "Wednesday"
    THURSDAY = 3, "Thursday"
    FRIDAY = 4, "Friday"
    SATURDAY = 5, "Saturday"
    SUNDAY = 6, "Sunday"


class WeeklySession(models.Model):
    """A time that comes back every week, in which somebody is there to melt and pour."""

    weekday = models.PositiveSmallIntegerField(choices=Weekday)
    starts = models.TimeField()
    minutes = models.PositiveSmallIntegerField(
        "lasts", validators=[MinValueValidator(30), MaxValueValidator(16 * 60)]
    )
    people = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    from_on = models.DateField("from", null=True, blank=True)
    until_on = models.DateField("until", null=True, blank=True)

    class Meta:
        ordering = ["weekday", "starts", "id"]
        constraints = [
            models.CheckConstraint(condition=Q(minutes__gt=0), name="session_lasts"),
            models.CheckConstraint(condition=Q(people__gt=0), name="session_has_somebody"),
        ]

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.starts:%H:%M}"


class DayOff(models.Model):
    """Days on which nothing is melted: a holiday, a fair, an illness."""

    from_on = models.DateField("from")
    until_on = models.DateField("until, that day too")
    reason = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["from_on"]
        verbose_name_plural = "days off"
        constraints = [
            models.CheckConstraint(condition=Q(until_on__gte=models.F("from_on")), name="off_ends")
        ]

    def __str__(self) -> str:
        return f"{self.from_on} to {self.until_on}"


class ExtraSession(models.Model):
    """A session of one day alone, besides those of every week."""

    on = models.DateField()
    starts = models.TimeField()
    minutes = models.PositiveSmallIntegerField(
        "lasts", validators=[MinValueValidator(30), MaxValueValidator(16 * 60)]
    )
    people = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])

    class Meta:
        ordering = ["on", "starts"]

    def __str__(self) -> str:
        return f"{self.on} {self.starts:%H:%M}"


class Means(models.Model):
    """
    The one row of what the workshop can do; read it through ``Means.load()``.

    Minutes are where a plan starts from: what the bench records is learnt in their place.
    """

    table_places = models.PositiveSmallIntegerField("places on the pour table", default=24)
    circuit_w = models.PositiveIntegerField(
        "what the melters' circuit gives", null=True, blank=True,
        help_text="Watts. Empty: no limit is known.",
    )  # fmt: skip
    set_hours = models.DecimalField(
        "hours until a vessel may be moved", max_digits=5, decimal_places=1, default=12,
        help_text="Where neither the wax nor a forecast says.",
    )  # fmt: skip
    scrap_pct = models.DecimalField(
        "of vessels poured come to nothing", max_digits=5, decimal_places=2, default=3
    )
    set_up_minutes = models.DecimalField(max_digits=5, decimal_places=1, default=12)
    melt_minutes = models.DecimalField(
        "melting, whatever the mass", max_digits=5, decimal_places=1, default=20
    )
    melt_minutes_kg = models.DecimalField(
        "and for each kilogram", max_digits=5, decimal_places=1, default=15
    )
    stir_minutes = models.DecimalField(max_digits=5, decimal_places=1, default=5)
    cool_minutes = models.DecimalField(
        "cooling to the pour", max_digits=5, decimal_places=1, default=15
    )
    pour_minutes = models.DecimalField(
        "pouring, a vessel", max_digits=5, decimal_places=2, default=1
    )
    wipe_minutes = models.DecimalField(max_digits=5, decimal_places=1, default=3)
    clean_minutes = models.DecimalField(
        "cleaning between scents", max_digits=5, decimal_places=1, default=6
    )
    wick_minutes = models.DecimalField(
        "sticking and centring, a vessel", max_digits=5, decimal_places=2, default=2
    )
    finish_minutes = models.DecimalField(
        "finishing and labelling, a candle", max_digits=5, decimal_places=2, default=2
    )
    spare_sessions = models.PositiveSmallIntegerField("sessions kept for a failed melt", default=1)
    late_minutes = models.PositiveSmallIntegerField(
        "work that one candle less late is worth", null=True, blank=True,
        help_text="Minutes. Empty: lateness comes first, whatever it costs.",
    )  # fmt: skip
    holding_pct_year = models.DecimalField(
        "cost of holding stock, a year", max_digits=5, decimal_places=2, default=15
    )

    class Meta:
        verbose_name_plural = "means"

    def __str__(self) -> str:
        return f"{self.table_places} places"

    @classmethod
    def load(cls) -> "Means":
        return cls.objects.first() or cls(pk=1)


class MelterMeans(models.Model):
    """
    What of a melter matters for planning alone.

    Without pitchers a melt is of one formula. With them it is plain wax, drawn off into so many
    pitchers, each with a formula of its own.
    """

    melter = models.OneToOneField(Melter, models.CASCADE, related_name="means")
    minimum_mg = models.PositiveBigIntegerField("least that it melts", default=0)
    pitchers = models.PositiveSmallIntegerField("pitchers drawn from one melt", default=0)
    pitcher_mg = models.PositiveBigIntegerField("what a pitcher holds", default=0)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(pitchers=0) | Q(pitcher_mg__gt=0), name="pitchers_hold_something"
            )
        ]

    def __str__(self) -> str:
        return f"means of {self.melter_id}"


class DesignMeans(models.Model):
    """What of a design matters for planning alone."""

    design = models.OneToOneField(Design, models.CASCADE, related_name="means")
    table_places = models.PositiveSmallIntegerField("places that a vessel takes", default=1)
    set_hours = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    stall_room = models.DecimalField(
        "room on a stall", max_digits=5, decimal_places=2, default=1,
        help_text="In places of the stall's own; 1 for a usual candle.",
    )  # fmt: skip

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(table_places__gt=0), name="takes_some_place")
        ]

    def __str__(self) -> str:
        return f"means of {self.design_id}"


# --- demand --------------------------------------------------------------------------------------


class StockTarget(models.Model):
    """How many of a design are to be on the shelf, released, at any time."""

    design = models.OneToOneField(Design, models.CASCADE, related_name="stock_target")
    qty = models.PositiveIntegerField()
    priority = models.PositiveSmallIntegerField(default=1)

    def __str__(self) -> str:
        return f"{self.qty} of {self.design_id}"


class Market(models.Model):
    """A market, fair or stall that comes back."""

    name = models.CharField(max_length=80, unique=True)
    place = models.CharField(max_length=80, blank=True)
    stall_places = models.PositiveSmallIntegerField("room on the stall", null=True, blank=True)
    opens = models.TimeField(null=True, blank=True)
    closes = models.TimeField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    retired = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(opens__isnull=True)
                | Q(closes__isnull=True)
                | Q(closes__gt=models.F("opens")),
                name="market_closes_after_it_opens",
            )
        ]

    def __str__(self) -> str:
        return self.name


class MarketDay(models.Model):
    """One day at a market: planned, and afterwards what came of it."""

    market = models.ForeignKey(Market, models.PROTECT, related_name="days")
    on = models.DateField()
    exposure = models.DecimalField(
        "as a usual day there", max_digits=4, decimal_places=2, default=1,
        help_text="1 for a usual day, 0.5 for half a day.",
        validators=[MinValueValidator(0.05), MaxValueValidator(10)],
    )  # fmt: skip
    priority = models.PositiveSmallIntegerField(default=2)
    takings_minor100 = models.PositiveBigIntegerField("takings", null=True, blank=True)
    recorded_at = models.DateTimeField(null=True, blank=True)
    order = models.OneToOneField(
        Order, models.PROTECT, null=True, blank=True, related_name="market_day"
    )
    note = models.CharField(max_length=200, blank=True)
    client_id = models.UUIDField(null=True, blank=True, unique=True)

    class Meta:
        ordering = ["-on", "-id"]
        constraints = [models.UniqueConstraint(fields=["market", "on"], name="market_day_once")]

    def __str__(self) -> str:
        return f"{self.market.name} on {self.on}"


class MarketLine(models.Model):
    """One design at one market day. ``wanted`` is what the plan is to have ready for it."""

    day = models.ForeignKey(MarketDay, models.CASCADE, related_name="lines")
    design = models.ForeignKey(Design, models.PROTECT, related_name="market_lines")
    wanted = models.PositiveIntegerField(null=True, blank=True)
    taken = models.PositiveIntegerField(null=True, blank=True)
    sold = models.PositiveIntegerField(null=True, blank=True)
    back = models.PositiveIntegerField("brought back", null=True, blank=True)
    sold_out_at = models.TimeField(null=True, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [models.UniqueConstraint(fields=["day", "design"], name="market_line_once")]

    def __str__(self) -> str:
        return f"{self.design_id} on {self.day_id}"


# --- offers and what was ordered -----------------------------------------------------------------


class Offer(models.Model):
    """What a supplier sells an item in: a pack, its prices, and how long it takes to come."""

    item = models.ForeignKey(Item, models.PROTECT, related_name="offers")
    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="offers")
    pack_qty = models.PositiveBigIntegerField(help_text="Milligrams or pieces.")
    lead_days = models.PositiveSmallIntegerField("days to arrive", null=True, blank=True)
    keeps_days = models.PositiveSmallIntegerField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    retired = models.BooleanField(default=False)

    class Meta:
        ordering = ["item", "supplier", "pack_qty"]
        constraints = [
            models.CheckConstraint(condition=Q(pack_qty__gt=0), name="pack_holds_something")
        ]

    def __str__(self) -> str:
        return f"{self.pack_qty} of {self.item_id}"


class PriceBreak(models.Model):
    """The price of a pack where at least so many are ordered at once."""

    offer = models.ForeignKey(Offer, models.CASCADE, related_name="prices")
    from_packs = models.PositiveIntegerField(default=1)
    price_minor100 = models.PositiveBigIntegerField("price of a pack")

    class Meta:
        ordering = ["from_packs"]
        constraints = [
            models.UniqueConstraint(fields=["offer", "from_packs"], name="price_break_once"),
            models.CheckConstraint(condition=Q(from_packs__gt=0), name="from_a_pack"),
        ]

    def __str__(self) -> str:
        return f"{self.price_minor100} from {self.from_packs}"


class Freight(models.Model):
    """What a supplier charges for sending an order, and from what value it is free."""

    supplier = models.OneToOneField(Supplier, models.CASCADE, related_name="freight")
    charge_minor100 = models.PositiveBigIntegerField("freight of an order", default=0)
    free_from_minor100 = models.PositiveBigIntegerField("free from", null=True, blank=True)

    def __str__(self) -> str:
        return f"freight of {self.supplier_id}"


class PurchaseState(models.TextChoices):
    SENT = "sent", "ordered"
    RECEIVED = "received", "received"
    CANCELLED = "cancelled", "cancelled"


class Purchase(models.Model):
    """An order that went to a supplier; what is still to come counts as arriving."""

    number = models.CharField(max_length=20, unique=True)
    supplier = models.ForeignKey(Supplier, models.PROTECT, related_name="purchases")
    state = models.CharField(max_length=9, choices=PurchaseState, default=PurchaseState.SENT)
    on = models.DateField("ordered on")
    expected_on = models.DateField("expected on")
    freight_minor100 = models.PositiveBigIntegerField(default=0)
    entry = models.OneToOneField(
        Entry, models.PROTECT, null=True, blank=True, related_name="purchase"
    )
    note = models.CharField(max_length=200, blank=True)
    client_id = models.UUIDField(null=True, blank=True, unique=True)

    class Meta:
        ordering = ["-on", "-id"]
        indexes = [models.Index(fields=["state", "expected_on"], name="purchase_by_arrival")]

    def __str__(self) -> str:
        return self.number


class PurchaseLine(models.Model):
    purchase = models.ForeignKey(Purchase, models.CASCADE, related_name="lines")
    item = models.ForeignKey(Item, models.PROTECT, related_name="purchase_lines")
    packs = models.PositiveIntegerField()
    pack_qty = models.PositiveBigIntegerField()
    price_minor100 = models.PositiveBigIntegerField("price of a pack")

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"{self.packs} × {self.pack_qty} of {self.item_id}"


# --- plans ---------------------------------------------------------------------------------------


class Plan(models.Model):
    """
    One plan: the problem as it stood, and the best answer so far.

    ``current`` is the one that is followed; the others are what-ifs, or were followed before.
    ``problem`` and ``answer`` are the core's documents; what the pages work with besides are the
    melts below.
    """

    number = models.CharField(max_length=20, unique=True)
    name = models.CharField(max_length=80, blank=True)
    made_at = models.DateTimeField()
    start_on = models.DateField()
    until_on = models.DateField()
    problem = models.JSONField()
    answer = models.JSONField(null=True, blank=True)
    what_if = models.JSONField(default=dict, blank=True)
    based_on = models.ForeignKey(
        "self", models.SET_NULL, null=True, blank=True, related_name="variants"
    )
    job = models.ForeignKey(Job, models.SET_NULL, null=True, blank=True, related_name="plans")
    current = models.BooleanField(default=False)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["current"], condition=Q(current=True), name="one_plan_is_followed"
            )
        ]

    def __str__(self) -> str:
        return self.number


class PlannedMelt(models.Model):
    """A melt of a plan. Pinned, it stays where it is; started, it is a pour."""

    plan = models.ForeignKey(Plan, models.CASCADE, related_name="melts")
    on = models.DateField()
    session_starts = models.TimeField()
    starts = models.TimeField(null=True, blank=True)
    ends = models.TimeField(null=True, blank=True)
    melter = models.ForeignKey(Melter, models.PROTECT, related_name="planned")
    pinned = models.BooleanField(default=False)
    pour = models.OneToOneField(
        Pour, models.SET_NULL, null=True, blank=True, related_name="planned_as"
    )

    class Meta:
        ordering = ["on", "session_starts", "starts", "id"]
        indexes = [models.Index(fields=["plan", "on"], name="planned_melts_by_day")]

    def __str__(self) -> str:
        return f"melt on {self.on}"


class PlannedFilling(models.Model):
    """So many of a design from a planned melt."""

    melt = models.ForeignKey(PlannedMelt, models.CASCADE, related_name="fillings")
    design_version = models.ForeignKey(DesignVersion, models.PROTECT, related_name="planned")
    qty = models.PositiveIntegerField()

    class Meta:
        ordering = ["id"]
        constraints = [models.CheckConstraint(condition=Q(qty__gt=0), name="planned_some")]

    def __str__(self) -> str:
        return f"{self.qty} × {self.design_version_id}"


class CalendarKey(models.Model):
    """The secret word in the address of a calendar subscription; a new one shuts the old."""

    word = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return "calendar"
