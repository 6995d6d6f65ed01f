"""The two gates: what was waived by hand, why, and when a design or lot was released."""

from django.db import models
from django.db.models import Q

from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.stores.models import Lot


class Decision(models.Model):
    """
    A person's decision at a gate: a check passed by hand, a release, or a release withdrawn.

    ``check_name`` is empty for a release. Decisions are added, never edited; the newest one on a
    check counts.
    """

    class What(models.TextChoices):
        WAIVED = "waived", "passed by hand"
        UNWAIVED = "unwaived", "no longer passed by hand"
        RELEASED = "released", "released"
        WITHDRAWN = "withdrawn", "release withdrawn"

    design_version = models.ForeignKey(
        DesignVersion, models.PROTECT, null=True, blank=True, related_name="decisions"
    )
    lot = models.ForeignKey(Lot, models.PROTECT, null=True, blank=True, related_name="decisions")
    what = models.CharField(max_length=9, choices=What)
    check_name = models.CharField(max_length=20, blank=True)
    reason = models.CharField(max_length=400, blank=True)
    by = models.CharField(max_length=80, blank=True)
    at = models.DateTimeField()
    # What the checks said when it was released, kept as it was then.
    findings = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(design_version__isnull=False, lot__isnull=True)
                | Q(design_version__isnull=True, lot__isnull=False),
                name="decision_on_one_thing",
            ),
            models.CheckConstraint(
                condition=~Q(what__in=["waived", "withdrawn"]) | ~Q(reason=""),
                name="waiver_has_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.what} {self.check_name}".strip()


class Finishing(models.Model):
    """A lot's finishing checks, ticked one by one at the bench."""

    lot = models.OneToOneField(Lot, models.PROTECT, related_name="finishing")
    wicks_trimmed = models.BooleanField(default=False)
    tops_smooth = models.BooleanField("tops even, no holes", default=False)
    glass_clean = models.BooleanField("vessels wiped and sound", default=False)
    labelled = models.BooleanField("labels and fire-safety warnings on", default=False)
    closed = models.BooleanField("lids or boxes on", default=False)
    by = models.CharField(max_length=80, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    CHECKS = ("wicks_trimmed", "tops_smooth", "glass_clean", "labelled", "closed")

    def __str__(self) -> str:
        return f"finishing of {self.lot_id}"

    @property
    def complete(self) -> bool:
        return all(getattr(self, check) for check in self.CHECKS)
