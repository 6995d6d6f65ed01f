"""What the formula pages read: sums, differences in words, where a formula is used."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from django.db.models import Count, F, OuterRef, Q, Subquery

from pourwright.core import formula as core
from pourwright.core.amounts import LB_G, number, show_temperature, to_mg
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.formulas.models import Formula, FormulaVersion
from pourwright.workshop.formulas.services import Part, Recipe, findings_in, load_of, with_parts
from pourwright.workshop.pours.models import Pour
from pourwright.workshop.stores.ledger import qty_by_item
from pourwright.workshop.stores.models import Balance, Place


def listed(*, retired: bool = False):
    """Return formulas for the list, with how often they are used."""
    newest = FormulaVersion.objects.filter(formula=OuterRef("pk")).order_by("-number")
    return (
        Formula.objects.filter(retired=retired)
        .annotate(
            designs=Count(
                "versions__designs__design",
                filter=Q(versions__designs__design__retired=False),
                distinct=True,
            ),
            newest_id=Subquery(newest.values("pk")[:1]),
        )
        .order_by("name")
    )


def with_newest(rows: Sequence[Formula]) -> None:
    """Put each listed formula's newest version and left-over mix on it, in a few queries."""
    versions = FormulaVersion.objects.prefetch_related(*with_parts()).in_bulk(
        [row.newest_id for row in rows if row.newest_id]
    )
    left = qty_by_item([row.mix_id for row in rows], Place.STORE)
    for row in rows:
        row.newest = versions.get(row.newest_id)
        row.left_mg = left.get(row.mix_id, 0)


# --- what a formula comes to ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One part of a formula. ``pct_of_kind`` is its part of the waxes or of the oils."""

    name: str
    kind: str
    share: Fraction | None
    pct_of_kind: Fraction | None
    pct_of_whole: Fraction
    per_kilo_mg: int
    per_pound_mg: int
    limit_pct_of_whole: Fraction | None = None
    flash_point_c: Fraction | None = None

    @property
    def over(self) -> bool:
        return self.limit_pct_of_whole is not None and self.pct_of_whole > self.limit_pct_of_whole


@dataclass(frozen=True, slots=True, kw_only=True)
class Sums:
    """What a formula comes to, in per cent and in a kilogram or a pound of mix."""

    lines: tuple[Line, ...]
    load_pct_of_wax: Fraction
    load_pct_of_whole: Fraction
    wax_limit: str
    findings: tuple[core.Finding, ...]
    unknown: tuple[str, ...]
    wax_shares: Fraction
    oil_shares: Fraction

    @property
    def refused(self) -> bool:
        return any(finding.severity == "refuse" for finding in self.findings)

    @property
    def needs_reason(self) -> bool:
        return any(
            finding.severity == "refuse unless overridden" and not finding.override_reason
            for finding in self.findings
        )

    @property
    def warns(self) -> bool:
        return any(finding.severity == "warn" for finding in self.findings)

    @property
    def by_reason(self) -> bool:
        return any(finding.override_reason for finding in self.findings)


def sums_of(formula: core.Formula, *, override_reason: str = "") -> Sums:
    """Return what a formula comes to, line by line, with everything that was found in it."""
    kilo = core.batch_for_wax(formula, wax_g=Fraction(100_000) / formula.mix_pct_of_wax)
    limit = core.strictest_wax_limit(formula)
    return Sums(
        lines=(
            *_lines("wax", formula.waxes, formula.wax_fractions, kilo.waxes),
            *_lines("oil", formula.oils, formula.oil_fractions, kilo.oils),
            *_lines("extra", formula.extras, [None] * len(formula.extras), kilo.extras),
        ),
        load_pct_of_wax=formula.load_pct_of_wax,
        load_pct_of_whole=formula.load_pct_of_whole,
        wax_limit=f"{limit[0].name} takes up to {limit[1]}" if limit else "",
        findings=findings_in(formula, override_reason=override_reason),
        unknown=core.unknown_limits(formula),
        wax_shares=sum((part.share for part in formula.waxes), Fraction(0)),
        oil_shares=sum((part.share for part in formula.oils), Fraction(0)),
    )


def _lines(kind: str, parts, fractions, amounts):
    for part, fraction, amount in zip(parts, fractions, amounts, strict=True):
        yield Line(
            name=part.name,
            kind=kind,
            share=getattr(part, "share", None),
            pct_of_kind=None if fraction is None else 100 * fraction,
            pct_of_whole=amount.mass_g / 10,
            per_kilo_mg=to_mg(amount.mass_g),
            per_pound_mg=to_mg(amount.mass_g * LB_G / 1000),
            limit_pct_of_whole=getattr(part, "max_pct_of_whole", None),
            flash_point_c=getattr(part, "flash_point_c", None),
        )


# --- differences in words ------------------------------------------------------------------------


def differences(old: Recipe, new: Recipe, *, units: str = "metric") -> list[str]:
    """Return in words what a recipe changed from the one before it; empty where nothing did."""
    words = []
    if (old.load_pct, old.load_basis) != (new.load_pct, new.load_basis):
        words.append(
            f"load {load_of(old.load_pct, old.load_basis)} → "
            f"{load_of(new.load_pct, new.load_basis)}"
        )
    words += _parts_differ(old.waxes, new.waxes, "share of {}")
    words += _parts_differ(old.oils, new.oils, "share of {}")
    words += _parts_differ(old.extras, new.extras, "{}, % of the wax")
    for name, said in (("add_at_c", "oils added at"), ("pour_at_c", "poured at")):
        before, after = getattr(old, name), getattr(new, name)
        if before != after:
            words.append(f"{said} {_degrees(before, units)} → {_degrees(after, units)}")
    if old.stir_minutes != new.stir_minutes:
        words.append(f"stirred {_plain(old.stir_minutes)} → {_plain(new.stir_minutes)} minutes")
    if old.override_reason != new.override_reason:
        words.append("another reason to go past the wax’s limit" if new.override_reason
                     else "no reason any more to go past the wax’s limit")  # fmt: skip
    if old.note != new.note:
        words.append("another note")
    return words


def _parts_differ(old: Sequence[Part], new: Sequence[Part], said: str) -> list[str]:
    before = {item.name: amount for item, amount in old}
    after = {item.name: amount for item, amount in new}
    words = [f"{name} added" for name in after if name not in before]
    words += [f"{name} left out" for name in before if name not in after]
    words += [
        f"{said.format(name)} {_plain(before[name])} → {_plain(after[name])}"
        for name in after
        if name in before and before[name] != after[name]
    ]
    return words


def _plain(value: Decimal) -> str:
    return number(Fraction(value), places=4, strip=True)


def _degrees(value: Decimal | None, units: str) -> str:
    return "no set temperature" if value is None else show_temperature(Fraction(value), units)


def load_words(version: FormulaVersion) -> str:
    """Return a version's load in words, with its basis."""
    if not version.load_pct:
        return "no fragrance"
    return str(load_of(version.load_pct, version.load_basis))


# --- where it is used ----------------------------------------------------------------------------


def designs_with(formula: Formula):
    """Return the newest versions of the designs that hold a version of this formula."""
    newest = DesignVersion.objects.filter(design=OuterRef("design")).order_by("-number")
    return DesignVersion.objects.filter(
        formula_version__formula=formula, pk=Subquery(newest.values("pk")[:1])
    ).order_by("design__name")


def pours_with(formula: Formula, *, most: int = 10):
    """Return the newest pours that a version of this formula went into."""
    return (
        Pour.objects.filter(pitchers__formula_version__formula=formula)
        .annotate(version_number=F("pitchers__formula_version__number"))
        .order_by("-on", "-id")
        .distinct()[:most]
    )


def left_over(formula: Formula):
    """Return the lots of scented mix that are held of a formula, oldest first."""
    return (
        Balance.objects.filter(lot__item=formula.mix_id, place=Place.STORE, qty__gt=0)
        .select_related("lot")
        .order_by("lot__began_on", "lot_id")
    )
