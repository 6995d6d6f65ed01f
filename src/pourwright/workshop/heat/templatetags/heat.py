"""How a model's figures are shown: in the workshop's units, no finer than it knows."""

from django import template

from pourwright.core.amounts import show_length, show_temperature
from pourwright.workshop.heat.materials import fraction_of
from pourwright.workshop.house.templatetags.amounts import NOTHING

register = template.Library()


def _units(context) -> str:
    workshop = context.get("workshop")
    return workshop.units if workshop else "metric"


def span_words(hours: float) -> str:
    """Return hours as a clock tells them; a model knows no seconds."""
    whole = round(hours * 60)
    return f"{whole // 60} h {whole % 60:02d} min" if whole >= 60 else f"{whole} min"


@register.simple_tag
def span(hours):
    return NOTHING if hours is None else span_words(hours)


@register.simple_tag
def minutes(value):
    return NOTHING if value is None else span_words(value / 60)


@register.simple_tag(takes_context=True)
def warmth(context, celsius):
    """Show a modelled temperature to the whole degree."""
    if celsius is None:
        return NOTHING
    units = _units(context)
    if units == "us":
        return f"{celsius * 9 / 5 + 32:.0f} °F"
    return show_temperature(fraction_of(celsius, 1), units)


@register.simple_tag(takes_context=True)
def size(context, mm):
    """Show a modelled length to the whole millimetre, or to a twentieth of an inch."""
    if mm is None:
        return NOTHING
    units = _units(context)
    return show_length(fraction_of(mm, 1), units) if units == "metric" else f"{mm / 25.4:.2f} in"


@register.simple_tag(takes_context=True)
def pace(context, k_min):
    """Show a cooling rate."""
    if k_min is None or k_min != k_min:
        return NOTHING
    if _units(context) == "us":
        return f"{k_min * 1.8:.1f} °F/min"
    return f"{k_min:.1f} °C/min"


@register.simple_tag(takes_context=True)
def grams(context, value):
    """Show a modelled mass."""
    if value is None:
        return NOTHING
    return f"{value:.0f} g" if _units(context) == "metric" else f"{value / 28.349523125:.2f} oz"


@register.simple_tag
def lastshare(values):
    return share(values[-1])


@register.simple_tag(takes_context=True)
def lastsize(context, values):
    return size(context, values[-1])


@register.simple_tag(takes_context=True)
def lastwarmth(context, values):
    return warmth(context, max(values))


@register.simple_tag
def kilojoules(joules):
    return f"{joules / 1000:,.0f} kJ"


@register.simple_tag
def share(value):
    return f"{value:.0%}".replace("%", " %")


WORDS = {
    "movable_h": "could be moved after", "set_through_h": "set through after",
    "pool_mm": "pool", "depth_mm": "pool’s depth", "wall_c": "hottest wall",
    "touches_h": "reaches the wall after", "burned_g": "burned",
}  # fmt: skip


@register.simple_tag
def foretold_words(name):
    """Return what a forecast's value is, such as ``pool_mm 2.0``: the pool after two hours."""
    kind, _, hours = name.partition(" ")
    words = WORDS.get(kind, kind)
    return f"{words} after {float(hours):g} h" if hours else words


@register.simple_tag(takes_context=True)
def foretold(context, name, value):
    """Show a forecast's value by its name's unit."""
    kind = name.partition(" ")[0]
    if value is None:
        return NOTHING
    if kind.endswith("_h"):
        return span_words(value)
    if kind.endswith("_mm"):
        return size(context, value)
    if kind.endswith("_c"):
        return warmth(context, value)
    if kind.endswith("_g"):
        return f"{value:.1f} g" if _units(context) == "metric" else f"{value / 28.349523125:.2f} oz"
    return f"{value:.3g}"


@register.simple_tag(takes_context=True)
def foretold_range(context, name, low, high):
    """Show a range with its unit once."""
    ends = [foretold(context, name, value) for value in (low, high)]
    if name.partition(" ")[0].endswith(("_mm", "_c", "_g")):
        ends[0] = ends[0].replace("\u202f", " ").replace("\xa0", " ").partition(" ")[0]
    return f"{ends[0]} to {ends[1]}"
