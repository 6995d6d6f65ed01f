"""Formulas: what goes into the wax, in versions. A version that was poured never changes."""

from django.db import models
from django.db.models import Q

from pourwright.workshop.stores.models import Basis, Item


class Formula(models.Model):
    name = models.CharField(max_length=120, unique=True)
    idea = models.TextField("the scent idea", blank=True)
    # Scented mix left over is kept as lots of this item.
    mix = models.OneToOneField(Item, models.PROTECT, related_name="formula")
    retired = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class FormulaVersion(models.Model):
    formula = models.ForeignKey(Formula, models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    load_pct = models.DecimalField(max_digits=6, decimal_places=3, default=0)
    load_basis = models.CharField(max_length=5, choices=Basis, default=Basis.OF_WAX)
    add_at_c = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    pour_at_c = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    stir_minutes = models.DecimalField(max_digits=4, decimal_places=1, default=2)
    # Above the wax's limit only with this; what exceeds an oil's safety limit is never saved.
    override_reason = models.CharField(max_length=300, blank=True)
    note = models.CharField(max_length=200, blank=True)
    made_on = models.DateField()
    used = models.BooleanField(default=False, help_text="Poured or designed with: fixed for good.")

    class Meta:
        ordering = ["formula", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["formula", "number"], name="formula_version_once")
        ]

    def __str__(self) -> str:
        return f"{self.formula.name} v{self.number}"


class FormulaWax(models.Model):
    version = models.ForeignKey(FormulaVersion, models.CASCADE, related_name="waxes")
    item = models.ForeignKey(Item, models.PROTECT, related_name="+")
    share = models.DecimalField(max_digits=7, decimal_places=3)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(share__gt=0), name="wax_share_positive"),
            models.UniqueConstraint(fields=["version", "item"], name="wax_once"),
        ]

    def __str__(self) -> str:
        return f"{self.item_id}: {self.share}"


class FormulaOil(models.Model):
    version = models.ForeignKey(FormulaVersion, models.CASCADE, related_name="oils")
    item = models.ForeignKey(Item, models.PROTECT, related_name="in_formulas")
    share = models.DecimalField(max_digits=7, decimal_places=3)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(share__gt=0), name="oil_share_positive"),
            models.UniqueConstraint(fields=["version", "item"], name="oil_once"),
        ]

    def __str__(self) -> str:
        return f"{self.item_id}: {self.share}"


class FormulaExtra(models.Model):
    """Dye or additive, as per cent of the wax."""

    version = models.ForeignKey(FormulaVersion, models.CASCADE, related_name="extras")
    item = models.ForeignKey(Item, models.PROTECT, related_name="+")
    pct_of_wax = models.DecimalField(max_digits=7, decimal_places=4)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.CheckConstraint(condition=Q(pct_of_wax__gt=0), name="extra_positive"),
            models.UniqueConstraint(fields=["version", "item"], name="extra_once"),
        ]

    def __str__(self) -> str:
        return f"{self.item_id}: {self.pct_of_wax}"


class Formulation(models.Model):
    """
    A formulation number, as the unique formula identifier needs one: of a recipe, for good.

    ``recipe`` and ``made_of`` are fingerprints: of what goes in by share of the whole, and of the
    substances that the safety sheets named in it when the number was given. The same recipe keeps
    its number in every version; a number is never given twice.
    """

    number = models.PositiveIntegerField(unique=True)
    recipe = models.CharField(max_length=64, db_index=True)
    made_of = models.CharField(max_length=64)
    version = models.ForeignKey(FormulaVersion, models.PROTECT, related_name="formulations")
    given_on = models.DateField()

    class Meta:
        ordering = ["-number"]

    def __str__(self) -> str:
        return str(self.number)
