"""
How pages show amounts: in the workshop's units and currency, from the records' integers.

Tags take the context, so that a template never has to say which units the workshop works in:
``{% mass mg %}``, ``{% qty amount item %}``, ``{% money value %}``, ``{% temp c %}``.
Within a ledger column the unit stands in the head: ``{% unit item %}`` there and ``{% bare … %}``.
"""

from fractions import Fraction

from django import template
from django.utils.html import format_html
from django.utils.safestring import mark_safe

from pourwright.core import amounts

register = template.Library()
NOTHING = "–"


def _units(context) -> str:
    workshop = context.get("workshop")
    return workshop.units if workshop else "metric"


@register.simple_tag(takes_context=True)
def mass(context, mg, style="plain"):
    """Show milligrams as the workshop weighs."""
    if mg is None or mg == "":
        return NOTHING
    return amounts.show_mass(amounts.from_mg(int(mg)), _units(context), style=style)


@register.simple_tag(takes_context=True)
def qty(context, amount, item):
    """Show a quantity of an item: a mass, or a number of pieces."""
    if amount is None or amount == "":
        return NOTHING
    if item.by_mass:
        return mass(context, amount)
    return amounts.number(int(amount), places=0)


@register.simple_tag(takes_context=True)
def bare_mass(context, mg, places=None):
    """Show milligrams as a number alone, in the unit that ``mass_unit`` puts in the head."""
    if mg is None or mg == "":
        return NOTHING
    us = _units(context) == "us"
    if places is None:
        places = 2 if us else 1
    return amounts.mass_number(amounts.from_mg(int(mg)), "oz" if us else "g", places)


@register.simple_tag(takes_context=True)
def mass_unit(context):
    return "oz" if _units(context) == "us" else "g"


@register.simple_tag(takes_context=True)
def money(context, minor100, places=None):
    """Show money, kept in hundredths of the minor unit, in the workshop's currency."""
    if minor100 is None or minor100 == "":
        return NOTHING
    workshop = context.get("workshop")
    currency = workshop.currency if workshop else "USD"
    return amounts.show_money(int(minor100), currency=currency, places=places)


@register.simple_tag(takes_context=True)
def temp(context, celsius):
    if celsius is None or celsius == "":
        return NOTHING
    return amounts.show_temperature(Fraction(celsius), _units(context))


@register.simple_tag(takes_context=True)
def length(context, mm):
    if mm is None or mm == "":
        return NOTHING
    return amounts.show_length(Fraction(mm), _units(context))


@register.simple_tag(takes_context=True)
def volume(context, ml):
    if ml is None or ml == "":
        return NOTHING
    return amounts.show_volume(Fraction(ml), _units(context))


@register.filter
def pct(value, places=2):
    """Show a percentage."""
    return (
        NOTHING
        if value is None or value == ""
        else amounts.show_percent(Fraction(value), places=places)
    )


@register.filter
def bare_pct(value, places=2):
    """Show a percentage as a number alone, for a column or a sentence that carries the unit."""
    if value is None or value == "":
        return NOTHING
    return amounts.number(Fraction(value), places=places)


@register.filter
def day(value):
    """Show a date as ``24 Nov 2026``, the same for every reader."""
    return f"{value.day} {value:%b %Y}" if value else NOTHING


@register.filter
def shortday(value):
    """Show a date as ``Sat 24 Nov``, where the year is plain."""
    return f"{value:%a} {value.day} {value:%b}" if value else NOTHING


# State: word and shape first, colour last.
SHAPES = {"ok": "●", "warn": "▲", "bad": "■", "wait": "○", "quiet": "·"}


@register.simple_tag
def state(tone, word):
    """Show a state as a pill: ``{% state "warn" "2 burns to go" %}``."""
    return format_html(
        '<span class="state {}"><span aria-hidden="true">{}</span> {}</span>',
        tone,
        SHAPES[tone],
        word,
    )


@register.simple_tag
def figure(kind):
    """Say what a figure is: measured, published, supplier's word, modelled, common practice."""
    return format_html('<span class="src">{}</span>', kind)


@register.filter
def svg(markup):
    """Put a drawing made by ``papers`` on the page as it is."""
    return mark_safe(markup) if markup else ""
