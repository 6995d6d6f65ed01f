"""How much is in each candle: fills weighed one by one, net checks, and what the scales lean on."""

from django.db import models
from django.db.models import Q

from pourwright.workshop.pours.models import Filling
from pourwright.workshop.stores.models import Lot


class Instrument(models.Model):
    """A scale or a thermometer of the workshop."""

    class What(models.TextChoices):
        SCALE = "scale", "scale"
        THERMOMETER = "thermometer", "thermometer"

    class ScaleClass(models.TextChoices):
        II = "II", "class II"
        III = "III", "class III"

    what = models.CharField(max_length=11, choices=What)
    name = models.CharField(max_length=80, unique=True)
    division_mg = models.PositiveBigIntegerField("the scale's division", null=True, blank=True)
    capacity_mg = models.PositiveBigIntegerField("the scale's capacity", null=True, blank=True)
    scale_class = models.CharField(
        "accuracy class on its plate", max_length=3, choices=ScaleClass, blank=True
    )
    note = models.CharField(max_length=200, blank=True)
    retired = models.BooleanField(default=False)

    class Meta:
        ordering = ["what", "name"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(what="scale") | Q(division_mg__gt=0), name="scale_has_a_division"
            )
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_scale(self) -> bool:
        return self.what == Instrument.What.SCALE


class InstrumentCheck(models.Model):
    """One check: a test weight, ice or boiling water. Values in g, or in °C. Never edited."""

    class How(models.TextChoices):
        WEIGHT = "weight", "test weight"
        ICE = "ice", "ice and water"
        BOILING = "boiling", "boiling water"

    instrument = models.ForeignKey(Instrument, models.PROTECT, related_name="checks")
    how = models.CharField(max_length=7, choices=How)
    on = models.DateField()
    by = models.CharField("by whom", max_length=80, blank=True)
    true_value = models.DecimalField(max_digits=12, decimal_places=4)
    reading = models.DecimalField(max_digits=12, decimal_places=4)
    allowed = models.DecimalField(max_digits=12, decimal_places=4)
    passed = models.BooleanField()
    altitude_m = models.IntegerField(null=True, blank=True)
    pressure_hpa = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    client_id = models.UUIDField(null=True, blank=True, unique=True)

    class Meta:
        ordering = ["-on", "-id"]
        indexes = [
            models.Index(fields=["instrument", "-on", "-id"], name="instrument_check_newest")
        ]

    def __str__(self) -> str:
        return f"{self.get_how_display()} on {self.on}"


class Fill(models.Model):
    """
    One vessel, weighed empty and filled, or its net weight alone. In the order of pouring.

    It belongs to a filling while the pour is open, and so to the lot that the filling becomes; or
    to a lot itself. What was wrong is left out with a reason and stays on record.
    """

    filling = models.ForeignKey(
        Filling, models.PROTECT, null=True, blank=True, related_name="fills"
    )
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="fills")
    number = models.PositiveIntegerField()
    empty_mg = models.PositiveBigIntegerField(null=True, blank=True)
    full_mg = models.PositiveBigIntegerField(null=True, blank=True)
    net_mg = models.PositiveBigIntegerField(null=True, blank=True)
    scale = models.ForeignKey(
        Instrument, models.PROTECT, null=True, blank=True, related_name="fills"
    )
    by = models.CharField(max_length=80, blank=True)
    at = models.DateTimeField()
    left_out = models.CharField("left out, because", max_length=200, blank=True)
    client_id = models.UUIDField(null=True, blank=True, unique=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(filling__isnull=False, lot__isnull=True)
                | Q(filling__isnull=True, lot__isnull=False),
                name="fill_of_one_thing",
            ),
            models.CheckConstraint(
                condition=Q(net_mg__isnull=False) | Q(empty_mg__isnull=False),
                name="fill_weighed_somehow",
            ),
            models.CheckConstraint(
                condition=Q(full_mg__isnull=True) | Q(net_mg__isnull=False),
                name="filled_vessel_has_a_net_weight",
            ),
        ]

    def __str__(self) -> str:
        return f"fill {self.number}"


class Rework(models.Model):
    """A lot was worked on after it was weighed (topped up, say): its fills no longer count."""

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="reworks")
    reason = models.CharField("what was done", max_length=300)
    by = models.CharField(max_length=80, blank=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["id"]

    def __str__(self) -> str:
        return f"rework of {self.lot_id}"


class NetCheck(models.Model):
    """
    A lot's net check under one market's rule, kept as evidence. Never edited; the newest counts.

    ``result`` holds each step with its figure, limit, rule and edition, and the weights judged.
    ``relabelled`` says that the lot got a label of its own with this weight.
    """

    class Answer(models.TextChoices):
        PASS = "pass", "passed"
        FAIL = "fail", "short"
        MORE = "more", "second sample wanted"

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="net_checks")
    market = models.CharField(max_length=2)
    rule = models.CharField(max_length=80)
    plan = models.CharField(max_length=20)
    declared = models.CharField("net weight on the label", max_length=60)
    lot_size = models.PositiveIntegerField()
    weighed = models.PositiveIntegerField()
    verdict = models.CharField(max_length=4, choices=Answer)
    result = models.JSONField(default=dict)
    relabelled = models.BooleanField(default=False)
    reason = models.CharField(max_length=300, blank=True)
    by = models.CharField(max_length=80, blank=True)
    on = models.DateField()
    at = models.DateTimeField()

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["lot", "market", "-id"], name="net_check_newest")]
        constraints = [
            models.CheckConstraint(
                condition=Q(relabelled=False) | ~Q(reason=""), name="relabelling_has_a_reason"
            )
        ]

    def __str__(self) -> str:
        return f"{self.market} net check of {self.lot_id}: {self.verdict}"

    @property
    def passed(self) -> bool:
        return self.verdict == NetCheck.Answer.PASS

    @property
    def sources(self) -> list[str]:
        """The published rules that the steps followed, each once, and whether they were read."""
        told = (
            f"{step['rule']}: {step['source']}; {step['edition']} ({step['status']})"
            for step in self.result.get("steps", ())
        )
        return list(dict.fromkeys(told))
