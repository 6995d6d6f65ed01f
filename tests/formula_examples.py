"""Formulas for tests: invented waxes and oils, with what matters to a test given by hand."""

from collections.abc import Sequence
from fractions import Fraction

from hypothesis import strategies as st

from pourwright.core.formula import (
    NO_LOAD,
    Extra,
    Formula,
    Load,
    LoadOfWax,
    LoadOfWhole,
    OilPart,
    WaxPart,
)


def formula(
    *,
    load: Load | None = None,
    oil_shares: Sequence[int | Fraction | str] = (1,),
    wax_shares: Sequence[int | Fraction | str] = (1,),
    extras: tuple[Extra, ...] = (),
    max_load: Load | None = None,
    oil_limits: Sequence[str | None] | None = None,
    flash_points_c: Sequence[str | None] | None = None,
    adding_temp_c: int | None = None,
) -> Formula:
    limits = oil_limits or [None] * len(oil_shares)
    flashes = flash_points_c or [None] * len(oil_shares)
    return Formula(
        waxes=tuple(
            WaxPart(name=f"wax {number}", share=Fraction(share), max_load=max_load)
            for number, share in enumerate(wax_shares, 1)
        ),
        oils=tuple(
            OilPart(
                name=f"oil {number}",
                share=Fraction(share),
                max_pct_of_whole=None if limit is None else Fraction(limit),
                flash_point_c=None if flash is None else Fraction(flash),
            )
            for number, (share, limit, flash) in enumerate(
                zip(oil_shares, limits, flashes, strict=True), 1
            )
        ),
        load=load or (LoadOfWax(Fraction(6)) if oil_shares else NO_LOAD),
        extras=extras,
        adding_temp_c=None if adding_temp_c is None else Fraction(adding_temp_c),
    )


SHARES = st.lists(st.fractions(Fraction(1, 100), 1000), min_size=1, max_size=12)
LOADS = st.one_of(
    st.fractions(Fraction(1, 100), 30).map(LoadOfWax),
    st.fractions(Fraction(1, 100), 20).map(LoadOfWhole),
)
EXTRAS = st.lists(st.fractions(0, 5), max_size=3).map(
    lambda pcts: tuple(Extra(name=f"extra {n}", pct_of_wax=pct) for n, pct in enumerate(pcts))
)
FORMULAS = st.builds(
    formula, load=LOADS, oil_shares=SHARES, wax_shares=st.lists(st.integers(1, 99), min_size=1,
    max_size=4), extras=EXTRAS,
)  # fmt: skip
