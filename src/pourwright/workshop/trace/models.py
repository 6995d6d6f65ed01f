"""Recalls: a lot that must come back, and why."""

from django.db import models
from django.db.models import Q

from pourwright.workshop.stores.models import Lot


class Recall(models.Model):
    """
    A lot that was found to be wrong. What it reached is traced anew each time it is looked at.

    It is never deleted; it ends with a word on how.
    """

    lot = models.ForeignKey(Lot, models.PROTECT, related_name="recalls")
    on = models.DateField("begun on")
    reason = models.CharField(max_length=300)
    by = models.CharField(max_length=80, blank=True)
    ended_on = models.DateField(null=True, blank=True)
    ended_how = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-on", "-id"]
        constraints = [
            models.CheckConstraint(condition=~Q(reason=""), name="recall_has_a_reason"),
            models.UniqueConstraint(
                fields=["lot"], condition=Q(ended_on__isnull=True), name="one_open_recall_a_lot"
            ),
        ]

    def __str__(self) -> str:
        return f"recall of {self.lot_id}"
