"""
Scent panels: what was asked, of which candles, who smelled them in which order, and the answers.

Nobody's health is written down here. An answer is never edited: it is left out with a reason and
given anew.
"""

from datetime import date

from django.db import models
from django.db.models import Q

from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.stores.models import Lot


class PanelKind(models.TextChoices):
    RANKING = "ranking", "ranking"
    TRIANGLE = "triangle", "triangle test"


class Asks(models.TextChoices):
    """What the first place of a ranking means."""

    STRENGTH = "strength", "which throws most: 1 is the strongest"
    LIKING = "liking", "which is liked most: 1 is the best liked"
    OTHER = "other", "something else: the question says what 1 means"


class Scent(models.TextChoices):
    COLD = "cold", "cold: not lit"
    HOT = "hot", "hot: burning"


class PanelState(models.TextChoices):
    OPEN = "open", "open, blind"
    CLOSED = "closed", "closed"
    DISCARDED = "discarded", "discarded"


class Panel(models.Model):
    """
    One panel on one day.

    ``minutes`` is how long the scent was in the air: since lighting, or since the lids came off.
    ``tell_pct`` and ``power_pct`` are what a triangle was planned to show, and how surely.
    ``told_apart`` is written when it is closed. ``seed`` makes codes and orders.
    """

    number = models.CharField(max_length=20, unique=True)
    kind = models.CharField(max_length=8, choices=PanelKind)
    asks = models.CharField(max_length=8, choices=Asks, default=Asks.STRENGTH)
    question = models.CharField(max_length=200)
    scent = models.CharField(max_length=4, choices=Scent)
    room = models.CharField(max_length=80, blank=True)
    minutes = models.PositiveSmallIntegerField("minutes of scent in the air", null=True, blank=True)
    on = models.DateField("held on")
    alpha = models.DecimalField("risk of a false find", max_digits=4, decimal_places=3)
    tell_pct = models.DecimalField(
        "share of people who can tell, %", max_digits=4, decimal_places=1, null=True, blank=True
    )
    power_pct = models.DecimalField(
        "to be shown with, %", max_digits=4, decimal_places=1, null=True, blank=True
    )
    planned = models.PositiveSmallIntegerField("assessors planned")
    seed = models.PositiveBigIntegerField()
    state = models.CharField(max_length=9, choices=PanelState, default=PanelState.OPEN)
    told_apart = models.BooleanField(null=True, blank=True)
    ended_on = models.DateField("closed or discarded on", null=True, blank=True)
    ended_because = models.CharField("why it was discarded", max_length=200, blank=True)
    note = models.CharField(max_length=300, blank=True)
    client_id = models.UUIDField(null=True, blank=True, unique=True)
    at = models.DateTimeField()

    class Meta:
        ordering = ["-on", "-id"]
        indexes = [
            models.Index(fields=["-on", "-id"], name="panel_newest_first"),
            models.Index(fields=["state", "-on"], name="panel_by_state"),
        ]
        constraints = [
            models.CheckConstraint(condition=Q(alpha__gt=0, alpha__lt=0.5), name="panel_alpha"),
        ]

    def __str__(self) -> str:
        return self.number

    @property
    def is_open(self) -> bool:
        return self.state == PanelState.OPEN

    @property
    def is_closed(self) -> bool:
        return self.state == PanelState.CLOSED

    @property
    def is_ranking(self) -> bool:
        return self.kind == PanelKind.RANKING

    @property
    def is_hot(self) -> bool:
        return self.scent == Scent.HOT


class PanelCandle(models.Model):
    """
    One of the candles compared: a lot, a design version poured for it, or words alone.

    ``poured_on`` is the lot's where there is one; with the panel's day it gives the cure age.
    """

    panel = models.ForeignKey(Panel, models.CASCADE, related_name="candles")
    position = models.PositiveSmallIntegerField()
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="in_panels")
    version = models.ForeignKey(
        DesignVersion, models.PROTECT, null=True, blank=True, related_name="in_panels"
    )
    words = models.CharField("in words", max_length=80, blank=True)
    poured_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["panel", "position"], name="panel_candle_once"),
        ]

    def __str__(self) -> str:
        return self.named(None)

    @property
    def what(self) -> str:
        """Return which candle it is, without its age."""
        if self.lot is not None:
            name = f"{self.lot.item.name}, {self.lot.code}"
        elif self.version is not None:
            name = str(self.version)
        else:
            return self.words
        return f"{name} ({self.words})" if self.words else name

    def named(self, on: date | None) -> str:
        """Return its name with its age on a day."""
        days = self.cure_days(on)
        if days is None:
            return self.what
        return f"{self.what}, {days} day{'' if days == 1 else 's'}"

    def cure_days(self, on: date | None) -> int | None:
        return (on - self.poured_on).days if on and self.poured_on else None

    @property
    def design_id(self) -> int | None:
        """Return the design it is of, by its version, else by its lot's candle."""
        if self.version is not None:
            return self.version.design_id
        design: Design | None = getattr(self.lot.item, "design", None) if self.lot else None
        return design.pk if design else None


class PanelJar(models.Model):
    """What stands on the table under a code: one for a candle ranked, two in a triangle."""

    candle = models.ForeignKey(PanelCandle, models.CASCADE, related_name="jars")
    place = models.PositiveSmallIntegerField("place among the panel’s jars")
    code = models.CharField(max_length=3)

    class Meta:
        ordering = ["place"]
        constraints = [
            models.UniqueConstraint(fields=["candle", "place"], name="panel_jar_once"),
        ]

    def __str__(self) -> str:
        return self.code


class PanelServing(models.Model):
    """What one assessor smells, in this order: ``codes`` are the jars'."""

    panel = models.ForeignKey(Panel, models.CASCADE, related_name="servings")
    number = models.PositiveSmallIntegerField("assessor")
    codes = models.JSONField()

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["panel", "number"], name="panel_serving_once"),
        ]

    def __str__(self) -> str:
        return f"{self.panel_id}, assessor {self.number}"


class PanelAnswer(models.Model):
    """
    What one assessor said: a place for each code, or the odd one's code.

    ``ranks`` stand in the order of the serving's codes.
    """

    serving = models.ForeignKey(PanelServing, models.CASCADE, related_name="answers")
    ranks = models.JSONField(default=list, blank=True)
    odd = models.CharField("odd one", max_length=3, blank=True)
    by = models.CharField("initials", max_length=20, blank=True)
    note = models.CharField("what they said", max_length=200, blank=True)
    at = models.DateTimeField()
    left_out = models.CharField("why it does not count", max_length=200, blank=True)
    client_id = models.UUIDField(null=True, blank=True, unique=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["serving"], condition=Q(left_out=""), name="panel_answer_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.serving}: {self.odd or self.ranks}"
