"""Designs: versions that stand, a fill that fits, what a candle costs, and its page with a gate."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from conftest import AT, ON
from design_examples import design, formula, oil, part, received, recipe, spec, vessel, wax, wick
from pourwright.core.errors import BadInput
from pourwright.core.vessel.shapes import Overfull
from pourwright.workshop.designs import costing, queries, services
from pourwright.workshop.designs.models import Design, DesignVersion, Stage
from pourwright.workshop.formulas.services import revise as revise_formula
from pourwright.workshop.gates import services as gates
from pourwright.workshop.gates.models import Decision
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import Kind, Measure, Place

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]


def spec_like(version, **changes):
    start = services.spec_of(DesignVersion.objects.get(pk=version.pk))
    kept = {name: getattr(start, name) for name in services.DesignSpec.__dataclass_fields__}
    return services.DesignSpec(**(kept | changes))


# --- versions ------------------------------------------------------------------------------------


def test_a_new_design_fixes_its_formula_and_has_an_item_for_its_candles(workshop):
    version = design()
    assert version.number == 1
    assert (version.design.candle.kind, version.design.candle.measure) == (
        Kind.CANDLE, Measure.COUNT,
    )  # fmt: skip
    version.formula_version.refresh_from_db()
    assert version.formula_version.used


def test_an_unused_version_is_changed_in_place(workshop):
    lid = part()
    version = design(parts=[(lid, 1, Stage.FINISH)])
    again = services.revise(
        version.design, spec=spec_like(version, fill_mg=200_000, parts=[(lid, 2, "finish")]), on=ON
    )
    assert (again.pk, again.fill_mg) == (version.pk, 200_000)
    assert [(p.item, p.qty) for p in again.parts.all()] == [(lid, 2)]


def test_a_poured_version_never_changes(workshop):
    version = design(parts=[(part(), 1, Stage.FINISH)])
    DesignVersion.objects.filter(pk=version.pk).update(used=True)
    before = spec_like(version)
    after = services.revise(
        version.design, spec=spec_like(version, fill_mg=200_000, parts=[]), on=ON
    )
    assert (after.number, after.fill_mg, after.parts.count()) == (2, 200_000, 0)
    assert services.same(spec_like(version), before)


def test_a_version_decided_on_at_the_gate_stays_too(workshop):
    version = design()
    gates.waive(subject=version, check_name="burns", reason="four burns", by="A", at=AT)
    after = services.revise(version.design, spec=spec_like(version, trim_mm=Decimal(5)), on=ON)
    assert after.number == 2
    assert not after.decisions.exists()


def test_saving_without_a_change_makes_no_version(workshop):
    version = design(parts=[(part(), 1, Stage.FINISH)])
    DesignVersion.objects.filter(pk=version.pk).update(used=True)
    again = services.revise(version.design, spec=spec_like(version), on=ON)
    assert again.pk == version.pk
    assert version.design.versions.count() == 1


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"fill_mg": 0}, "give more than 0"),
        ({"wick_count": 0}, "1 to 10"),
        ({"wick_count": 11}, "1 to 10"),
        ({"vessel": "wick"}, "not kept as a vessel"),
        ({"wick": "vessel"}, "not kept as a wick"),
        ({"parts": [("lid", 0, "finish")]}, "give more than 0"),
        ({"parts": [("lid", 1, "later")]}, "when poured or when finished"),
        ({"parts": [("lid", 1, "finish"), ("lid", 2, "finish")]}, "given twice"),
        ({"parts": [("vessel", 1, "finish")]}, "is kept as vessel"),
    ],
)
def test_what_is_no_candle_is_refused_with_the_reason(workshop, changes, said):
    things = {"lid": part(), "vessel": vessel("Tin"), "wick": wick("Cord")}
    changes = {
        name: [(things[item], qty, stage) for item, qty, stage in given]
        if name == "parts" else things.get(given, given)
        for name, given in changes.items()
    }  # fmt: skip
    with pytest.raises(services.CannotDesign, match=said):
        design(**changes)
    assert not Design.objects.exists()


def test_more_than_the_vessel_holds_is_refused(workshop):
    """
    74 mm across and 85 mm deep hold 365.6 ml: 329.0 g at 0.9 g/ml set, but liquid at 0.8 g/ml
    only 292.5 g.
    """
    with pytest.raises(Overfull, match=r"holds 365\.6 ml to the brim, 329\.0 g"):
        design(fill_mg=330_000)
    with pytest.raises(Overfull, match="run over at pouring"):
        design(
            fill_mg=293_000,
            formula_version=formula("F2", waxes=[(wax("W2"), Decimal(1))],
                                    oils=[(oil("O2"), Decimal(1))]),
            vessel=vessel("V2"), wick=wick("K2"),
        )  # fmt: skip


def test_a_vessel_without_measures_is_drawn_as_a_stand_in(workshop):
    version = design(vessel=vessel(inside_mm=None, depth_mm=None))
    drawing = services.drawing(version)
    assert not drawing.vessel.outline().measured
    assert services.fill_of(version) is None
    assert "<svg" in services.icon(version)


def test_the_fill_stands_as_high_as_its_volume(workshop):
    """220 g at 0.9 g/ml are 244.44 ml; over a circle of 74 mm that is 56.84 mm."""
    version = design()
    assert services.fill_of(version).height_mm == pytest.approx(56.84, abs=0.005)
    assert services.drawing(version).fill_height_mm == pytest.approx(56.84, abs=0.005)


def test_the_fill_stands_where_the_water_stood(workshop):
    """220 g at 0.9 g/ml are 244.44 ml; the water stood at 40 mm with 200 ml, at 60 mm with 300."""
    marks = [["40", "200"], ["60", "300"], ["80", "420"]]
    version = design(
        vessel=vessel("Waisted jar", shape="water", brim_ml=Decimal(420), water_marks=marks)
    )
    assert services.fill_of(version).height_mm == pytest.approx(40 + 20 * 44.444 / 100, abs=0.005)


def test_the_blends_density_is_by_volume(workshop):
    """Half 0.8 and half 0.9 by mass: 1/(0.5/0.8 + 0.5/0.9) = 0.84706 g/ml."""
    version = formula(
        waxes=[
            (wax("Light", density_cold_g_ml=Decimal("0.8"), density_liquid_g_ml=None), Decimal(1)),
            (wax("Heavy", density_cold_g_ml=Decimal("0.9"), density_liquid_g_ml=None), Decimal(1)),
        ]
    )
    density = services.cold_density_g_ml(services.core_formula(version))
    assert density == pytest.approx(0.847059, abs=1e-6)


def test_the_icon_of_the_same_candle_is_made_once(workshop):
    version = design()
    first = services.icon(version)
    assert services.icon(DesignVersion.objects.get(pk=version.pk)) is first


def test_the_cure_is_the_designs_then_the_waxs_then_the_workshops(workshop):
    own = formula("Own", waxes=[(wax("W1"), Decimal(1))], oils=[(oil("O1"), Decimal(1))])
    slow = formula(
        "Slow",
        waxes=[(wax("W2", cure_days=10), Decimal(1)), (wax("W3", cure_days=21), Decimal(1))],
        oils=[(oil("O2"), Decimal(1))],
    )
    plain = design("A", formula_version=own)
    waxed = design("B", formula_version=slow, vessel=vessel("V2"), wick=wick("K2"))
    set_own = design("C", formula_version=slow, vessel=vessel("V3"), wick=wick("K3"), cure_days=3)
    found = [services.cure_days(version, workshop) for version in (plain, waxed, set_own)]
    assert found == [workshop.cure_days, 21, 3]


# --- cost ----------------------------------------------------------------------------------------


def priced_design(workshop):
    """A candle of 216 g with 8 % of the wax: 200 g of wax, 16 g of oil; no loss."""
    workshop.loss_pct = 0
    workshop.labour_rate_minor100 = 120_000  # 12.00 an hour
    workshop.overhead_pct = 10
    workshop.save()
    base, fig, cup, cord, lid = wax(), oil(), vessel(), wick(), part()
    received(base, 1_000_000, 50_000)  # 0.5 a gram
    received(fig, 100_000, 100_000)  # 1 a milligram
    received(cup, 10, 100_000)
    received(cord, 100, 30_000)
    received(lid, 50, 100_000)
    return design(
        formula_version=formula(waxes=[(base, Decimal(1))], oils=[(fig, Decimal(1))]),
        vessel=cup, wick=cord, wick_count=2, fill_mg=216_000,
        parts=[(lid, 1, Stage.FINISH)], minutes_each=Decimal(5),
        price_minor100=300_000,
    )  # fmt: skip


def test_a_candle_costs_what_the_stores_hold_of_it(workshop):
    cost = costing.estimate(priced_design(workshop), workshop)
    expected = {
        "wax": 10_000, "fragrance": 16_000, "vessel": 10_000, "wick": 600, "packaging": 2_000,
        "labour": 10_000, "overhead": 4_860, "additives": 0, "loss": 0,
    }  # fmt: skip
    assert {name: cost[name] for name in expected} == expected
    assert cost.total_minor100 == 53_460


def test_the_oldest_lot_is_counted_first_and_then_the_next(workshop):
    version = priced_design(workshop)
    cup = version.vessel
    stores.scrap(lot=cup.lots.get(), place=Place.STORE, qty=10, reason="sold on", on=ON, at=AT)
    received(cup, 1, 15_000)
    received(cup, 5, 40_000)
    lines = {line.item: line for line in costing.estimate_lines(version, workshop).lines}
    assert (lines[cup].value, lines[cup].source) == (15_000, costing.FROM_STORE)


def test_where_the_stores_are_empty_the_last_price_paid_counts(workshop):
    version = priced_design(workshop)
    cup = version.vessel
    stores.scrap(lot=cup.lots.get(), place=Place.STORE, qty=10, reason="gone", on=ON, at=AT)
    lines = {line.item: line for line in costing.estimate_lines(version, workshop).lines}
    assert (lines[cup].value, lines[cup].source) == (10_000, costing.FROM_LAST)


def test_what_never_had_a_price_is_named(workshop):
    version = design()
    found = costing.estimate_lines(version, workshop)
    assert {line.item for line in found.unpriced} >= {version.vessel, version.wick}
    assert found.breakdown.total_minor100 == 0


def test_loss_takes_its_share_of_wax_and_oil_and_stands_apart(workshop):
    version = priced_design(workshop)
    workshop.loss_pct = Decimal(20)
    cost = costing.estimate(version, workshop)
    # 216 g poured of 270 g mixed: 250 g of wax and 20 g of oil, a fifth of each lost.
    assert (cost.wax, cost.fragrance, cost.loss) == (10_000, 16_000, 6_500)


def test_many_estimates_are_those_of_each(workshop):
    first, second = priced_design(workshop), design(
        "Plain",
        formula_version=formula("P", waxes=[(wax("W2"), Decimal(1))], oils=[],
                                load_pct=Decimal(0)),
        vessel=vessel("V2"), wick=wick("K2"),
    )  # fmt: skip
    together = costing.estimates([first, second], workshop)
    for version in (first, second):
        assert together[version.pk].breakdown == costing.estimate(version, workshop)


# --- pages ---------------------------------------------------------------------------------------


def typed(given, *parts, **changes):
    data = {
        "name": "Fig tumbler", "label_name": "", "formula_version": given.formula_version.pk,
        "vessel": given.vessel.pk, "wick": given.wick.pk, "wick_count": "1", "fill_mg": "220 g",
        "trim_mm": "6", "cure_days": "", "best_before_months": "", "minutes_each": "",
        "price_minor100": "24", "wholesale_minor100": "", "markets": "", "note": "",
        "parts-TOTAL_FORMS": len(parts), "parts-INITIAL_FORMS": 0,
    }  # fmt: skip
    for place, (item, qty, stage) in enumerate(parts):
        data |= {f"parts-{place}-item": item.pk, f"parts-{place}-qty": qty,
                 f"parts-{place}-stage": stage}  # fmt: skip
    return data | changes


def test_a_design_is_made_by_form_with_parts_by_piece_and_by_weight(client, workshop):
    lid, glue = part(), part("Adhesive", Measure.MASS)
    answer = client.post(
        reverse("designs:new"), typed(spec(), (lid, "2", "finish"), (glue, "0.4 g", "pour"))
    )
    version = DesignVersion.objects.get()
    assert answer.url == reverse("designs:design", args=[version.design_id])
    assert [(p.item, p.qty, p.stage) for p in version.parts.all()] == [
        (lid, 2, "finish"), (glue, 400, "pour"),
    ]  # fmt: skip
    assert (version.fill_mg, version.price_minor100) == (220_000, 240_000)


def test_an_overfull_vessel_is_said_beside_the_fill_and_what_was_typed_stays(client, workshop):
    answer = client.post(reverse("designs:new"), typed(spec(), fill_mg="400 g", note="try"))
    form = answer.context["form"]
    assert "holds 365.6 ml" in form.errors["fill_mg"][0]
    page = answer.content.decode()
    assert 'value="400 g"' in page
    assert 'value="try"' in page
    assert not Design.objects.exists()


def test_the_drawing_follows_the_form_and_nothing_is_saved(client, workshop):
    given = spec()
    live = client.post(
        reverse("designs:new"), typed(given, fill_mg="180"), headers={"HX-Request": "true"}
    )
    page = live.content.decode()
    assert "<html" not in page
    assert page.count("<svg") == 2
    assert "46.5" in page  # 180 g / 0.9 g/ml over 43.008 cm²
    over = client.post(
        reverse("designs:new"), typed(given, fill_mg="400"), headers={"HX-Request": "true"}
    )
    assert "365.6 ml" in over.content.decode()
    missing = client.post(
        reverse("designs:new"), typed(given, vessel=""), headers={"HX-Request": "true"}
    )
    assert "the candle is drawn here" in missing.content.decode()
    assert not Design.objects.exists()


def test_changing_a_fixed_version_says_that_the_next_is_not_released(client, workshop):
    version = design()
    address = reverse("designs:edit", args=[version.design_id])
    assert "not released" not in client.get(address).content.decode()
    DesignVersion.objects.filter(pk=version.pk).update(used=True)
    page = client.get(address).content.decode()
    assert "becomes version 2" in page
    assert "not released" in page
    assert client.post(address, typed(spec_like(version), fill_mg="200")).status_code == 302
    assert [v.fill_mg for v in version.design.versions.all()] == [200_000, 220_000]


@pytest.mark.parametrize("units", ["metric", "us"])
def test_an_untouched_form_saves_back_what_stood(client, workshop, units):
    workshop.units = units
    workshop.save()
    version = design(
        parts=[(part(), 1, "finish"), (part("Glue", Measure.MASS), 433, "pour")],
        fill_mg=219_999, minutes_each=Decimal("4.25"), price_minor100=241_234,
        cure_days=9, markets="us", trim_mm=Decimal("5.5"),
    )  # fmt: skip
    before = spec_like(version)
    address = reverse("designs:edit", args=[version.design_id])
    forms = client.get(address).context["forms"]
    data = {bound.html_name: "" if bound.value() is None else bound.value() for bound in forms.form}
    data |= {f"parts-{key}": forms.parts.management_form[key].value()
             for key in ("TOTAL_FORMS", "INITIAL_FORMS")}  # fmt: skip
    for row in forms.parts:
        data |= {bound.html_name: "" if bound.value() is None else bound.value() for bound in row}
    assert client.post(address, data).status_code == 302
    assert services.same(spec_like(version), before)


def test_starting_from_a_design_copies_it(client, workshop):
    version = design(parts=[(part(), 3, "finish")])
    forms = client.get(reverse("designs:new") + f"?from={version.design_id}").context["forms"]
    assert forms.form.initial["fill_mg"] == 220_000
    assert forms.parts.forms[0].initial["qty"] == 3


def test_the_page_shows_drawing_cost_price_and_gate(client, workshop):
    version = priced_design(workshop)
    page = client.get(reverse("designs:design", args=[version.design_id]))
    text = page.content.decode()
    assert "Section" in text or "section" in text
    assert "$5.35" in text  # 5.3460
    prices = {one.way: one for one in page.context["prices"]}
    assert prices["direct"].wanted.price_minor100 == 107_000  # 5.346 / (1 − 0.5), up to a cent
    assert prices["direct"].set_price.price_minor100 == 300_000
    assert [check.name for check in page.context["gate"].checks] == [
        "wax_limit", "oil_limits", "hazard", "fill", "vessel", "wick", "burns",
    ]  # fmt: skip


def test_a_margin_that_leaves_nothing_is_refused_on_the_page(client, workshop):
    version = priced_design(workshop)
    address = reverse("designs:design", args=[version.design_id])
    asked = {"margin": "95", "fee": "5", "fixed_fee": "", "wholesale_margin": "30",
             "wholesale_fee": "", "ending": ""}  # fmt: skip
    page = client.get(address, asked, headers={"HX-Request": "true"}).content.decode()
    assert "leave nothing of the price" in page
    assert "<html" not in page
    asked |= {"margin": "40", "fee": "0", "ending": "0.95"}
    prices = client.get(address, asked).context["prices"]
    assert prices[0].wanted.price_minor100 == 89_500  # 5.346 / 0.6 = 8.91, up to 8.95


def test_an_earlier_version_can_be_looked_at(client, workshop):
    version = design()
    DesignVersion.objects.filter(pk=version.pk).update(used=True)
    services.revise(version.design, spec=spec_like(version, fill_mg=200_000), on=ON)
    address = reverse("designs:design", args=[version.design_id])
    assert client.get(address).context["version"].number == 2
    assert client.get(address, {"version": "1"}).context["version"].number == 1
    assert client.get(address, {"version": "7"}).status_code == 404
    assert "220 g → 200 g" in client.get(address).content.decode().replace("\xa0", " ")


def test_a_new_formula_version_can_be_chosen_and_the_old_one_stays(client, workshop):
    version = design()
    start = recipe(
        waxes=[(p.item, p.share) for p in version.formula_version.waxes.all()],
        oils=[(p.item, p.share) for p in version.formula_version.oils.all()],
        load_pct=Decimal(6),
    )
    newer = revise_formula(version.formula_version.formula, recipe=start, on=ON)
    form = client.get(reverse("designs:edit", args=[version.design_id])).context["form"]
    offered = set(form.fields["formula_version"].queryset)
    assert offered == {newer, version.formula_version}


# --- the gate on the page ------------------------------------------------------------------------


def decide(client, version, what, **given):
    return client.post(reverse("gates:decide", args=["design", version.pk, what]), given)


def test_a_design_is_released_step_by_step_on_its_page(client, workshop):
    version = design()
    page = reverse("designs:design", args=[version.design_id])
    for name in ("hazard", "burns"):
        answer = decide(client, version, "waive", check_name=name, reason="on paper", by="Ada")
        assert answer.url == page + "#gate"
    assert ">Release<" in client.get(page).content.decode()
    decide(client, version, "release", by="Ada")
    text = client.get(page).content.decode()
    assert re.search(r"</span> released</span>", text)
    assert "on paper" in text
    decide(client, version, "unwaive", check_name="burns", by="Ada")
    assert client.get(page).context["gate"].word == "release withdrawn"


def test_what_the_gate_refuses_is_said_and_the_reason_stays_typed(client, workshop):
    version = design()
    answer = decide(client, version, "waive", check_name="wick", reason="looks fine", by="Ada")
    assert answer.status_code == 422
    assert "is met" in answer.content.decode()
    assert "looks fine" in answer.content.decode()
    assert decide(client, version, "release", by="Ada").status_code == 422
    assert not Decision.objects.exists()


def test_a_decision_is_posted_on_what_exists(client, workshop):
    version = design()
    assert (
        client.get(reverse("gates:decide", args=["design", version.pk, "waive"])).status_code == 405
    )
    assert decide(client, version, "conjure").status_code == 404
    nobody = reverse("gates:decide", args=["design", version.pk + 1, "release"])
    assert client.post(nobody).status_code == 404
    other = reverse("gates:decide", args=["customer", version.pk, "release"])
    assert client.post(other).status_code == 404


# --- the list ------------------------------------------------------------------------------------


def test_the_list_shows_icon_release_cost_and_price(client, workshop):
    version = priced_design(workshop)
    stores.open_with(item=version.design.candle, qty=18, value=900, on=ON, at=AT, ready_on=ON)
    page = client.get(reverse("designs:index"))
    row = page.context["slice"].rows[0]
    assert "<svg" in row.icon
    assert (row.cost, row.released, row.on_shelf) == (53_460, False, 18)
    assert "$30.00" in page.content.decode()


def test_the_list_asks_no_more_questions_for_more_designs(
    client, workshop, django_assert_max_num_queries
):
    lid = part()
    for place in range(25):
        design(
            f"Design {place}",
            formula_version=formula(
                f"F{place}",
                waxes=[(wax(f"W{place}"), Decimal(1))],
                oils=[(oil(f"A{place}"), Decimal(2)), (oil(f"B{place}"), Decimal(1))],
            ),
            vessel=vessel(f"V{place}"), wick=wick(f"K{place}"), parts=[(lid, 1, "finish")],
        )  # fmt: skip
    with django_assert_max_num_queries(20):
        assert len(client.get(reverse("designs:index")).context["slice"]) == 25


def test_a_retired_design_leaves_the_list_and_its_page_stays(client, workshop):
    version = design()
    client.post(reverse("designs:retire", args=[version.design_id]))
    assert not len(client.get(reverse("designs:index")).context["slice"])
    assert len(client.get(reverse("designs:index"), {"show": "retired"}).context["slice"]) == 1
    assert client.get(reverse("designs:design", args=[version.design_id])).status_code == 200


def test_differences_are_told_in_words(workshop):
    version = design(parts=[(part(), 1, "finish")])
    old = spec_like(version)
    new = spec_like(version, wick_count=2, parts=[], price_minor100=240_000)
    assert queries.differences(old, new, workshop=workshop) == [
        "wicks 1 → 2", "price none → $24.00", "Lid when finished left out",
    ]  # fmt: skip


# --- the net weight on the label -----------------------------------------------------------------


def test_a_label_says_what_was_given_or_what_the_fill_bears_out(workshop):
    version = design()
    text, proposed = services.declared_of(version)
    assert (text.text, proposed) == ("220 g", True)
    given_ = services.revise(
        version.design, spec=spec_like(version, declared="7.5 oz (212 g)"), on=ON
    )
    text, proposed = services.declared_of(given_)
    assert (text.text, proposed) == ("7.5 oz (212 g)", False)


def test_a_label_that_says_more_than_is_poured_is_refused(workshop):
    version = design()
    with pytest.raises(services.CannotDesign, match="more than the fill weight"):
        services.revise(version.design, spec=spec_like(version, declared="230 g"), on=ON)
    with pytest.raises(BadInput, match="two different weights"):
        services.revise(version.design, spec=spec_like(version, declared="7 oz (90 g)"), on=ON)


def test_the_form_says_what_is_wrong_with_a_net_weight(client, workshop):
    version = design()
    typed = {"declared": "a jar", "parts-TOTAL_FORMS": 0, "parts-INITIAL_FORMS": 0}
    said = client.post(f"/designs/{version.design.pk}/change/", typed).content.decode()
    assert "is not a mass" in said


def test_an_empty_workshop_says_what_a_design_and_a_pour_need_first(client, workshop):
    shown = client.get(reverse("designs:new")).content.decode()
    assert "A candle needs first" in shown
    for address in (
        reverse("formulas:new"), reverse("stores:item_new", args=["vessel"]),
        reverse("stores:item_new", args=["wick"]),
    ):  # fmt: skip
        assert f'href="{address}"' in shown
        assert client.get(address).status_code == 200
    assert "No design yet" in client.get(reverse("pours:new")).content.decode()
    design()
    assert "A candle needs first" not in client.get(reverse("designs:new")).content.decode()
    assert "No design yet" not in client.get(reverse("pours:new")).content.decode()
