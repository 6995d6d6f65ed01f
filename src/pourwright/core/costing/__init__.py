"""What things cost and what to ask for them, to the last hundredth of a cent."""

from pourwright.core.costing.breakdown import PARTS, Breakdown, each_of, with_loss, with_overhead
from pourwright.core.costing.fifo import Layer, NotEnough, Take, take_fifo
from pourwright.core.costing.price import (
    ImpossiblePrice,
    Price,
    PriceEnding,
    margin_of_markup,
    markup_of_margin,
    price_at,
    price_for_margin,
)
from pourwright.core.costing.work import (
    allocate,
    labour_minor100,
    overhead_minor100,
    spread_freight,
)
from pourwright.core.costing.worth import take_value

__all__ = [
    "PARTS",
    "Breakdown",
    "ImpossiblePrice",
    "Layer",
    "NotEnough",
    "Price",
    "PriceEnding",
    "Take",
    "allocate",
    "each_of",
    "labour_minor100",
    "margin_of_markup",
    "markup_of_margin",
    "overhead_minor100",
    "price_at",
    "price_for_margin",
    "spread_freight",
    "take_fifo",
    "take_value",
    "with_loss",
    "with_overhead",
]
