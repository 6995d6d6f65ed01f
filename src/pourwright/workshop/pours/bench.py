"""
The bench: a pour as one thing after another, resumable at any time because the records say so.

A step is done when its record is there; nothing is kept in the browser.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from pourwright.core.amounts import System
from pourwright.papers.pour_sheet import scale_number
from pourwright.papers.svg import Markup, el, picture
from pourwright.workshop.formulas.services import facts_of
from pourwright.workshop.pours.models import Filling, Pitcher, Pour, Reading, Step, Take, Use
from pourwright.workshop.pours.oils import oils_over_limit
from pourwright.workshop.pours.planning import waxes_of


@dataclass(slots=True, kw_only=True)
class BenchStep:
    """One thing to do. ``kind`` is ready, weigh, draw, temp or close; ``key`` names it."""

    key: str
    kind: str
    title: str
    done: bool
    take: Take | None = None
    filling: Filling | None = None
    pitcher: Pitcher | None = None
    reading: str = ""
    recorded: Reading | None = None
    target_c: Decimal | None = None
    minutes: Decimal | None = None
    pieces: Sequence[Take] = ()
    cautions: Sequence[str] = field(default_factory=tuple)
    flashes: Sequence[tuple[str, Decimal]] = ()
    hot: bool = False

    @property
    def asks_minutes(self) -> bool:
        return self.reading == Step.STIR

    @property
    def flash_reached(self) -> bool:
        """Return whether the oil goes in at or above a flash point, by plan."""
        return self.target_c is not None and any(self.target_c >= at for _, at in self.flashes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Temperatures:
    """What the melt's waxes ask for, in °C; the strictest of a blend."""

    melt_to: Decimal | None
    never_above: Decimal | None
    add_at: Decimal | None
    pour_at: Decimal | None
    set_hours: Decimal | None


def temperatures(pour: Pour, pitchers: Sequence[Pitcher]) -> Temperatures:
    version = version_of(pitchers[0])
    facts = [facts_of(item, "wax") for item, _ in waxes_of(version).values()]
    known = [fact for fact in facts if fact is not None]

    def one(name: str, choose):
        return choose((v for f in known if (v := getattr(f, name)) is not None), default=None)

    return Temperatures(
        melt_to=one("melt_to_c", max),
        never_above=one("never_above_c", min),
        add_at=one("add_at_c", min),
        pour_at=one("pour_at_c", min),
        set_hours=one("set_hours", max),
    )


def version_of(pitcher: Pitcher):
    """Return the pitcher's formula version; a plain one's is that of what is poured from it."""
    return pitcher.formula_version or pitcher.fillings.all()[0].design_version.formula_version


def load(pour: Pour) -> tuple[list[Pitcher], list[Take], list[Reading]]:
    """Return the pour's pitchers with fillings, its takes and readings, in a few queries."""
    pitchers = list(
        pour.pitchers.select_related("formula_version__formula", "left_lot").prefetch_related(
            "fillings__design_version__design",
            "fillings__design_version__vessel__vessel",
            "fillings__design_version__wick",
            "fillings__design_version__formula_version__formula",
            "fillings__design_version__formula_version__waxes__item__wax",
            "fillings__design_version__formula_version__oils__item__oil",
            "fillings__design_version__formula_version__extras__item",
            "fillings__lot",
            "fillings__seconds_lot",
        )
    )
    takes = list(pour.takes.select_related("item__oil", "lot", "filling__design_version__design"))
    readings = list(pour.readings.select_related("pitcher"))
    return pitchers, takes, readings


def steps_of(pour: Pour) -> list[BenchStep]:
    """Return every step in the order of the work; the last one closes the pour."""
    pitchers, takes, readings = load(pour)
    last = {(reading.step, reading.pitcher_id): reading for reading in readings}
    warm = temperatures(pour, pitchers)

    def temp(step: str, title: str, pitcher: Pitcher | None = None, **more) -> BenchStep:
        recorded = last.get((step, pitcher.pk if pitcher else None))
        key = step if pitcher is None else f"{step}-{pitcher.position}"
        return BenchStep(
            key=key,
            kind="temp",
            title=title,
            done=recorded is not None,
            reading=step,
            pitcher=pitcher,
            recorded=recorded,
            **more,
        )

    steps = [temp(Step.ROOM, "How warm is the room?")]
    for pitcher in pitchers:
        steps += [_ready(filling, takes) for filling in pitcher.fillings.all()]
    steps += [_weigh(take, "Into the melter") for take in takes if take.use == Use.WAX]
    steps.append(temp(Step.MELT, "Melt the wax", target_c=warm.melt_to, hot=True))
    for pitcher in pitchers:
        steps += _pitcher_steps(pour, pitcher, pitchers, takes, warm, temp)
    steps.append(temp(Step.SET, "Let it set"))
    steps.append(BenchStep(key="close", kind="close", title="Count and close", done=False))
    return steps


def _pitcher_steps(pour, pitcher, pitchers, takes, warm, temp) -> list[BenchStep]:
    name = pitcher_name(pitcher)
    own = [take for take in takes if take.pitcher_id == pitcher.pk and take.use != Use.PIECE]
    version = version_of(pitcher)
    steps = []
    extra = sum(t.target for t in takes if t.use == Use.WAX) > sum(p.wax_mg for p in pitchers)
    if len(pitchers) > 1 or extra:
        steps.append(
            BenchStep(
                key=f"draw-{pitcher.position}",
                kind="draw",
                title=f"Draw off wax for {name}",
                done=pitcher.wax_drawn_mg is not None,
                pitcher=pitcher,
                hot=True,
            )
        )
    flashes = [
        (take.item.name, facts.flash_point_c)
        for take in own
        if take.use == Use.OIL
        and (facts := facts_of(take.item, "oil"))
        and facts.flash_point_c is not None
    ]
    flashes = list(dict.fromkeys(flashes))
    for take in own:
        steps.append(_weigh(take, name, flashes=[f for f in flashes if f[0] == take.item.name]))
    if own:
        add_at = version.add_at_c or warm.add_at
        steps.append(
            temp(Step.ADD, f"Add to {name}", pitcher, target_c=add_at, flashes=flashes, hot=True)
        )
        steps.append(
            temp(Step.STIR, f"Stir {name}", pitcher, minutes=version.stir_minutes, hot=True)
        )
    pour_at = version.pour_at_c or warm.pour_at
    steps.append(temp(Step.POUR, f"Pour {name}", pitcher, target_c=pour_at, hot=True))
    return steps


def pitcher_name(pitcher: Pitcher) -> str:
    if pitcher.formula_version is None:
        return "the plain wax"
    return pitcher.formula_version.formula.name


def _ready(filling: Filling, takes: Sequence[Take]) -> BenchStep:
    pieces = [take for take in takes if take.filling_id == filling.pk]
    return BenchStep(
        key=f"ready-{filling.pk}",
        kind="ready",
        title=f"Lay out {filling.wanted} × {filling.design_version.design.name}",
        done=all(take.weighed_at for take in pieces),
        filling=filling,
        pieces=pieces,
    )


def _weigh(take: Take, where: str, *, flashes: Sequence = ()) -> BenchStep:
    return BenchStep(
        key=f"weigh-{take.pk}",
        kind="weigh",
        title=where,
        done=take.actual is not None,
        take=take,
        flashes=flashes,
    )


def current(steps: Sequence[BenchStep], key: str | None) -> int:
    """Return the place of the step asked for; else of the first that is not done."""
    for place, step in enumerate(steps):
        if key and step.key == key:
            return place
    return next(place for place, step in enumerate(steps) if not step.done)


def following(steps: Sequence[BenchStep], place: int) -> BenchStep:
    """Return the next step not done after this place, else the first one not done."""
    later = [step for step in steps[place + 1 :] if not step.done]
    return later[0] if later else next(step for step in steps if not step.done)


# --- what a weight means -------------------------------------------------------------------------


def over_limit(pour: Pour, pitcher: Pitcher) -> list[str]:
    """Return the oils over their safety limit, by the weights so far and targets for the rest."""
    takes = list(
        pour.takes.filter(pitcher=pitcher)
        .exclude(use=Use.PIECE)
        .select_related("item__oil", "lot__item")
    )
    weighed = [(take, take.target if take.actual is None else take.actual) for take in takes]
    wax = pitcher.wax_drawn_mg if pitcher.wax_drawn_mg is not None else pitcher.wax_mg
    return oils_over_limit(weighed, wax_mg=wax)


BAR_W, BAR_H = 360, 58


def tolerance_bar(take: Take, *, division_mg: int, units: System) -> Markup:
    """Return the weighing's bar: where the weight may lie, and where it lies once it is known."""
    unit = "oz" if units == "us" else "g"

    def shown(mg: int) -> str:
        return scale_number(max(mg, 0), division_mg=division_mg, units=units)

    low, high = max(take.target - take.tolerance, 0), take.target + take.tolerance
    reach = max(4 * take.tolerance, 1)

    def x(mg: int) -> float:
        place = (mg - take.target) / reach
        return BAR_W / 2 + max(min(place, 1), -1) * (BAR_W / 2 - 8)

    body = [
        el("rect", x=0, y=20, width=BAR_W, height=12, rx=6, class_="tol-track"),
        el("rect", x=x(low), y=16, width=x(high) - x(low), height=20, rx=3, class_="tol-window"),
        el("line", x1=BAR_W / 2, x2=BAR_W / 2, y1=13, y2=39, class_="tol-target"),
        el(
            "text", f"{shown(low)} to {shown(high)} {unit}", x=BAR_W / 2, y=54,
            text_anchor="middle", font_size=14,
        ),
    ]  # fmt: skip
    words = f"Target {shown(take.target)} {unit}, allowed {shown(low)} to {shown(high)}"
    if take.actual is not None:
        at = x(take.actual)
        body.append(el("circle", cx=at, cy=26, r=8, class_="tol-mark"))
        anchor = "start" if at < 40 else "end" if at > BAR_W - 40 else "middle"
        body.append(
            el("text", shown(take.actual), x=at, y=12, text_anchor=anchor, font_size=14,
               class_="tol-words")
        )  # fmt: skip
        words += f", weighed {shown(take.actual)}"
    return picture(
        *body, width=BAR_W, height=BAR_H, prefix="tolerance", title="Tolerance", desc=words + "."
    )
