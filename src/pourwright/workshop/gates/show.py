"""A gate as a page shows it: its checks, whether it may be released, and what was decided."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.urls import reverse

from pourwright.core import release as core
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.gates import services
from pourwright.workshop.gates.models import Decision
from pourwright.workshop.stores.models import Lot

KINDS = {"design": DesignVersion, "lot": Lot}


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate:
    """
    Everything that ``gates/_gate.html`` needs. ``decided`` is what the newest decision says;
    ``released`` whether that still holds.
    """

    kind: str
    pk: int
    checks: tuple[core.Check, ...]
    decided: bool
    released: bool
    passed: bool
    taken_back: tuple[str, ...]
    decisions: tuple[Decision, ...]

    @property
    def tone(self) -> str:
        if self.released:
            return "ok"
        if any(check.state == "refused" for check in self.checks):
            return "bad"
        return "warn" if self.decided or self.withdrawn else "wait"

    @property
    def word(self) -> str:
        if self.released:
            return "released"
        if self.decided:
            return "release no longer valid"
        return "release withdrawn" if self.withdrawn else "not released"

    @property
    def withdrawn(self) -> bool:
        last = next((d for d in self.decisions if d.what in services.RELEASE), None)
        return last is not None and last.what == Decision.What.WITHDRAWN


def gate_of(subject: services.Subject, *, on: date) -> Gate:
    """Return the gate of a design version or a lot as it stands on a day, newest decision first."""
    checks = tuple(services.checks_of(subject, on=on))
    decisions = tuple(services.decisions_on(subject).order_by("-id"))
    titles = {check.name: check.title for check in checks}
    for decision in decisions:
        decision.title = titles.get(decision.check_name, decision.check_name)
    decided = services.decided(subject)
    return Gate(
        kind="design" if isinstance(subject, DesignVersion) else "lot",
        pk=subject.pk,
        checks=checks,
        decided=decided,
        released=decided and core.passes(checks),
        passed=core.passes(checks),
        # A reason on the formula is changed there, not here.
        taken_back=tuple(services.standing_waivers(subject)),
        decisions=decisions,
    )


def page_of(subject: services.Subject) -> str:
    """Return the address of the page that shows this gate."""
    if isinstance(subject, DesignVersion):
        return reverse("designs:design", args=[subject.design_id]) + "#gate"
    return reverse("shelf:lot", args=[subject.code]) + "#gate"
