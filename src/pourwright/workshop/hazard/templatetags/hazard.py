"""What other parts' pages show of compositions, without their views having to know of them."""

from __future__ import annotations

from django import template

from pourwright.workshop.hazard import show
from pourwright.workshop.hazard.models import MELTED_KINDS
from pourwright.workshop.house import doors
from pourwright.workshop.house.models import Workshop

register = template.Library()


@register.inclusion_tag("hazard/_section.html", takes_context=True)
def composition_section(context, item):
    """Show on an item's page what it is made of; nothing for what does not melt into a candle."""
    melted = item.kind in MELTED_KINDS
    workshop = context.get("workshop") or Workshop.load()
    return {
        "workshop": workshop,
        "item": item,
        "melted": melted,
        "known": show.known_of(item, on=doors.today(), workshop=workshop) if melted else None,
    }
