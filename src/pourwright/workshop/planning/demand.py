"""What is wanted, as the next plan would take it: orders, market days and shelf targets."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime

from pourwright.core.planning.model import Kind
from pourwright.workshop.designs.models import Design
from pourwright.workshop.designs.services import icon
from pourwright.workshop.planning.models import StockTarget
from pourwright.workshop.planning.problem import number_in, problem_of

KIND_WORDS: dict[Kind, str] = {"order": "order", "market": "market", "stock": "shelf"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """One wish: how many by when, for whom."""

    kind: str
    whose: str
    quantity: int
    due: date
    priority: int


@dataclass(frozen=True, slots=True, kw_only=True)
class OfDesign:
    """A design with what is wanted of it and what there is: ready by the last wish, and later."""

    design: Design
    icon: str
    keep: int | None
    wishes: tuple[Wanted, ...]
    ready: int
    curing: int

    @property
    def wanted(self) -> int:
        return sum(wish.quantity for wish in self.wishes)

    @property
    def short(self) -> int:
        """What must be poured yet, losses not counted."""
        return max(0, self.wanted - self.ready - self.curing)


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    designs: tuple[OfDesign, ...]
    quiet: tuple[Design, ...]
    left_out: tuple[str, ...]


def demand(*, now: datetime) -> Demand:
    """Return what is wanted by design, the most pressing first, and the designs nobody asks for."""
    posed = problem_of(now=now)
    today = posed.problem.today
    wishes: dict[str, list[Wanted]] = defaultdict(list)
    for line in sorted(posed.problem.lines, key=lambda line: line.due):
        wishes[line.product].append(
            Wanted(
                kind=KIND_WORDS[line.kind], whose=line.whose, quantity=line.quantity, due=line.due,
                priority=line.priority,
            )
        )  # fmt: skip
    ready, curing = defaultdict(int), defaultdict(int)
    for lot in posed.problem.lots:
        (ready if lot.ready_on <= today else curing)[lot.product] += lot.quantity
    kept = dict(StockTarget.objects.values_list("design", "qty"))
    found, quiet = [], []
    for key, version in posed.versions.items():
        if not wishes[key]:
            quiet.append(version.design)
            continue
        found.append(
            OfDesign(
                design=version.design, icon=icon(version), keep=kept.get(number_in(key)),
                wishes=tuple(wishes[key]), ready=ready[key], curing=curing[key],
            )
        )  # fmt: skip
    found.sort(key=lambda row: (row.wishes[0].due, row.design.name))
    return Demand(designs=tuple(found), quiet=tuple(quiet), left_out=posed.left_out)
