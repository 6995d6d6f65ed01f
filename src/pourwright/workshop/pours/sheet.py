"""The pour sheet of a pour: its records handed to ``papers.pour_sheet``."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from pourwright.core.amounts import show_percent
from pourwright.papers import pour_sheet as paper
from pourwright.papers.candle import describe, section_svg
from pourwright.workshop.designs.services import drawing
from pourwright.workshop.formulas.services import facts_of
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.pours.bench import load, pitcher_name, temperatures, version_of
from pourwright.workshop.pours.models import Filling, Pitcher, Pour, PourState, Take, Use
from pourwright.workshop.pours.services import lacking, shortages


def sheet_pdf(pour: Pour, *, workshop: Workshop) -> bytes:
    """Return the pour's sheet as a PDF; the same records give the same bytes."""
    pitchers, takes, _ = load(pour)
    warm = temperatures(pour, pitchers)
    fillings = [filling for pitcher in pitchers for filling in pitcher.fillings.all()]
    wax = [take for take in takes if take.use == Use.WAX]
    extra = sum(take.target for take in wax) - sum(pitcher.wax_mg for pitcher in pitchers)
    short = shortages(pour) if pour.state == PourState.PLANNED else []
    sheet = paper.PourSheet(
        number=pour.number,
        on=pour.on,
        workshop=workshop.name,
        state="" if pour.state == PourState.PLANNED else pour.get_state_display(),
        candles=[_candle(filling, workshop, place) for place, filling in enumerate(fillings)],
        pieces=_pieces(takes),
        waxes=[_weighing(take) for take in wax],
        pitchers=[_pitcher(pitcher, pitchers, takes, warm) for pitcher in pitchers],
        division_mg=pour.scale_division_mg,
        loss=show_percent(Fraction(pour.loss_pct)),
        melter=pour.melter.name if pour.melter else "",
        extra_wax_mg=max(extra, 0),
        melt_to_c=_fraction(warm.melt_to),
        never_above_c=_fraction(warm.never_above),
        set_hours=_fraction(warm.set_hours),
        warnings=[f"{lacking(one)}." for one in short],
        note=pour.note,
    )
    return paper.pour_sheet_pdf(sheet, units=workshop.units)


def _fraction(value) -> Fraction | None:
    return None if value is None else Fraction(value)


def _candle(filling: Filling, workshop: Workshop, place: int) -> paper.Candle:
    version = filling.design_version
    picture = drawing(version)
    svg = section_svg(
        picture, size=118, dimensions=False, standalone=True, prefix=f"candle-{place}"
    )
    return paper.Candle(
        number=filling.wanted,
        design=version.design.name,
        fill_mg=version.fill_mg,
        vessel=version.vessel.name,
        wick=f"{version.wick_count} × {version.wick.name}",
        drawing=str(svg),
        drawing_alt=describe(picture, units=workshop.units),
    )


def _pieces(takes: Sequence[Take]) -> list[paper.Piece]:
    """Return what is laid out, each lot once, however many designs it is for."""
    found: dict[tuple, int] = {}
    names = {}
    for take in takes:
        if take.use == Use.PIECE:
            key = (take.item_id, take.lot_id)
            found[key] = found.get(key, 0) + take.target
            names[key] = take
    return [
        paper.Piece(
            name=take.item.name,
            lot=take.lot.code if take.lot else "",
            qty=found[key],
            by_mass=take.item.by_mass,
        )
        for key, take in names.items()
        if found[key]
    ]


def _weighing(take: Take) -> paper.Weighing:
    return paper.Weighing(
        name=take.item.name,
        lot=take.lot.code if take.lot else "",
        target_mg=take.target,
        tolerance_mg=take.tolerance,
        actual_mg=take.actual,
    )


def _pitcher(
    pitcher: Pitcher, pitchers: Sequence[Pitcher], takes: Sequence[Take], warm
) -> paper.Pitcher:
    version = version_of(pitcher)
    own = [take for take in takes if take.pitcher_id == pitcher.pk and take.use != Use.PIECE]
    flashes = {
        take.item.name: Fraction(facts.flash_point_c)
        for take in own
        if take.use == Use.OIL
        and (facts := facts_of(take.item, "oil"))
        and facts.flash_point_c is not None
    }
    name = pitcher_name(pitcher)
    name = name[0].upper() + name[1:]
    if pitcher.formula_version is not None:
        name += f", version {pitcher.formula_version.number}"
    load_words = ""
    if version.load_pct:
        load_words = (
            f"{show_percent(Fraction(version.load_pct))} {version.get_load_basis_display()}"
        )
    return paper.Pitcher(
        title=name if len(pitchers) == 1 else f"Pitcher {pitcher.position}: {name}",
        wax_mg=pitcher.wax_mg,
        mix_mg=pitcher.mix_mg,
        weighings=[_weighing(take) for take in own],
        load=load_words,
        add_at_c=_fraction(version.add_at_c or warm.add_at),
        pour_at_c=_fraction(version.pour_at_c or warm.pour_at),
        stir_minutes=_fraction(version.stir_minutes),
        flashes=list(flashes.items()),
    )
