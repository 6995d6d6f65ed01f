"""A workshop whose candle's label is ready to print, for tests of the label pages and commands."""

from django.utils import timezone

from candle_examples import Bench, lot_of, pour, set_up_bench
from composition_examples import LINALOOL, confirmed
from pourwright.workshop.designs import queries
from pourwright.workshop.stores.models import Lot


def a_maker(workshop, markets: str = "us,gb"):
    """Enter who stands on the label."""
    workshop.markets = markets
    workshop.name = "Lanternwick Works"
    workshop.street, workshop.place, workshop.country = "12 Cooper Row", "Eastmere EM2 4QT", "GB"
    workshop.telephone, workshop.electronic = "+44 1632 960134", "post@lanternwick.example"
    workshop.save()
    return workshop


def a_bench(workshop, markets: str = "us,gb") -> Bench:
    """Set up the maker, and a candle of which all that a label asks for is known."""
    a_maker(workshop, markets)
    bench = set_up_bench()
    confirmed(bench.items["oil"], {**LINALOOL, "share": "3"})
    bench.version = queries.versions_with_all().get(pk=bench.version.pk)
    bench.version.declared = "7.5 oz (212 g)"
    bench.version.save()
    return bench


def a_lot(bench: Bench, good: int = 6) -> Lot:
    return lot_of(pour(bench, good=good, on=timezone.localdate()))
