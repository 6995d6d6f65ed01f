"""What the label pages show: the checklist, where to enter what it lacks, and the pictures."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from pourwright.core.labelling.needs import Need
from pourwright.papers.labels.on_candle import disc_svg, front_svg
from pourwright.papers.labels.svg_out import label_svg
from pourwright.workshop.designs.models import DesignVersion
from pourwright.workshop.designs.services import drawing
from pourwright.workshop.labels.composing import SAMPLE_LOT, Face, LabelSet

MEASURED_ON = {
    "o": "lower-case o", "x": "lower-case x", "capital": "capitals", "figure": "figures",
    "symbol": "symbol", "": "",
}  # fmt: skip
TONES = {"ready": ("ok", "ready"), "missing": ("bad", "missing"), "kept": ("warn", "not known"),
         "optional": ("quiet", "may")}  # fmt: skip
# A vessel whose outside is not measured is drawn as wide and high as this.
DRAWN_OUTSIDE_MM, DRAWN_SIDE_MM = 80.0, 90.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of the checklist."""

    need: Need
    tone: str
    word: str
    least: str
    where: str = ""
    where_words: str = ""

    @property
    def markets(self) -> str:
        return ", ".join(self.need.markets).upper()


def checklist(labels: LabelSet, version: DesignVersion) -> list[Line]:
    """Return what the label needs, line by line, with where to enter what is missing."""
    return [_line(need, labels, version) for need in labels.needs]


def _line(need: Need, labels: LabelSet, version: DesignVersion) -> Line:
    tone, word = TONES[need.state]
    if need.key == "lot" and labels.facts.lot == SAMPLE_LOT:
        tone, word = "wait", "when printed"
    measured = MEASURED_ON[need.measured_on]
    least = f"{float(need.least_mm):.1f} mm, {measured}" if need.text or need.signs else ""
    where, words = _where(need, version) if need.state in ("missing", "kept") else ("", "")
    return Line(need=need, tone=tone, word=word, least=least, where=where, where_words=words)


def _where(need: Need, version: DesignVersion) -> tuple[str, str]:
    if need.key.startswith(("business", "responsible")):
        return f"{reverse('workshop')}#label", "Settings"
    if need.key.startswith("net") or need.key == "name":
        return reverse("designs:edit", args=[version.design_id]), "Change the design"
    if need.key == "hazard_us":
        return "#id_us_precautions", "Below"
    if need.key.startswith("hazard"):
        formula = version.formula_version
        at = reverse("formulas:hazard", args=[formula.formula_id])
        return f"{at}?version={formula.number}", "The formula’s hazard page"
    return "", ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A face with its pictures, each with its size."""

    face: Face
    pictures: tuple[tuple[str, str], ...]


def shown(labels: LabelSet) -> list[Shown]:
    """Return each drawn face as pictures true to size, with how large they are."""
    return [
        Shown(
            face=face,
            pictures=tuple((label_svg(one), one.title) for one in face.drawings),
        )
        for face in labels.faces
        if not face.problem
    ]


def on_candle(labels: LabelSet, version: DesignVersion) -> tuple[str, str]:
    """Return the candle from the front with its label on, and its base; "" where none is."""
    face = labels.face("wrap") or labels.face("fold")
    around = face.drawings[0] if face and face.drawings else None
    measures = labels.measures
    outside = measures.outside_mm or DRAWN_OUTSIDE_MM
    front = front_svg(
        drawing(version), around, outside_mm=outside,
        height_mm=measures.side_mm or DRAWN_SIDE_MM, foot_mm=measures.foot_mm,
    )  # fmt: skip
    base = labels.face("base")
    disc = disc_svg(base.drawings[0], outside_mm=outside) if base and base.drawings else ""
    return front, disc
