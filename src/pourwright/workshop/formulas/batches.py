"""A batch of a formula as the calculator shows it: the core's answer, in the records' units."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from pourwright.core import formula as core
from pourwright.core.amounts import from_mg, to_mg
from pourwright.workshop.formulas.forms import BatchForm
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.pours.models import Melter


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One thing to weigh, in milligrams."""

    name: str
    exact_mg: int
    weigh_mg: int
    error_mg: int
    share_error_points: Fraction | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Near:
    """Another total of oil that the scale weighs truer."""

    oil_mg: int
    wax_mg: int
    share_error_points: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """What to weigh and what comes of it."""

    rows: tuple[Row, ...]
    total_mg: int
    mix_mg: int
    loss_mg: int
    left_mg: int
    vessels: int
    fill_mg: int | None
    division_mg: int
    load_pct_of_wax: Fraction
    load_pct_of_whole: Fraction
    load_error_points: Fraction
    share_error_points: Fraction
    near: Near | None
    findings: tuple[core.Finding, ...]
    has_oil: bool


def core_melter(
    melter: Melter, formula: core.Formula, *, oil_goes_in: core.OilGoesIn = "melter"
) -> core.Melter:
    """Return a melter as the core computes with it, its liquid that of the formula's waxes."""
    density = formula.liquid_density_g_per_ml
    by_mass = melter.capacity_mg is not None
    # Without the wax's liquid density a volume says nothing; the mass then stands alone.
    volume = melter.capacity_ml if density is not None or not by_mass else None
    return core.Melter(
        usable_g=from_mg(melter.capacity_mg) if by_mass else None,
        usable_ml=None if volume is None else Fraction(volume),
        liquid_density_g_per_ml=density,
        oil_goes_in=oil_goes_in,
    )


def work_out(
    formula: core.Formula, asked: dict, *, workshop: Workshop, past_wax_limit: bool
) -> Worked:
    """Return the batch that the calculator's form asks for; raises the core's BadInput."""
    melter = None
    if asked["melter"] is not None:
        melter = core_melter(asked["melter"], formula, oil_goes_in=asked["oil_goes_in"])
    loss = Fraction(asked["loss"] or 0)
    fill_g = None if asked["fill"] is None else from_mg(asked["fill"])
    if asked["by"] == BatchForm.BY_VESSELS:
        fills = [core.Fill(count=asked["number"], fill_g=fill_g)]
        batch = core.batch_for_vessels(formula, fills=fills, loss_pct_of_mix=loss, melter=melter)
    elif asked["by"] == BatchForm.BY_WAX:
        batch = core.batch_for_wax(
            formula, wax_g=from_mg(asked["wax"]), fill_g=fill_g, loss_pct_of_mix=loss, melter=melter
        )
    else:
        batch = core.batch_for_melter(formula, melter=melter, fill_g=fill_g, loss_pct_of_mix=loss)
    weighing = core.weighing_targets(
        formula, batch, division_g=from_mg(workshop.scale_division_mg),
        past_wax_limit=past_wax_limit,
    )  # fmt: skip
    near = weighing.nearby
    return Worked(
        rows=tuple(
            _row(target, is_oil=target in weighing.oils)
            for target in (*weighing.waxes, *weighing.oils, *weighing.extras)
        ),
        total_mg=to_mg(weighing.mix_g),
        mix_mg=to_mg(batch.mix_g),
        loss_mg=to_mg(batch.loss_g),
        left_mg=to_mg(batch.left_g),
        vessels=batch.vessels,
        fill_mg=asked["fill"],
        division_mg=workshop.scale_division_mg,
        load_pct_of_wax=weighing.load_pct_of_wax,
        load_pct_of_whole=weighing.load_pct_of_whole,
        load_error_points=weighing.load_error_points,
        share_error_points=weighing.worst_share_error_points,
        near=near and Near(
            oil_mg=to_mg(near.oil_g), wax_mg=to_mg(near.wax_g),
            share_error_points=near.worst_share_error_points,
        ),
        findings=weighing.findings,
        has_oil=bool(formula.oils),
    )  # fmt: skip


def _row(target: core.Target, *, is_oil: bool) -> Row:
    exact, weigh = to_mg(target.exact_g), to_mg(target.weigh_g)
    return Row(
        name=target.name,
        exact_mg=exact,
        weigh_mg=weigh,
        error_mg=weigh - exact,
        share_error_points=target.share_error_points if is_oil else None,
    )
