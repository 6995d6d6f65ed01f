"""What every page needs of the workshop, read once a request."""

from datetime import datetime
from zoneinfo import ZoneInfo

from django.utils import timezone

from pourwright.workshop.house.models import Workshop


def workshop(get_response):
    """Middleware: put the workshop on the request and set the maker's own time zone."""

    def middleware(request):
        request.workshop = Workshop.load()
        timezone.activate(own_time_zone(request.workshop))
        return get_response(request)

    return middleware


def own_time_zone(workshop: Workshop):
    """Return the workshop's time zone; without one, that of this machine's clock."""
    if workshop.time_zone:
        return ZoneInfo(workshop.time_zone)
    return datetime.now().astimezone().tzinfo
