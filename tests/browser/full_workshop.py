"""
Fill a data folder's empty workshop full of life: the demo's first months, which take seconds.

Run as a program, with the folder as its one argument: it sets up a Django of its own.
"""

import os
import sys
from pathlib import Path

DAYS = 240


def main(folder: str) -> None:
    os.environ["POURWRIGHT_DATA"] = folder
    os.environ["DJANGO_SETTINGS_MODULE"] = "pourwright.workshop.settings"
    import django

    django.setup()
    from pourwright.workshop import demo
    from pourwright.workshop.demo import life

    life.DAYS = DAYS
    demo.build()
    bring_in_a_sheet()


def bring_in_a_sheet() -> None:
    """Leave an oil's sheet read and waiting to be confirmed, its pages beside the form."""
    from django.utils import timezone

    sys.path.insert(0, str(Path(__file__).parents[1]))
    from intake.sheets.making import make
    from pourwright.intake.sheets import read_sheet
    from pourwright.workshop.hazard import drafts, keeping
    from pourwright.workshop.hazard.models import Made
    from pourwright.workshop.stores.models import Item

    content, at = make("ruled grid", seed=3).data, timezone.now()
    reading = read_sheet(content)
    keeping.begin(
        Item.objects.filter(kind="oil").order_by("name").first(),
        made=Made.SHEET,
        at=at,
        typed=drafts.typed_from(reading),
        reading=drafts.places_of(reading),
        sheet=keeping.keep_sheet(content, name="sheet.pdf", at=at, pages=reading.page_count),
    )


if __name__ == "__main__":
    main(sys.argv[1])
