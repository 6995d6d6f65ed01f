"""A panel as its pages show it: beforehand, its result in plain words, and throw by cure."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

from pourwright.core.panels import (
    FEW_FOR_PREFERENCE,
    Ranking,
    Triangle,
    rank_lsd,
    rank_panel,
    triangle_assessors,
    triangle_needed,
    triangle_power,
)
from pourwright.core.rules import Rule, rule
from pourwright.core.throw_by_cure import ahead_share, growth
from pourwright.papers import panel_charts, panel_sheets
from pourwright.workshop.designs.models import Design
from pourwright.workshop.panels import queries
from pourwright.workshop.panels.models import Asks, Panel, PanelKind, Scent
from pourwright.workshop.panels.services import names_of, result_of

WIDE_PX, NARROW_PX = 620, 330
FIRST_MEANS = {Asks.STRENGTH: "throws most", Asks.LIKING: "liked most", Asks.OTHER: "first"}


def beforehand(
    *, kind: str, assessors: int, candles: int, alpha: float, tell_pct: Decimal | None,
    power_pct: Decimal | None, asks: str = Asks.STRENGTH,
) -> list[str]:  # fmt: skip
    """Return what a panel of this size can show, in sentences, before anybody smells."""
    if kind == PanelKind.RANKING:
        lsd = rank_lsd(assessors=assessors, candles=candles, alpha=alpha)
        said = [
            f"With {assessors} assessors and {candles} candles each rank sum lies between "
            f"{assessors} and {assessors * candles}, and two must be more than {lsd:.1f} apart to "
            f"count: {lsd / assessors:.1f} places on average."
        ]
        if not rank_panel([list(range(1, candles + 1))] * assessors, alpha=alpha).differ:
            said.append("So few can show nothing, whatever they say: ask more.")
        if asks == Asks.LIKING and assessors < FEW_FOR_PREFERENCE:
            said.append(
                f"What people like takes {FEW_FOR_PREFERENCE} or more; fewer speak for themselves."
            )
        return said
    return _triangle_beforehand(assessors, alpha, tell_pct, power_pct)


def _triangle_beforehand(assessors, alpha, tell_pct, power_pct) -> list[str]:
    needed = triangle_needed(assessors=assessors, alpha=alpha)
    if needed is None:
        return [f"{assessors} assessors are too few: even all right could be guessing. Ask more."]
    said = [f"{needed} of {assessors} must name the odd one to show that the two differ."]
    if tell_pct is None:
        return said
    share, sure = float(tell_pct) / 100, float(power_pct or 90) / 100
    power = triangle_power(assessors=assessors, tell=share, alpha=alpha)
    enough = triangle_assessors(tell=share, power=sure, alpha=alpha)
    said.append(
        f"If {100 * share:g} % of people can tell them apart, {100 * power:.0f} % of such panels "
        "show it."
    )
    said.append(
        f"To be {100 * sure:g} % sure takes {enough} assessors."
        if enough
        else f"To be {100 * sure:g} % sure takes more than 500 assessors."
    )
    return said


def beforehand_of(panel: Panel) -> list[str]:
    return beforehand(
        kind=panel.kind, assessors=panel.planned, candles=panel.candles.count(),
        alpha=float(panel.alpha), tell_pct=panel.tell_pct, power_pct=panel.power_pct,
        asks=panel.asks,
    )  # fmt: skip


# --- a closed panel ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A closed panel's result: its verdict and words, the chart twice, the table's rows."""

    verdict: str
    tone: str
    word: str
    says: tuple[str, ...]
    wide: str
    narrow: str
    head: tuple[str, ...]
    rows: list[tuple[str, ...]]
    figures: list[tuple[str, str]]
    pairs: list[tuple[str, str, str]] = field(default_factory=list)
    table: Rule | None = None


def result_shown(panel: Panel) -> Shown:
    found = result_of(panel)
    return _ranking(panel, found) if isinstance(found, Ranking) else _triangle(panel, found)


def _verdict(apart: bool) -> tuple[str, str, str]:
    if apart:
        return "The panel could tell them apart.", "ok", "told apart"
    return (
        "No difference was shown: that is not proof that there is none.", "quiet",
        "no difference shown",
    )  # fmt: skip


def _ranking(panel: Panel, found: Ranking) -> Shown:
    verdict, tone, word = _verdict(found.differ)
    if found.differ and len(found.candles) > 2:
        verdict = "The panel could tell some of them apart."
    first = FIRST_MEANS[panel.asks]
    placed = [
        panel_charts.Placed(name=name, rank_sum=total)
        for name, total in zip(found.candles, found.rank_sums, strict=True)
    ]
    desc = f"{found.says[0]} Two count as different more than {found.lsd:.1f} apart."
    wide, narrow = (
        str(
            panel_charts.rank_sums_svg(
                placed, assessors=found.assessors, lsd=found.lsd, desc=desc, first_means=first,
                title=f"Rank sums of panel {panel.number}", width=width, prefix=f"ranks-{width}",
            )
        )
        for width in (WIDE_PX, NARROW_PX)
    )  # fmt: skip
    rows = sorted(zip(found.candles, found.rank_sums, strict=True), key=lambda candle: candle[1])
    by_chance = f"{100 * found.p:.1f} %" if found.p >= 0.001 else "under 0.1 %"
    says = [
        f"People who only guess would differ this much in {by_chance} of such panels.",
        *found.says[2:],
    ]
    if panel.asks == Asks.LIKING and found.assessors < FEW_FOR_PREFERENCE:
        says.append(
            f"What people like takes {FEW_FOR_PREFERENCE} or more assessors; these speak for "
            "themselves."
        )
    return Shown(
        verdict=verdict,
        tone=tone,
        word=word,
        says=tuple(says),
        wide=wide,
        narrow=narrow,
        head=("Candle", "Sum of ranks", "Mean place"),
        rows=[(name, f"{total:g}", f"{total / found.assessors:.2f}") for name, total in rows],
        figures=[
            ("Assessors", f"{found.assessors} of {panel.planned} planned"),
            ("Friedman’s F", f"{found.friedman:.2f}"),
            ("p", _chance(found.p)),
            ("Counts as different", f"more than {found.lsd:.1f} apart"),
        ],
        pairs=[
            (
                f"{pair.first} and {pair.second}",
                f"{abs(pair.difference):g}",
                "told apart" if pair.differs else "not told apart",
            )
            for pair in found.pairs
        ],
        table=rule("quality/panels", on=panel.on),
    )


def _triangle(panel: Panel, found: Triangle) -> Shown:
    verdict, tone, word = _verdict(bool(found.differ))
    assert found.correct is not None
    assert found.needed is not None
    assert found.p is not None
    desc = (
        f"{found.correct} of {found.assessors} named the odd one; {found.needed} were needed; "
        f"guessing gives about {found.assessors / 3:.0f}."
    )
    wide, narrow = (
        str(
            panel_charts.right_answers_svg(
                correct=found.correct, assessors=found.assessors, needed=found.needed, desc=desc,
                title=f"Right answers of panel {panel.number}", width=width,
                prefix=f"right-{width}",
            )
        )
        for width in (WIDE_PX, NARROW_PX)
    )  # fmt: skip
    return Shown(
        verdict=verdict,
        tone=tone,
        word=word,
        says=found.says[1:],
        wide=wide,
        narrow=narrow,
        head=("Answers", "Number"),
        rows=[
            ("Right", f"{found.correct}"),
            ("Wrong", f"{found.assessors - found.correct}"),
            ("Right answers needed", f"{found.needed}"),
            ("Expected by guessing", f"{found.assessors / 3:.1f}"),
        ],
        figures=[
            ("Assessors", f"{found.assessors} of {panel.planned} planned"),
            ("Right", f"{found.correct}"),
            ("Needed", f"{found.needed}"),
            ("p", _chance(found.p)),
        ],
        table=rule("quality/panels", on=panel.on),
    )


def _chance(p: float) -> str:
    return "under 0.0001" if p < 0.0001 else f"{p:.4f}"


# --- over cure time ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class CureRow:
    """A candle of the design in one closed panel."""

    panel: Panel
    name: str
    days: int | None
    ahead: str
    result: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ByCure:
    """Cold or hot: the chart, its table, what each panel says of growth, and triangle tests."""

    scent: str
    wide: str
    narrow: str
    rows: list[CureRow]
    says: list[tuple[Panel, tuple[str, ...]]]
    triangles: list[tuple[Panel, str, str, str]]

    @property
    def empty(self) -> bool:
        return not self.rows and not self.triangles


def by_cure(design: Design) -> list[ByCure]:
    """Return a design's throw over cure time, cold and hot apart, from its closed panels."""
    panels = [panel for panel in queries.panels_of(design) if panel.is_closed]
    return [
        _by_cure(design, scent, [panel for panel in panels if panel.scent == scent])
        for scent in Scent
    ]


def _by_cure(design: Design, scent: Scent, panels: list[Panel]) -> ByCure:
    series, rows, says, triangles = [], [], [], []
    for panel in panels:
        candles = queries.candles_of(panel)
        if not panel.is_ranking:
            _, tone, word = _verdict(bool(panel.told_apart))
            names = " and ".join(names_of(candles, on=panel.on))
            triangles.append((panel, names, tone, word))
            continue
        if panel.asks != Asks.STRENGTH:
            continue
        found = result_of(panel)
        mine = [candle.design_id == design.pk for candle in candles]
        ages = [
            candle.cure_days(panel.on) if own else None
            for candle, own in zip(candles, mine, strict=True)
        ]
        shares = [
            ahead_share(rank_sum=total, assessors=found.assessors, candles=len(candles))
            for total in found.rank_sums
        ]
        for candle, own, days, share in zip(candles, mine, ages, shares, strict=True):
            if own:
                rows.append(
                    CureRow(
                        panel=panel, name=candle.what, days=days, ahead=f"{100 * share:.0f} %",
                        result=_verdict(found.differ)[2],
                    )
                )  # fmt: skip
        points = [(days, share) for days, share in zip(ages, shares, strict=True)
                  if days is not None]  # fmt: skip
        if len({days for days, _ in points}) > 1:
            series.append(panel_charts.Series(label=panel.number, points=tuple(points)))
            says.append((panel, growth(found, ages).says))
    rows.sort(key=lambda row: (row.days is None, row.days or 0))
    wide = narrow = ""
    if series:
        wide, narrow = (
            str(
                panel_charts.throw_by_cure_svg(
                    series[:8], title=f"Throw over cure time, {scent.value}", width=width,
                    desc="Of the others in its panel, the share that each age was put ahead of; "
                    "the figures stand in the table.",
                    prefix=f"cure-{scent.value}-{width}",
                )
            )
            for width in (WIDE_PX, NARROW_PX)
        )  # fmt: skip
    return ByCure(
        scent=scent.value, wide=wide, narrow=narrow, rows=rows, says=says, triangles=triangles
    )


# --- on paper ------------------------------------------------------------------------------------


def how(panel: Panel) -> str:
    """Return how it is smelled, in a few words."""
    parts = ["burning" if panel.is_hot else "not lit", panel.room]
    if panel.minutes is not None:
        parts.append(f"{panel.minutes} minutes of scent in the air")
    return ", ".join(part for part in parts if part)


def ask(panel: Panel) -> str:
    """Return what an assessor is to do."""
    if not panel.is_ranking:
        return "Two of the three are alike. Which one is the odd one? If unsure, guess."
    first = {
        Asks.STRENGTH: "1 for the one that throws most",
        Asks.LIKING: "1 for the one you like most",
        Asks.OTHER: "1 for the first",
    }[panel.asks]
    return (
        f"Give each a place, {first}. Only if you cannot tell two apart give both the same place."
    )


def paper_of(panel: Panel, *, workshop_name: str) -> panel_sheets.PanelPaper:
    from pourwright.core.burns.cautions import cautions
    from pourwright.core.panel_plans import panel_cautions

    people, fire = panel_cautions(on=panel.on), cautions(on=panel.on)
    jars = [
        (jar.place, jar.code, candle.named(panel.on))
        for candle in queries.candles_of(panel)
        for jar in candle.jars.all()
    ]
    return panel_sheets.PanelPaper(
        number=panel.number, on=panel.on, workshop=workshop_name, ranking=panel.is_ranking,
        question=panel.question, ask=ask(panel), how=how(panel),
        servings=[
            panel_sheets.Serving(assessor=one.number, codes=one.codes)
            for one in panel.servings.all()
        ],
        key=[(code, name) for _, code, name in sorted(jars)],
        smelling=people.smelling, before=people.before, stop=people.stop,
        on_the_sheet=people.on_the_sheet,
        hot=fire.before if panel.is_hot else (), hot_stop=fire.stop_now if panel.is_hot else (),
        closing=fire.closing if panel.is_hot else "",
    )  # fmt: skip
