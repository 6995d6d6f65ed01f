"""Labels from the records: facts, proposals, what keeps a label from print, and what is kept."""

import re
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from io import BytesIO
from uuid import uuid4

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from composition_examples import EUGENOL, confirmed
from conftest import AT
from label_workshop import a_bench, a_lot
from pourwright.core.contents import parse_declared
from pourwright.papers.labels.proof import faults
from pourwright.papers.labels.sheets import BadSheet
from pourwright.papers.labels.style import BadArt
from pourwright.workshop.designs import queries
from pourwright.workshop.hazard import keeping
from pourwright.workshop.labels import composing, services
from pourwright.workshop.labels.measures import measures_of, outside_of
from pourwright.workshop.labels.models import Art, LabelLook, LabelPrint, Printer, SheetSize
from pourwright.workshop.labels.services import Printing
from pourwright.workshop.stores.models import VesselFacts

pytestmark = pytest.mark.django_db
ON = date(2026, 11, 25)


@pytest.fixture
def bench(workshop):
    return a_bench(workshop)


@pytest.fixture
def lot(bench):
    return a_lot(bench)


def labels(bench, workshop, **look):
    kept = composing.look_of(bench.design, workshop)
    for name, value in look.items():
        setattr(kept, name, value)
    facts = composing.facts_of(bench.version, on=ON, workshop=workshop, look=kept)
    return composing.compose(bench.version, kept, facts)


def printing(**more) -> Printing:
    return Printing(**{"faces": ("wrap", "base"), "sheet": "plain-a4", "number": 4, **more})


def read(pdf: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(BytesIO(pdf))


def words_of(pdf: bytes) -> str:
    return " ".join(page.extract_text() for page in read(pdf).pages)


# --- measures and facts --------------------------------------------------------------------------


def test_a_vessel_s_outside_is_its_inside_and_two_walls(bench):
    """Inside 74 mm with walls of 3 mm is 80 mm across; 86 mm deep on a base of 5 mm is 91 high."""
    found = outside_of(bench.version)
    assert (found.foot_mm, found.rim_mm, found.side_mm) == (80, 80, 91)
    assert not found.narrows


def test_what_is_entered_counts_and_the_rest_is_proposed(bench, workshop):
    look = composing.look_of(bench.design, workshop)
    look.height_mm = Decimal("60.5")
    found = measures_of(look, bench.version)
    assert found.height_mm == 60.5
    assert found.outside_mm == 80
    assert "outside_mm" in found.proposed
    assert "height_mm" not in found.proposed
    panel = found.panel(ON)
    # 40 % of height times circumference: 0.4 x 91 x 80 pi = 9 148.3 mm2.
    assert float(panel.area_mm2) == pytest.approx(9148.3, abs=0.1)


def test_an_unmeasured_vessel_asks_for_its_outside(bench, workshop):
    VesselFacts.objects.filter(item=bench.items["vessel"]).update(inside_mm=None, depth_mm=None)
    bench.version = queries.versions_with_all().get(pk=bench.version.pk)
    found = labels(bench, workshop)
    assert "outside diameter and height are not known" in found.face("wrap").problem
    assert labels(bench, workshop, outside_mm=80, side_mm=90).face("wrap").problem == ""


def test_the_facts_are_the_design_s_own(bench, workshop):
    facts = composing.facts_of(bench.version, on=ON, workshop=workshop)
    assert facts.name == "Quince in amber"
    assert facts.declared == parse_declared("7.5 oz (212 g)")
    assert facts.maker.name == "Lanternwick Works"
    assert facts.markets == ("us", "gb")
    assert facts.scented
    assert facts.burn_hours is None
    # 3 % of an oil at 8 % of the wax: 3 x 8 / 108 = 0.222 % of the whole elicits, EUH208.
    said = [statement.code for statement in facts.hazard["gb"].supplemental]
    assert said == ["EUH208"]


def test_an_oil_without_a_composition_leaves_the_hazard_s_place_open(bench, workshop):
    keeping.withdraw(bench.items["oil"].compositions.get(), reason="wrong sheet", at=AT)
    found = labels(bench, workshop)
    assert any(need.state == "kept" for need in found.needs)
    assert any("hazard class is not known" in reason for reason in found.standing_in_the_way)


def test_an_unknown_market_is_refused_by_name(bench, workshop):
    with pytest.raises(composing.NoLabel, match="us, eu, gb; not for “mars”"):
        composing.facts_of(bench.version, on=ON, workshop=workshop, markets=["us", "mars"])


# --- composing -----------------------------------------------------------------------------------


def test_a_known_candle_s_label_is_ready(bench, workshop):
    found = labels(bench, workshop)
    assert found.standing_in_the_way == []
    assert {face.key for face in found.faces} == {"wrap", "base", "lid", "tag", "carton"}


@pytest.mark.parametrize("carrier", ["fold", "tag"])
def test_another_carrier_says_as_much(bench, workshop, carrier):
    assert labels(bench, workshop, carrier=carrier).standing_in_the_way == []


def test_a_low_label_is_refused_with_ways_out_that_were_tried(bench, workshop):
    confirmed(bench.items["oil"], {**EUGENOL, "share": "40"})
    look = composing.look_of(bench.design, workshop)
    look.height_mm, look.on_base = Decimal(22), ""
    facts = composing.facts_of(bench.version, on=ON, workshop=workshop, look=look)
    found = composing.compose(bench.version, look, facts)
    assert "lacks" in found.face("wrap").problem
    ways = composing.ways_out(bench.version, look, found)
    taller = next(way for way in ways if "mm high" in way.words)
    assert taller.fits
    assert look.height_mm == 22
    height = int(re.search(r"\d+", taller.words)[0])
    for tried, fits in ((height, True), (height - 1, False)):
        look.height_mm = tried
        drawn = composing.compose(bench.version, look, facts, only=("wrap",)).face("wrap")
        assert (drawn.problem == "") is fits


def test_pictograms_shrink_to_the_least_before_a_label_is_refused(bench, workshop):
    confirmed(bench.items["oil"], {**EUGENOL, "share": "40"})
    found = labels(bench, workshop)
    (need,) = [need for need in found.needs if need.key.startswith("hazard")]
    assert need.signs_least_mm < need.signs_mm
    small = labels(bench, workshop, pictogram_mm=Decimal(5))
    assert any("is the least" in reason for reason in small.standing_in_the_way)


def test_no_printed_set_lacks_a_ready_need(bench, workshop):
    """Whatever the look: either it is refused, or all that is needed is read back from the PDF."""
    mild = composing.facts_of(bench.version, on=ON, workshop=workshop)
    confirmed(bench.items["oil"], {**EUGENOL, "share": "40"})
    strong = composing.facts_of(bench.version, on=ON, workshop=workshop)
    outcomes = set()

    @settings(max_examples=14, deadline=None, derandomize=True)
    @given(
        height=st.integers(20, 91), carrier=st.sampled_from(["wrap", "fold", "tag"]),
        on_base=st.sampled_from(["", "fire", "fire,lot", "fire,lot,business"]),
        base=st.integers(30, 74), facts=st.sampled_from([mild, strong]),
    )  # fmt: skip
    def printed_or_refused(height, carrier, on_base, base, facts):
        look = LabelLook(
            design=bench.design, height_mm=height, carrier=carrier, on_base=on_base, base_mm=base
        )
        named = replace(facts, lot="L-0907")
        found = composing.compose(
            bench.version,
            look,
            named,
            only=("wrap", "fold", "base", "tag"[: 3 * (carrier == "tag")]),
        )
        keys = tuple(face.key for face in found.faces if face.counts)
        wanted = printing(faces=keys, sheet="alone", number=1)
        try:
            pdf, printed = services.pdf_of(found, wanted, title="x")
        except services.CannotPrint:
            outcomes.add("refused")
            return
        outcomes.add("printed")
        said = words_of(pdf)
        for need in found.needs:
            if need.state == "ready" and need.key != "fire_symbols" and need.place != "outer pack":
                assert all(word in said for word in need.text.split()), need.key
        assert faults(found.needs, [one for face in printed for one in face.drawings]) == []

    printed_or_refused()
    assert outcomes == {"printed", "refused"}


# --- printing ------------------------------------------------------------------------------------


def test_a_lot_s_labels_carry_its_number_and_are_kept_on_record(lot, workshop):
    pdf = services.print_labels(lot, printing(), on=ON, at=AT, workshop=workshop)
    assert words_of(pdf).count(lot.code) == 4
    kept = LabelPrint.objects.filter(lot=lot)
    assert {(one.face, one.number, one.draft) for one in kept} == {
        ("wrap", 4, False), ("base", 4, False)
    }  # fmt: skip
    assert any(lot.code in one.says for one in kept)


def test_sending_it_twice_records_it_once(lot, workshop):
    mine = uuid4()
    for _ in range(2):
        services.print_labels(lot, printing(), on=ON, at=AT, workshop=workshop, client_id=mine)
    assert LabelPrint.objects.count() == 2


def test_labels_that_lack_something_are_only_printed_as_a_draft(lot, workshop):
    workshop.place = ""
    workshop.save()
    with pytest.raises(services.NotReady, match="Enter the maker’s"):
        services.print_labels(lot, printing(), on=ON, at=AT, workshop=workshop)
    assert not LabelPrint.objects.exists()
    pdf = services.print_labels(lot, printing(draft=True), on=ON, at=AT, workshop=workshop)
    assert "DRAFT" in words_of(pdf)
    assert LabelPrint.objects.filter(draft=True).count() == 2


def test_each_label_may_carry_its_own_number(lot, workshop):
    pdf = services.print_labels(
        lot, printing(faces=("base",), number=11, serial=True), on=ON, at=AT, workshop=workshop
    )
    said = words_of(pdf)
    for number in range(1, 12):
        assert f"{lot.code}-{number:02d}" in said


def test_a_relabelled_lot_prints_its_own_net_weight(bench, lot, workshop, monkeypatch):
    from pourwright.workshop.contents.queries import Label

    own = Label(declared=parse_declared("200 g"), origin="relabelled")
    monkeypatch.setattr(composing, "label_of", lambda lot, version: own)
    facts = composing.facts_of(bench.version, on=ON, workshop=workshop, lot=lot)
    assert facts.declared.metric_g == Fraction(200)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"faces": ()}, "Choose which"),
        ({"faces": ("fold",)}, "it has wrap, base"),
        ({"number": 0}, "1 to 2,000"),
        ({"sheet": "a4-3x8-63.5x33.9"}, "choose a larger sheet"),
        ({"sheet": "a9"}, "There is no sheet “a9”"),
        ({"sheet": "a4-3x7-63.5x38.1", "start": 22, "faces": ("base",)}, "places 1 to 21"),
    ],
)
def test_what_cannot_be_printed_says_why(lot, workshop, change, says):
    with pytest.raises((services.CannotPrint, BadSheet), match=says):
        services.print_labels(lot, printing(**change), on=ON, at=AT, workshop=workshop)


def test_the_usual_paper_is_offered_unless_a_label_is_too_long_for_it(bench, workshop):
    """Around 80 mm a wrap is 257 mm long and goes on A4 laid across; around 104 mm it is 333."""
    assert services.plain_for(labels(bench, workshop), units="metric") == "plain-a4"
    wide = labels(bench, workshop, outside_mm=104)
    assert services.plain_for(wide, units="metric") == "plain-a3"
    assert services.plain_for(wide, units="us") == "plain-ledger"


# --- sheets, printers, art -----------------------------------------------------------------------


OWN = {
    "paper": "A4", "columns": 2, "rows": 3, "width_mm": 90, "height_mm": 90, "left_mm": 10,
    "top_mm": 10, "across_mm": 95, "down_mm": 93,
}  # fmt: skip


def test_a_sheet_of_one_s_own_is_printed_on_by_its_measures(lot, workshop):
    SheetSize.objects.create(**OWN)
    look = composing.look_of(lot.item.design, workshop)
    look.base_mm = Decimal(70)
    services.keep_look(look)
    wanted = printing(faces=("base",), sheet="a4-2x3-90x90", start=5, number=3)
    pdf = services.print_labels(lot, wanted, on=ON, at=AT, workshop=workshop)
    sizes = [[round(float(side) * 25.4 / 72, 1) for side in page.mediabox[2:]]
             for page in read(pdf).pages]  # fmt: skip
    assert sizes == [[210.0, 297.0]] * 2
    assert [page.extract_text().count(lot.code) for page in read(pdf).pages] == [2, 1]


def test_a_printer_s_offset_moves_the_sheet():
    sheet = services.as_sheet(SheetSize(**OWN))
    moved = services.offset(sheet, Printer(name="p", dx_mm=Decimal("1.2"), dy_mm=Decimal("-0.3")))
    (x, y), (x2, y2) = sheet.place(0), moved.place(0)
    assert (x2 - x, y2 - y) == pytest.approx((1.2, -0.3))


def a_picture(colour="#345678") -> bytes:
    out = BytesIO()
    Image.new("RGB", (60, 30), colour).save(out, "PNG")
    return out.getvalue()


def test_the_same_picture_is_kept_once_and_goes_with_its_last_label(bench, workshop):
    about = {"name": "x.png", "at": AT, "workshop": workshop}
    first = services.keep_art(bench.design, data=a_picture(), **about)
    again = services.keep_art(bench.design, data=a_picture(), **about)
    assert first == again
    assert labels(bench, workshop).standing_in_the_way == []
    services.leave_art(bench.design)
    assert not Art.objects.exists()
    assert LabelLook.objects.get().art is None


def test_what_is_no_picture_is_refused(bench, workshop):
    with pytest.raises(BadArt, match="PNG, JPEG or SVG"):
        services.keep_art(bench.design, name="x", data=b"hello", at=AT, workshop=workshop)
