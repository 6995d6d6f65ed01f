"""
Formulas: waxes and oils by share, a load on its own basis, batches, limits and weighing targets.

A ``Formula`` says what; a ``Batch`` how much; ``check_limits`` whether it may be; a ``Weighing``
what the scale should show.

>>> from fractions import Fraction
>>> formula = Formula(
...     waxes=(WaxPart(name="soy-coconut blend A"),),
...     load=LoadOfWax(Fraction(6)),
...     oils=(OilPart(name="fig leaf"),),
... )
>>> batch = batch_for_vessels(formula, fills=[Fill(count=10, fill_g=Fraction(212))])
>>> batch.wax_g, batch.oils[0].mass_g
(Fraction(2000, 1), Fraction(120, 1))
"""

from pourwright.core.formula.batch import (
    Amount,
    BadBatch,
    Batch,
    Fill,
    batch_for_melter,
    batch_for_vessels,
    batch_for_wax,
)
from pourwright.core.formula.limits import (
    Finding,
    OverLimit,
    check_limits,
    oil_pct_of_whole,
    refuse_over_limit,
    strictest_wax_limit,
    unknown_limits,
)
from pourwright.core.formula.load import NO_LOAD, Load, LoadOfWax, LoadOfWhole, LoadOutOfRange
from pourwright.core.formula.melter import BadMelter, Melter, MelterTooSmall, OilGoesIn
from pourwright.core.formula.recipe import BadFormula, Extra, Formula, OilPart, WaxPart
from pourwright.core.formula.rounding import (
    BadDivision,
    NearbyTotal,
    Target,
    Weighing,
    spread,
    weighing_targets,
)

__all__ = [
    "NO_LOAD",
    "Amount",
    "BadBatch",
    "BadDivision",
    "BadFormula",
    "BadMelter",
    "Batch",
    "Extra",
    "Fill",
    "Finding",
    "Formula",
    "Load",
    "LoadOfWax",
    "LoadOfWhole",
    "LoadOutOfRange",
    "Melter",
    "MelterTooSmall",
    "NearbyTotal",
    "OilGoesIn",
    "OilPart",
    "OverLimit",
    "Target",
    "WaxPart",
    "Weighing",
    "batch_for_melter",
    "batch_for_vessels",
    "batch_for_wax",
    "check_limits",
    "oil_pct_of_whole",
    "refuse_over_limit",
    "spread",
    "strictest_wax_limit",
    "unknown_limits",
    "weighing_targets",
]
