"""
A design's labels: its facts, what they need, the drawn faces, and what is still wrong with them.

Nothing is kept: facts come from the records as they stand on a day, and the same records give the
same label.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import ceil, floor

from pourwright.core.errors import BadInput
from pourwright.core.hazard.assess import assess
from pourwright.core.hazard.model import Market
from pourwright.core.hazard.us import assess_us
from pourwright.core.labelling.codes import article_number
from pourwright.core.labelling.facts import MARKETS, Business, LabelFacts, MarketCode
from pourwright.core.labelling.needs import Need, needs_of
from pourwright.core.labelling.panel import us_bottom_zone
from pourwright.core.labelling.texts import texts
from pourwright.core.rules import rule
from pourwright.papers.labels import faces
from pourwright.papers.labels.flow import DoesNotFit
from pourwright.papers.labels.marks import Drawing
from pourwright.papers.labels.proof import Fault, faults
from pourwright.papers.labels.style import Art, Style
from pourwright.workshop.contents.queries import label_of
from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.designs.services import declared_of, markets_of
from pourwright.workshop.formulas.services import recipe_of
from pourwright.workshop.hazard.of_designs import pack_of
from pourwright.workshop.hazard.services import whole_of
from pourwright.workshop.hazard.showing import numbered
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.labels.measures import Measures, measures_of
from pourwright.workshop.labels.models import ArtPlace, Carrier, LabelLook
from pourwright.workshop.stores.models import Lot

# Stands on a label that is only looked at; a lot's own number is as long.
SAMPLE_LOT = "L-0000"
ON_BASE = {
    "fire": ("fire_us", "fire_symbols"),
    "lot": ("lot",),
    "business": ("business", "responsible"),
}
PICTOGRAM_MM = 10.0  # where no rule gives a size; common practice, no source


class NoLabel(BadInput):
    """A label that there is nothing to compose from."""


def look_of(design: Design, workshop: Workshop) -> LabelLook:
    """Return how a design's labels look; a new one, not kept yet, where nobody has said."""
    found = LabelLook.objects.select_related("art").filter(design=design).first()
    return found or LabelLook(design=design, brand=workshop.name)


def maker_of(workshop: Workshop) -> Business:
    """Return who stands on a label: the legal name where it differs from the workshop's."""
    return Business(
        name=workshop.legal_name or workshop.name, street=workshop.street, place=workshop.place,
        country=workshop.country, telephone=workshop.telephone, electronic=workshop.electronic,
    )  # fmt: skip


def responsible_of(workshop: Workshop) -> Business:
    return Business(
        name=workshop.eu_name, street=workshop.eu_street, place=workshop.eu_place,
        country=workshop.eu_country, electronic=workshop.eu_electronic,
    )  # fmt: skip


def facts_of(
    version: DesignVersion,
    *,
    on: date,
    workshop: Workshop,
    look: LabelLook | None = None,
    lot: Lot | None = None,
    markets: Sequence[str] | None = None,
) -> LabelFacts:
    """
    Return a candle as its label sees it on a day, for the markets that it is sold in.

    A lot gives its number and, where it was relabelled, its own net weight. A market's hazard
    elements are left open while an oil, dye or additive has no confirmed composition.
    """
    look = look or look_of(version.design, workshop)
    codes = _known(markets or markets_of(version, workshop))
    recipe = recipe_of(version.formula_version)
    whole = whole_of(recipe)
    pack = pack_of(version)
    label = label_of(lot, version) if lot is not None else None
    return LabelFacts(
        name=version.design.label_name or version.design.name,
        markets=codes,
        on=on,
        identity=look.identity,
        scented=bool(recipe.oils),
        declared=label.declared if label is not None else declared_of(version)[0],
        panel=measures_of(look, version).panel(on),
        maker=maker_of(workshop),
        made_for=workshop.made_for,
        responsible_eu=responsible_of(workshop),
        lot=lot.code if lot is not None else "",
        hazard={
            code: None
            if whole.gaps
            else assess(whole.mixture, market=Market(code), on=on, package_ml=pack.ml).label
            for code in codes
            if code != "us"
        },
        us_listed=assess_us(whole.mixture, on) if "us" in codes else None,
        us_precautions=look.us_precautions,
        small_pack=look.small_pack,
        identifier=numbered(whole, workshop).code,
        article_number=article_number(look.article_number) if look.article_number else None,
        web_page=look.web_page,
        metal_core=look.metal_core,
        in_a_box=look.in_a_box,
        language=look.language,
    )


def _known(markets: Sequence[str]) -> tuple[MarketCode, ...]:
    asked = {market.strip().lower() for market in markets}
    if unknown := asked - set(MARKETS):
        raise NoLabel(
            f"There are label rules for {', '.join(MARKETS)}; not for “{sorted(unknown)[0]}”."
        )
    if not asked:
        raise NoLabel("No market is named: say in the settings or the design where it is sold.")
    return tuple(market for market in MARKETS if market in asked)


# --- the faces -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """
    One face of a label set: what it is, its drawings, or why it cannot be drawn.

    ``counts`` is True where the face goes with every candle, so that what stands on it is said.
    """

    key: str
    title: str
    drawings: tuple[Drawing, ...] = ()
    problem: str = ""
    lacking_mm: float = 0.0
    counts: bool = True

    @property
    def size(self) -> str:
        if not self.drawings:
            return ""
        first = self.drawings[0]
        if first.shape == "circle":
            return f"Ø {first.width:.1f} mm"
        return f"{first.width:.1f} × {first.height:.1f} mm"


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSet:
    """A design's labels on a day: facts, needs, measures, faces and what is wrong with them."""

    facts: LabelFacts
    measures: Measures
    needs: tuple[Need, ...]
    faces: tuple[Face, ...]
    faults: tuple[Fault, ...]

    def face(self, key: str) -> Face | None:
        return next((face for face in self.faces if face.key == key), None)

    @property
    def problems(self) -> tuple[Face, ...]:
        return tuple(face for face in self.faces if face.problem)

    @property
    def standing_in_the_way(self) -> list[str]:
        """Why these labels may not be printed for sale; nothing where they may."""
        found = [f"{face.title}: {face.problem}" for face in self.faces
                 if face.problem and face.counts]  # fmt: skip
        return found + [fault.message for fault in self.faults]


def style_of(look: LabelLook) -> Style:
    """Return a look's colours and art as the drawings take them."""
    art = None
    if look.art is not None:
        art = Art(
            data=bytes(look.art.content), width_px=look.art.width_px,
            height_px=look.art.height_px, place=look.art_place,
        )  # fmt: skip
    return Style(ground=look.ground, ink=look.ink, brand=look.brand, art=art)


def base_keys(look: LabelLook, needs: Sequence[Need]) -> tuple[str, ...]:
    """Return the needs that the base label carries."""
    wanted = [start for name in look.on_base.split(",") for start in ON_BASE.get(name.strip(), ())]
    return tuple(need.key for need in needs if need.key.startswith(tuple(wanted))) if wanted else ()


def compose(
    version: DesignVersion, look: LabelLook, facts: LabelFacts, *, only: Sequence[str] = ()
) -> LabelSet:
    """
    Return the label set of a design's look, each face drawn or with the reason why not.

    Without a lot a sample number stands in its place. ``only`` leaves other faces out.
    """
    if not facts.lot:
        facts = replace(facts, lot=SAMPLE_LOT)
    measures = measures_of(look, version)
    needs = needs_of(facts)
    made = [
        face
        for key, title, counts, draw in _ways(look, measures, needs, facts)
        if not only or key in only
        for face in [_drawn(key, title, counts, draw)]
    ]
    standing = [drawing for face in made if face.counts for drawing in face.drawings]
    whole = all(not face.problem for face in made if face.counts)
    # Where a face is not drawn, its reason is said once, not for each text that it lacks.
    wrong = faults(needs, standing) if whole else _lacking(needs)
    return LabelSet(
        facts=facts, measures=measures, needs=tuple(needs), faces=tuple(made), faults=tuple(wrong)
    )


def _lacking(needs: Sequence[Need]) -> list[Fault]:
    return [Fault(n.key, f"{n.title}: {n.missing}") for n in needs
            if n.state in ("missing", "kept")]  # fmt: skip


Draw = Callable[[], Sequence[Drawing]]


def _drawn(key: str, title: str, counts: bool, draw: Draw) -> Face:
    try:
        return Face(key=key, title=title, drawings=tuple(draw()), counts=counts)
    except DoesNotFit as problem:
        return Face(
            key=key, title=title, problem=str(problem), lacking_mm=problem.lacking_mm,
            counts=counts,
        )  # fmt: skip
    except BadInput as problem:
        return Face(key=key, title=title, problem=str(problem), counts=counts)


def _ways(
    look: LabelLook, measures: Measures, needs: Sequence[Need], facts: LabelFacts
) -> list[tuple[str, str, bool, Draw]]:
    """Return each face's key, title, whether it goes with every candle, and how it is drawn."""
    style = style_of(look)
    on_base = base_keys(look, needs)
    sides = _pictogram_sides(look, needs)
    pointer = texts(facts.language).of("words.see_inside")
    front = _front(look, measures, needs, facts, style, on_base)
    found: list[tuple[str, str, bool, Draw]] = []
    if look.carrier == Carrier.FOLD:
        found.append(("fold", "Fold-out", True, _largest(sides, lambda side: faces.fold_out(
            needs, width=_known_mm(measures.fold_width_mm), height=_known_mm(measures.height_mm),
            style=style, pointer=pointer, pictogram_side=side, elsewhere=on_base,
            foot_zone=_foot_zone(measures, facts), bleed=float(look.bleed_mm),
        ))))  # fmt: skip
    else:
        found.append(("wrap", "Side wrap", True, _largest(sides, front)))
    if on_base:
        found.append(("base", "Base", True, lambda: [faces.base(
            needs, diameter=_known_mm(measures.base_mm), style=style, keys=on_base,
        )]))  # fmt: skip
    found.append(("lid", "Lid", False, lambda: [faces.lid(
        needs, diameter=_known_mm(measures.lid_mm), style=style,
    )]))  # fmt: skip
    on_tag = look.carrier == Carrier.TAG
    found.append(("tag", "Tag", on_tag, _largest(sides, lambda side: faces.tag(
        needs, width=float(look.tag_width_mm), height=float(look.tag_height_mm), style=style,
        pictogram_side=side,
    ))))  # fmt: skip
    found.append(("carton", "Carton", False, _largest(sides, lambda side: [faces.carton(
        needs, width=float(look.carton_width_mm), height=float(look.carton_height_mm), style=style,
        pictogram_side=side, how_many=look.carton_holds,
    )])))  # fmt: skip
    return found


def _front(
    look: LabelLook, measures: Measures, needs: Sequence[Need], facts: LabelFacts, style: Style,
    on_base: Sequence[str],
) -> Callable[[float], list[Drawing]]:  # fmt: skip
    """Return how the wrap is drawn with pictograms of a side."""

    def draw(side: float) -> list[Drawing]:
        if facts.panel is None:
            raise NoLabel(
                "The vessel’s outside diameter and height are not known: enter them below, or "
                "measure the vessel in the stores."
            )
        elsewhere = list(on_base)
        if look.carrier == Carrier.TAG:
            # The tag says everything; the vessel itself keeps who made it, what, how much, which.
            stays = ("name", "identity", "net", "business", "responsible", "lot")
            elsewhere += [need.key for need in needs if not need.key.startswith(stays)]
        circumference = float(facts.panel.width_mm) / float(_share(facts))
        size = faces.WrapSize(
            circumference=circumference, height=_known_mm(measures.height_mm),
            front_width=float(facts.panel.width_mm), overlap=float(look.overlap_mm),
            bleed=float(look.bleed_mm), foot_zone=_foot_zone(measures, facts), pictogram_side=side,
        )  # fmt: skip
        return [faces.wrap(needs, size, style=style, on_the_base=elsewhere)]

    return draw


def _share(facts: LabelFacts):
    """Return what part of the circumference the panel is wide: as its area was found."""
    return rule("us/panel", on=facts.on)["cylinder_share"]


def _foot_zone(measures: Measures, facts: LabelFacts) -> float | None:
    """Return how high above the label's foot the US net weight may reach; None for any height."""
    if "us" not in facts.markets or facts.panel is None:
        return None
    zone = us_bottom_zone(facts.panel, on=facts.on).height_mm
    return None if zone is None else float(zone) - measures.foot_mm


def _pictogram_sides(look: LabelLook, needs: Sequence[Need]) -> tuple[float, ...]:
    """Return the pictogram sides to try, the one that the rules aim at before the least."""
    if look.pictogram_mm is not None:
        return (float(look.pictogram_mm),)
    aim = max((float(n.signs_mm) for n in needs if n.signs_mm), default=PICTOGRAM_MM)
    least = max((float(n.signs_least_mm) for n in needs if n.signs_least_mm), default=aim)
    return (aim, least) if least < aim else (aim,)


def _largest(sides: Sequence[float], draw: Callable[[float], Sequence[Drawing]]) -> Draw:
    """Return how to draw a face with the largest pictograms that fit on it."""

    def drawn() -> Sequence[Drawing]:
        for side in sides[:-1]:
            try:
                return draw(side)
            except DoesNotFit:
                continue
        return draw(sides[-1])

    return drawn


def _known_mm(mm: float | None) -> float:
    if mm is None:
        raise NoLabel("The vessel’s outside is not measured: enter the diameters below.")
    return mm


# --- ways out ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOut:
    """A change to the look that makes room, tried: what to do, and whether all fits then."""

    words: str
    fits: bool


def ways_out(version: DesignVersion, look: LabelLook, labels: LabelSet) -> list[WayOut]:
    """Return what would make room where the front's face does not fit, each way tried."""
    front = next((face for face in labels.faces if face.key in ("wrap", "fold")), None)
    if front is None or not front.lacking_mm:
        return []
    ways: list[tuple[str, dict]] = []
    if (taller := _least_height(version, look, labels)) is not None:
        ways.append((f"Make the label {taller} mm high.", {"height_mm": taller, "foot_mm": None}))
    if "fire" not in look.on_base:
        added = ",".join(filter(None, (look.on_base, "fire")))
        ways.append(("Let the base carry the fire warnings.", {"on_base": added}))
    if look.carrier != Carrier.FOLD:
        ways.append(("Make it a label that folds out.", {"carrier": Carrier.FOLD}))
    else:
        ways.append(("Put all of it on the wrap.", {"carrier": Carrier.WRAP}))
    if look.art is not None and look.art_place == ArtPlace.ABOVE:
        ways.append(("Leave the picture off.", {"art": None}))
    if look.carrier == Carrier.WRAP:
        ways.append(("Put the full text on a tag.", {"carrier": Carrier.TAG}))
    return [WayOut(words=words, fits=_fits(version, look, labels.facts, change))
            for words, change in ways]  # fmt: skip


def _least_height(version: DesignVersion, look: LabelLook, labels: LabelSet) -> int | None:
    """Return the least whole height at which all fits on the vessel's side; None where none."""
    height, side = labels.measures.height_mm, labels.measures.side_mm
    if height is None or side is None or floor(side) <= height:
        return None

    def fits(mm: int) -> bool:
        return _fits(version, look, labels.facts, {"height_mm": mm, "foot_mm": None})

    low, high = ceil(height), floor(side)
    if not fits(high):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if fits(middle) else (middle, high)
    return high


def _fits(version: DesignVersion, look: LabelLook, facts: LabelFacts, change: dict) -> bool:
    was = {name: getattr(look, name) for name in change}
    try:
        for name, value in change.items():
            setattr(look, name, value)
        tried = compose(version, look, facts, only=("wrap", "fold", "base", "tag"))
        return not any(face.problem for face in tried.faces if face.counts)
    finally:
        for name, value in was.items():
            setattr(look, name, value)
