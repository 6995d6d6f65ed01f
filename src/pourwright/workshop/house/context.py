"""What every template can use without being handed it."""

STATIONS = (
    ("today", "Today"),
    ("stores", "Stores"),
    ("formulas", "Formulas"),
    ("designs", "Designs"),
    ("burns", "Burns"),
    ("planning", "Plan"),
    ("pours", "Pours"),
    ("shelf", "Shelf"),
    ("orders", "Orders"),
    ("trace", "Trace"),
)


# Parts without a station of their own, and the one they belong to.
BELONGS_TO = {"hazard": "stores", "contents": "shelf", "heat": "designs", "panels": "burns"}


def workshop(request):
    """Return the workshop, the spine's stations and which of them this page belongs to."""
    match = request.resolver_match
    here = match.app_names[0] if match and match.app_names else ""
    here = BELONGS_TO.get(here, here)
    if match and match.url_name == "today":
        here = "today"
    return {
        "workshop": getattr(request, "workshop", None),
        "stations": STATIONS,
        "here": here,
    }
