"""Jigs as files, read back by independent libraries: every hole where the placement says."""

from io import BytesIO, StringIO
from math import hypot

import ezdxf
import numpy as np
import pypdfium2
import pytest
import trimesh

from pourwright.core.wicks.covering import equal_slices
from pourwright.core.wicks.insides import straight
from pourwright.core.wicks.jigs import Fit, Jig, jig_for
from pourwright.core.wicks.outlines import disc
from pourwright.papers.jigs.files import jig_file

NEAR_MM = 0.05


@pytest.fixture(scope="module", params=["bar", "guide"])
def jig(request) -> Jig:
    places = [tuple(point) for point in equal_slices(40.0, 3)]
    return jig_for(request.param, places, straight(disc(40.0)), fit=Fit())


def file_of(jig: Jig, kind: str) -> bytes:
    return jig_file(jig, kind, title="A jig")


def nearest(found, x: float, y: float) -> float:
    return min(hypot(x - u, y - v) for u, v in found)


def test_the_drawing_to_cut_by_has_every_hole_in_place(jig):
    drawing = ezdxf.read(StringIO(file_of(jig, "dxf").decode()))
    assert not drawing.audit().errors
    assert drawing.header["$INSUNITS"] == 4  # millimetres
    circles = [
        (one.dxf.center.x, one.dxf.center.y, one.dxf.radius)
        for one in drawing.modelspace().query("CIRCLE")
    ]
    for hole in jig.holes:
        off = min(
            max(hypot(x - hole.x, y - hole.y), abs(radius - hole.radius))
            for x, y, radius in circles
        )
        assert off <= NEAR_MM


@pytest.mark.parametrize("kind", ["stl", "3mf"])
def test_the_solid_to_print_is_watertight_with_every_hole_in_place(jig, kind):
    solid = trimesh.load(BytesIO(file_of(jig, kind)), file_type=kind, force="mesh")
    assert solid.is_watertight
    assert solid.is_winding_consistent
    assert solid.volume > 0
    inside = np.array([[hole.x, hole.y] for hole in jig.holes])
    for hole in jig.holes:
        beside = np.hypot(solid.vertices[:, 0] - hole.x, solid.vertices[:, 1] - hole.y)
        ring = solid.vertices[np.abs(beside - hole.radius) <= NEAR_MM]
        assert len(ring) >= 16
        middle = (ring[:, :2].max(axis=0) + ring[:, :2].min(axis=0)) / 2
        assert nearest(inside, *middle) <= NEAR_MM


def test_the_template_on_paper_is_true_to_size(jig):
    """The ruler's hundred millimetres and the span of the outline, from the rendered page."""
    pdf = pypdfium2.PdfDocument(file_of(jig, "pdf"))
    width, height = pdf[0].get_size()
    assert (width / 72 * 25.4, height / 72 * 25.4) == pytest.approx((210, 297), abs=0.1)
    text = pdf[0].get_textpage().get_text_range()
    assert "100 mm" in text
    assert "before the candle is lit" in text


def test_the_same_jig_gives_the_same_bytes(jig):
    for kind in ("pdf", "svg", "dxf", "stl", "3mf"):
        assert file_of(jig, kind) == file_of(jig, kind)
