"""The fill to aim at for a design, market by market, and what pouring by eye costs a year."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from pourwright.core.amounts import from_mg, to_mg
from pourwright.core.contents import RULE_NAMES, parse_declared
from pourwright.core.contents.declared import as_checked
from pourwright.core.contents.figures import raised
from pourwright.core.contents.target import ByEye, Target, by_eye, target_fill
from pourwright.workshop.contents.queries import (
    PastFills,
    markets_with_rules,
    poured_a_year,
)
from pourwright.workshop.designs.costing import estimate
from pourwright.workshop.designs.models import Design
from pourwright.workshop.designs.services import declared_of, newest_version
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.pours.models import Filling

USUAL_LOT = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """A market's answer: the target, the weight to read on the scale, and pouring by eye."""

    name: str
    target: Target
    aim_mg: int
    eye: ByEye | None
    eye_target: Target | None

    @property
    def target_mg(self) -> int:
        return round(self.target.target_g * 1000)

    @property
    def over_mg(self) -> int:
        return round(self.target.over_g * 1000)

    @property
    def error_mg(self) -> int:
        return round(self.target.error_g * 1000)

    @property
    def eye_kg(self) -> float:
        return self.eye.extra_year_g / 1000 if self.eye else 0.0

    @property
    def passes_pct(self) -> float:
        return 100 * self.target.reached.passes


def start_of(design: Design, past: PastFills, *, workshop: Workshop, on: date) -> dict:
    """Return what the form begins with: the label, the spreads so far, the usual lot, the year."""
    version = newest_version(design)
    newest = (
        Filling.objects.filter(design_version__design=design, good__gt=0).order_by("-id").first()
    )
    return {
        "declared": declared_of(version)[0].text if version else "",
        "sd_mg": round(past.within_g * 1000) if past.within_g else None,
        "batch_sd_mg": round(past.between_g * 1000) if past.between_g else None,
        "lot_size": newest.good if newest else USUAL_LOT,
        "probability": 95,
        "candles_a_year": poured_a_year(design, on=on),
        "mix_minor100": mix_minor100_per_kg(design, workshop),
    }


def mix_minor100_per_kg(design: Design, workshop: Workshop) -> int | None:
    """Return what a kilogram of the design's mix costs now, from the lots in store."""
    version = newest_version(design)
    if version is None or not version.fill_mg:
        return None
    found = estimate(version, workshop)
    mix = found.wax + found.fragrance + found.additives
    return round(Fraction(mix) * 1_000_000 / version.fill_mg) if mix else None


def advice_of(design: Design, given: dict, *, workshop: Workshop, on: date) -> list[Advice]:
    """Return the advice under each market's rule that the design is sold under."""
    version = newest_version(design)
    declared = parse_declared(given["declared"], field="Net weight on the label")
    division = from_mg(workshop.scale_division_mg)
    return [
        _advice(market, as_checked(declared, market), given, division=division, on=on)
        for market in markets_with_rules(version, workshop)
    ]


def _advice(market, declared, given: dict, *, division: Fraction, on: date) -> Advice:
    common = {
        "market": market, "declared": declared, "lot_size": given["lot_size"], "on": on,
        "probability": float(given["probability"]) / 100,
        "batch_sd_g": (given["batch_sd_mg"] or 0) / 1000,
    }  # fmt: skip
    target = target_fill(sd_g=given["sd_mg"] / 1000, **common)
    eye = wide = None
    if given.get("eye_sd_mg"):
        wide = target_fill(sd_g=given["eye_sd_mg"] / 1000, **common)
        eye = by_eye(
            wide=wide, narrow=target, candles_a_year=given["candles_a_year"] or 0,
            mix_minor100_per_kg=given["mix_minor100"] or 0,
        )  # fmt: skip
    exact = Fraction(target.target_g).limit_denominator(10**6)
    return Advice(
        name=RULE_NAMES[market], target=target, aim_mg=to_mg(raised(exact, division)), eye=eye,
        eye_target=wide,
    )  # fmt: skip
