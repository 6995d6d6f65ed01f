"""What stands beside every figure of a simulation."""

from __future__ import annotations

SCREENING = (
    "A screening estimate. It helps to decide what to test next, never what not to test, and it "
    "passes no candle."
)
UNVERIFIED = (
    "Unverified: not fitted to any burn of yours. Expect a pool off by a seventh of its width and "
    "a wall off by several kelvin, or more."
)
SETTING_UNVERIFIED = (
    "Unverified: no cooling of yours was compared. Expect times off by a seventh, or more."
)
NOT_MODELLED = (
    "flames that lean together and feed each other",
    "mushrooming, debris in the pool, a leaning or drowned wick",
    "draught, soot, smoke and scent",
    "the hot gas along the dry wall; glass stress and cracks",
    "a second flame, a pool that flashes, a flame that relights",
    "a fresh start on a warm candle",
)
SETTING_NOT_MODELLED = (
    "how much the wax shrinks where: the last place to set ranks alternatives and is no volume",
    "frosting, wet spots and cracks",
    "the stirring of the liquid by its own warmth, unless you give a factor for it",
)
BURN_CAUTION = (
    "Test burns are attended all the time, on a fire-proof surface, apart from each other and from "
    "all that can burn, with an extinguisher at hand. Check the result against the rule's current "
    "text and, where unsure, a competent adviser."
)
MELT_CAUTION = (
    "Never leave melting wax. Keep it well below its flash point, use no open flame, and smother a "
    "wax fire: never put water on it."
)
SETTING_CAUTION = "Liquid wax burns the skin: move no vessel before it may be moved."
