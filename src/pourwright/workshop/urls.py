"""Every page, by the part of the spine it belongs to."""

from django.urls import include, path

PARTS = (
    "stores", "hazard", "formulas", "designs", "burns", "heat", "gates", "pours", "contents",
    "labels", "shelf", "orders", "panels", "planning", "trace",
)  # fmt: skip

urlpatterns = [
    path("", include("pourwright.workshop.house.urls")),
    *(path(f"{part}/", include(f"pourwright.workshop.{part}.urls")) for part in PARTS),
]

handler404 = "pourwright.workshop.house.views.not_found"
handler500 = "pourwright.workshop.house.views.broken"
