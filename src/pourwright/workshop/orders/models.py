"""Customers, orders, what was sent to whom from which lot, and what came back."""

from django.db import models
from django.db.models import Q

from pourwright.workshop.designs.models import Design
from pourwright.workshop.stores.models import Entry, Lot


class Customer(models.Model):
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(blank=True)
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ["name"]
        indexes = [models.Index(fields=["name"], name="customer_by_name")]

    def __str__(self) -> str:
        return self.name


class Channel(models.TextChoices):
    DIRECT = "direct", "direct"
    WHOLESALE = "wholesale", "wholesale"
    MARKET = "market", "market stall"


class OrderState(models.TextChoices):
    OPEN = "open", "open"
    SENT = "sent", "sent"
    CANCELLED = "cancelled", "cancelled"


class Order(models.Model):
    number = models.CharField(max_length=20, unique=True)
    customer = models.ForeignKey(
        Customer, models.PROTECT, null=True, blank=True, related_name="orders"
    )
    channel = models.CharField(max_length=9, choices=Channel, default=Channel.DIRECT)
    state = models.CharField(max_length=9, choices=OrderState, default=OrderState.OPEN)
    on = models.DateField("ordered on")
    due = models.DateField(null=True, blank=True)
    reference = models.CharField("their reference, or the market", max_length=80, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ["-on", "-id"]
        indexes = [
            models.Index(fields=["-on", "-id"], name="order_newest_first"),
            models.Index(fields=["state", "due"], name="order_by_due"),
        ]

    def __str__(self) -> str:
        return self.number


class OrderLine(models.Model):
    order = models.ForeignKey(Order, models.PROTECT, related_name="lines")
    design = models.ForeignKey(Design, models.PROTECT, related_name="order_lines")
    qty = models.PositiveIntegerField()
    price_minor100 = models.PositiveBigIntegerField("price each", default=0)
    seconds = models.BooleanField("sold as seconds", default=False)

    class Meta:
        ordering = ["id"]
        constraints = [models.CheckConstraint(condition=Q(qty__gt=0), name="order_line_positive")]

    def __str__(self) -> str:
        return f"{self.qty} × {self.design_id}"


class Despatch(models.Model):
    order = models.ForeignKey(Order, models.PROTECT, related_name="despatches")
    on = models.DateField("sent on")
    carrier = models.CharField("carrier and number", max_length=120, blank=True)
    entry = models.OneToOneField(Entry, models.PROTECT, related_name="despatch")

    class Meta:
        ordering = ["-on", "-id"]
        verbose_name_plural = "despatches"

    def __str__(self) -> str:
        return f"{self.order_id} on {self.on}"


class DespatchLine(models.Model):
    despatch = models.ForeignKey(Despatch, models.PROTECT, related_name="lines")
    order_line = models.ForeignKey(OrderLine, models.PROTECT, related_name="sent")
    lot = models.ForeignKey(Lot, models.PROTECT, related_name="sent")
    qty = models.PositiveIntegerField()

    def __str__(self) -> str:
        return f"{self.qty} of {self.lot_id}"


class Return(models.Model):
    """What came back; it becomes a lot of its own, set apart until someone decides."""

    despatch_line = models.ForeignKey(DespatchLine, models.PROTECT, related_name="returns")
    lot = models.OneToOneField(Lot, models.PROTECT, related_name="returned")
    qty = models.PositiveIntegerField()
    reason = models.CharField(max_length=300)
    entry = models.OneToOneField(Entry, models.PROTECT, related_name="returned")

    def __str__(self) -> str:
        return f"{self.qty} back as {self.lot_id}"
