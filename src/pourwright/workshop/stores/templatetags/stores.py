"""What the stores' pages say of moves and prices."""

from __future__ import annotations

from fractions import Fraction

from django import template

from pourwright.core import amounts
from pourwright.workshop.stores.words import in_words

register = template.Library()
NOTHING = "–"


@register.simple_tag(takes_context=True)
def unit_price(context, value, qty, item):
    """Show what a kilogram, a pound or a piece comes to: value by quantity, as the item is kept."""
    if not qty or value is None:
        return NOTHING
    workshop = context.get("workshop")
    currency = workshop.currency if workshop else "USD"
    if not item.by_mass:
        each = round(Fraction(value, qty))
        return f"{amounts.show_money(each, currency=currency, places=_places(each, currency))} each"
    us = workshop is not None and workshop.units == "us"
    unit_mg = amounts.LB_G * 1000 if us else Fraction(1_000_000)
    each = round(Fraction(value, qty) * unit_mg)
    return f"{amounts.show_money(each, currency=currency)} / {'lb' if us else 'kg'}"


def _places(each: int, currency: str) -> int | None:
    """Show small prices to the hundredth of the minor unit: a label costs less than a cent."""
    digits = amounts.minor_digits(currency)
    return digits + 2 if each % 100 and each < 10 ** (digits + 2) else None


@register.simple_tag
def moved(move, kind):
    """Say what a move did, to stand after its quantity."""
    return in_words(kind=kind, from_place=move.from_place, to_place=move.to_place, qty=move.qty)
