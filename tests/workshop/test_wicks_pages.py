"""Where a design's wicks stand, and its jigs: pages agree with the core, files with the pages."""

import re
from decimal import Decimal
from html import unescape
from io import BytesIO, StringIO
from math import cos, hypot, pi, sin, sqrt

import ezdxf
import numpy as np
import pytest
import trimesh
from django.urls import reverse
from pypdf import PdfReader

from design_examples import design, formula, vessel, wax
from pourwright.core.wicks.covering import place, reach_mm
from pourwright.core.wicks.insides import straight
from pourwright.core.wicks.outlines import Oval, disc
from pourwright.workshop.designs import placing

pytestmark = [pytest.mark.django_db]

TIN = {"inside_mm": Decimal(102), "depth_mm": Decimal(46)}


@pytest.fixture
def tin(workshop):
    return design(vessel=vessel("Wide tin", **TIN), wick_count=3, fill_mg=220_000)


def page(client, name, version, **asked):
    answer = client.get(reverse(f"designs:{name}", args=[version.design_id]), asked)
    assert answer.status_code == 200
    return unescape(answer.content.decode())


def figure(text, name):
    """Return the first number beside a term of the page's list."""
    found = re.search(rf"<dt>{name}</dt><dd>([\d.,]+)", text)
    assert found, f"{name} is not on the page"
    return float(found[1])


def table(text):
    rows = re.findall(r'<tr><th scope="row">\d+</th>(.*?)</tr>', text)
    return [
        [float(cell.replace("\N{MINUS SIGN}", "-")) for cell in re.findall(r">([^<>]+)</td>", row)]
        for row in rows
    ]


# --- the places ----------------------------------------------------------------------------------


def test_three_wicks_stand_in_the_middles_of_their_slices(client, tin):
    """The ring by the centroid of a circular sector, the reach by plane geometry."""
    text = page(client, "wicks", tin)
    ring = 2 / 3 * 51 * sin(pi / 3) / (pi / 3)
    reach = max(ring, sqrt(51**2 + ring**2 - 2 * 51 * ring * cos(pi / 3)))
    assert figure(text, "Ring radius") == round(ring, 1)
    assert figure(text, "Reach") == round(reach, 1)
    assert figure(text, "Wick to wall") == round(51 - ring, 1)
    assert figure(text, "Wick to wick") == round(ring * sqrt(3), 1)
    assert figure(text, "Covered") == 100.0
    rows = table(text)
    assert len(rows) == 3
    for right, away, right_in, away_in in rows:
        assert hypot(right, away) == pytest.approx(ring, abs=0.08)
        assert (right_in, away_in) == pytest.approx((right / 25.4, away / 25.4), abs=0.008)
    assert "never sizes one" in text


def test_a_shorter_reach_covers_its_lone_pools_share(client, tin):
    """Three pools of 15 mm stand apart and within the wall, so that their areas add up."""
    text = page(client, "wicks", tin, reach="15")
    assert figure(text, "Covered") == round(100 * 3 * 15**2 / 51**2, 1)


def test_the_smallest_reach_is_the_core_s_and_its_page_comes_first(client, tin):
    placing._found.clear()
    asked = {"layout": "smallest", "gap_mm": "12 mm", "spacing_mm": "20 mm"}
    assert "Looking for the smallest reach" in page(client, "wicks", tin, **asked)
    text = page(client, "wicks", tin, **asked, now="yes")
    best = place(disc(51), 3)
    # Three discs cover one of radius 1 with a radius of sqrt(3)/2: Bezdek's constant for n = 3.
    assert figure(text, "Reach") == round(best.reach_mm, 1) == round(51 * sqrt(3) / 2, 1)
    assert "Looking for" not in page(client, "wicks", tin, **asked)


def test_an_inside_that_is_not_round_is_placed_for_this_page(client, tin):
    text = page(client, "wicks", tin, shape="oval", width_mm="70 mm", length_mm="130 mm", now="yes")
    oval, places = Oval(65, 35), np.array([row[:2] for row in table(text)])
    assert figure(text, "Reach") == pytest.approx(reach_mm(places, oval), abs=0.15)
    assert oval.wall_gap(places).min() > 12 - 0.1
    assert figure(text, "Reach") < reach_mm(np.zeros((1, 2)), oval)


def test_the_reach_slides_by_itself(client, tin):
    answer = client.get(
        reverse("designs:wicks", args=[tin.design_id]), {"reach": "20"},
        headers={"hx-request": "true"},
    )  # fmt: skip
    text = answer.content.decode()
    assert text.lstrip().startswith('<div id="placed"')
    assert figure(text, "Covered") == round(100 * 3 * 20**2 / 51**2, 1)


def test_in_inches_the_reach_is_in_inches(client, tin, workshop):
    workshop.units = "us"
    workshop.save()
    text = page(client, "wicks", tin, reach="0.5")
    assert figure(text, "Covered") == round(100 * 3 * 12.7**2 / 51**2, 1)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"gap_mm": "thumb"}, '"thumb" is not a length'),
        ({"gap_mm": "900 mm"}, "900.mm was given"),
        ({"layout": "smallest", "spacing_mm": "95 mm"}, "do not fit 12 mm from the wall"),
        ({"shape": "oval", "width_mm": "60 mm"}, "Inside length is missing"),
        ({"shape": "square", "width_mm": "60 mm", "corner_mm": "45 mm"}, "does not fit sides"),
        ({"reach": "far"}, "Write the reach as a number"),
        ({"reach": "-4"}, "it is more than 0 and up to 1000 mm"),
    ],
)
def test_what_cannot_be_placed_is_told_beside_the_field_as_it_was_typed(client, tin, asked, said):
    text = page(client, "wicks", tin, **asked, now="yes")
    assert re.search(said, text)
    wrong = re.findall(r'<div class="field wrong">.*?</div>', text, re.S)
    assert len(wrong) == 1
    assert (
        any(f'value="{typed}"' in wrong[0] for typed in asked.values()) or "length_mm" in wrong[0]
    )
    for typed in asked.values():
        assert f'value="{typed}"' in text


def test_a_vessel_that_is_not_measured_says_what_to_enter_and_where(client, workshop):
    bare = vessel("Old jar", inside_mm=None, depth_mm=None, brim_ml=Decimal(300))
    version = design(vessel=bare, fill_mg=200_000)
    for name in ("wicks", "jig"):
        text = page(client, name, version)
        assert "Not placed yet" in text
        assert "inside diameter" in text
        assert reverse("stores:item_edit", args=[bare.pk]) in text
    assert (
        "what is lacking"
        in client.get(reverse("designs:design", args=[version.design_id])).content.decode()
    )


def test_a_tapered_one_needs_to_know_how_high_the_wax_stands(client, workshop):
    cup = vessel("Cup", shape="tapered", inside_mm=Decimal(60), top_inside_mm=Decimal(84))
    unknown = wax("Blend without a density", density_cold_g_ml=None)
    version = design(
        vessel=cup, fill_mg=150_000,
        formula_version=formula(waxes=[(unknown, Decimal(1))]),
    )  # fmt: skip
    text = page(client, "wicks", version)
    assert "enter the wax’s cold density" in text
    assert reverse("stores:item_edit", args=[unknown.pk]) in text


def test_a_design_s_page_shows_its_wicks_from_above(client, tin):
    text = page(client, "design", tin)
    assert "wicks-small" in text
    assert reverse("designs:wicks", args=[tin.design_id]) in text
    assert reverse("designs:jig", args=[tin.design_id]) in text


# --- the jigs ------------------------------------------------------------------------------------


def saved(client, version, kind, **asked):
    answer = client.get(reverse("designs:jig_file", args=[version.design_id, kind]), asked)
    assert answer.status_code == 200, asked
    assert f'.{kind}"' in answer["Content-Disposition"]
    return answer.content


def test_a_bar_has_its_holes_where_the_page_says(client, tin):
    """Read back by ezdxf: a hole narrower by the kerf at each place of the table."""
    places = [(row[0], row[1]) for row in table(page(client, "wicks", tin))]
    drawing = saved(client, tin, "dxf", form="bar", hole_mm="4 mm", kerf_mm="0.2 mm")
    circles = ezdxf.read(StringIO(drawing.decode())).modelspace().query("CIRCLE")
    for x, y in places:
        nearest = min(circles, key=lambda c: hypot(c.dxf.center.x - x, c.dxf.center.y - y))
        away = hypot(nearest.dxf.center.x - x, nearest.dxf.center.y - y)
        assert away < 0.05 * sqrt(2) + 0.05  # the table is rounded to a tenth
        assert nearest.dxf.radius == pytest.approx(1.9, abs=1e-6)


@pytest.mark.parametrize("kind", ["stl", "3mf"])
def test_a_guide_to_print_is_closed_and_fits_the_floor(client, tin, kind):
    solid = trimesh.load(
        BytesIO(saved(client, tin, kind, form="guide", clearance_mm="1 mm", thickness_mm="2 mm")),
        file_type=kind, force="mesh",
    )  # fmt: skip
    assert solid.is_watertight
    width, depth, height = solid.extents
    assert (width, depth) == pytest.approx((100, 100), abs=0.05)
    assert height == pytest.approx(2, abs=1e-4)


def test_a_template_larger_than_the_paper_runs_over_as_many_sheets_as_the_page_says(client, tin):
    asked = {"shape": "rectangle", "width_mm": "90 mm", "length_mm": "290 mm", "paper": "A4"}
    said = int(re.search(r"it takes (\d+) sheets", page(client, "jig", tin, **asked))[1])
    pdf = PdfReader(BytesIO(saved(client, tin, "pdf", **asked)))
    assert len(pdf.pages) == said > 1
    small = PdfReader(BytesIO(saved(client, tin, "pdf", form="guide", paper="US Letter")))
    assert len(small.pages) == 1
    assert "Never cut PVC" in small.pages[0].extract_text()
    assert sorted(float(side) for side in small.pages[0].mediabox[2:]) == [612, 792]


def test_a_jig_s_page_carries_the_cautions_and_its_files(client, tin):
    text = page(client, "jig", tin)
    for words in ("Take the jig off before the candle is lit", "soften below", "Never cut PVC"):
        assert words in text
    for address in re.findall(r'href="([^"]*/jig\.[^"]*)"', text):
        assert client.get(address).status_code == 200, address
    assert len(re.findall(r"/jig\.\w+\?", text)) == 6


@pytest.mark.parametrize(
    ("asked", "field", "said"),
    [
        ({"hole_mm": "wide"}, "hole_mm", "is not a length"),
        ({"hole_mm": "90 mm"}, "hole_mm", "can be made"),
        ({"hole_mm": "11 mm"}, "hole_mm", "An arm of 12 mm leaves"),
        ({"kerf_mm": "3 mm", "hole_mm": "2 mm"}, "kerf_mm", "as wide as the hole"),
        ({"lip_mm": "19 mm"}, "lip_mm", "would touch the wax"),
        ({"form": "guide", "tab_mm": "50 mm"}, "tab_mm", "smaller tabs"),
        ({"paper": "vellum"}, "paper", "valid choice"),
    ],
)
def test_what_cannot_be_made_is_told_beside_its_field_as_it_was_typed(
    client, tin, asked, field, said
):
    text = page(client, "jig", tin, **asked)
    wrong = re.findall(r'<div class="field wrong">.*?</div>', text, re.S)
    assert len(wrong) == 1
    assert f'name="{field}"' in wrong[0]
    assert said in wrong[0]
    if field != "paper":
        assert f'value="{asked[field]}"' in wrong[0]
    assert "/jig.pdf" not in text
    refused = client.get(reverse("designs:jig_file", args=[tin.design_id, "stl"]), asked)
    assert refused.status_code == 302
    assert f"{field}=" in refused["Location"]


def test_a_format_that_is_not_made_is_not_found(client, tin):
    assert client.get(reverse("designs:jig_file", args=[tin.design_id, "exe"])).status_code == 404


def test_a_placement_is_searched_once(tin, monkeypatch):
    """The second time it is known, whoever asks."""
    from pourwright.core.wicks import covering

    calls = []
    real = covering.place
    monkeypatch.setattr(covering, "place", lambda *a, **k: calls.append(1) or real(*a, **k))
    asked = placing.Asked(layout="smallest", gap_mm=11.0, spacing_mm=20.0)
    inside = straight(disc(33.0))
    first = placing.placed(inside, 3, asked)
    assert placing.is_quick(inside, 3, asked)
    assert placing.placed(straight(disc(33.0)), 3, asked) is first
    assert calls == [1]
    assert reach_mm(np.array(first.positions_mm), inside.surface) == first.reach_mm
