"""What can be promised, asked of the plan that is followed as it stands now."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from pourwright.workshop.designs.models import Design
from pourwright.workshop.planning.models import Means, Plan
from pourwright.workshop.planning.problem import problem_of, product_key
from pourwright.workshop.planning.services import CannotPlanAhead, as_it_stands, followed

if TYPE_CHECKING:
    from pourwright.core.planning.latest_start import LatestStart
    from pourwright.core.planning.promise import Promise


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Whether it can be promised, and when its pouring must begin at the latest."""

    design: Design
    quantity: int
    by: date
    promise: Promise
    start: LatestStart | None
    plan: Plan


def promise(*, now: datetime, design: Design, quantity: int, by: date) -> Answer:
    """
    Return what can be promised of a design by a day, without making anything promised late.

    Raises ``CannotPlanAhead`` where no plan is followed or the day is past.
    """
    from pourwright.core.planning.ground import BadPlan
    from pourwright.core.planning.promise import promise_and_start

    plan = followed()
    if plan is None:
        raise CannotPlanAhead("No plan is followed yet: make one, and follow it.")
    if by < now.date():
        raise CannotPlanAhead(f"{by.day} {by:%B %Y} is past; give a day from today on.")
    posed = problem_of(now=now, until=max(by, plan.until_on), followed=plan)
    product = product_key(design.pk)
    if product not in posed.versions:
        raise CannotPlanAhead(f"{design.name} cannot be planned: it has no version.")
    standing = as_it_stands(plan, posed)
    spare = Means.load().spare_sessions
    try:
        answer, start = promise_and_start(
            posed.problem, standing, product=product, quantity=quantity, by=by,
            spare_sessions=spare,
        )  # fmt: skip
    except BadPlan as problem:
        raise CannotPlanAhead(
            f"{plan.number} no longer fits what there is, so nothing can be promised by it. Plan "
            f"anew, and ask again. ({problem})"
        ) from problem
    return Answer(
        design=design, quantity=quantity, by=by, plan=plan, promise=answer, start=start
    )  # fmt: skip
