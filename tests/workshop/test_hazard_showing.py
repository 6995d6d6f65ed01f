"""Where hazard shows: the formula's panel, the design's page and gate, identifiers, Today."""

import re
from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from composition_examples import BENZOATE, EUGENOL, LINALOOL, confirmed, drafted
from conftest import AT, ON
from design_examples import design, formula, oil, recipe, spec, wax
from pourwright.core.hazard.identifier import check
from pourwright.core.hazard.model import Market
from pourwright.workshop.designs.services import new_design
from pourwright.workshop.formulas import identifiers
from pourwright.workshop.formulas import services as formulas
from pourwright.workshop.formulas.models import Formulation
from pourwright.workshop.gates import services as gates
from pourwright.workshop.hazard import keeping, showing
from pourwright.workshop.hazard.of_designs import label_elements, pack_of
from pourwright.workshop.hazard.services import mixture_for
from pourwright.workshop.house import today as today_page
from pourwright.workshop.stores.models import Item, Kind, Measure

pytestmark = pytest.mark.django_db

MUCH_LINALOOL = {**LINALOOL, "share": "10 - 20"}
BMHCA = {
    "name": "2-(4-tert-butylbenzyl)propionaldehyde", "cas": "80-54-6", "share": "5 - 10",
    "classes": "Repr. 1B, H360Fd",
}  # fmt: skip


@pytest.fixture
def eu(workshop):
    workshop.markets = "eu"
    workshop.save()
    return workshop


def known(*rows, **about):
    """Return an oil whose composition is confirmed."""
    item = oil()
    confirmed(item, *rows, **about)
    return item


def of(*oils, **changes):
    return formula(oils=[(item, Decimal(1)) for item in oils], **changes)


def hazard_of(version):
    checks = gates.design_checks(version, on=ON)
    return next(check for check in checks if check.name == "hazard")


def panel(version, market="eu", **how):
    return showing.panel_of(
        formulas.recipe_of(version), markets=["eu", "gb", "us"], asked=market, on=ON, **how
    )


def released(version):
    for one in gates.design_checks(version, on=ON):
        if one.state == "open":
            gates.waive(subject=version, check_name=one.name, reason="seen", by="Ada", at=AT)
    gates.release(version, by="Ada", on=ON, at=AT)
    return version


def text(client, page, **given) -> str:
    answer = client.post(page, given) if given else client.get(page)
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", answer.content.decode())


# --- the gate ------------------------------------------------------------------------------------


def test_the_hazard_check_is_met_by_what_each_market_says(workshop):
    workshop.markets = "eu,us"
    workshop.save()
    said = hazard_of(design(formula_version=of(known(MUCH_LINALOOL))))
    assert said.state == "met"
    assert "EU: Skin Sens 1B; Warning, GHS07, H317." in said.detail
    assert "US: nothing on the lists of 16 CFR 1500.13" in said.detail


def test_no_class_is_an_answer_too(eu):
    assert hazard_of(design(formula_version=of(known()))).detail == "EU: no class."
    plain = formula("Plain", oils=[], load_pct=Decimal(0), waxes=[(wax("Rape"), Decimal(1))])
    made = design("Plain tumbler", formula_version=plain, vessel=part_vessel(), wick=a_wick())
    assert hazard_of(made).state == "met"


def part_vessel():
    return Item.objects.create(kind=Kind.VESSEL, name="Tin", measure=Measure.COUNT)


def a_wick():
    return Item.objects.create(kind=Kind.WICK, name="Flat", measure=Measure.COUNT)


def test_a_day_before_the_rules_and_a_market_without_any_stay_open(workshop):
    workshop.markets = "eu,mars"
    workshop.save()
    version = design(formula_version=of(known(LINALOOL)))
    assert hazard_of(version).gaps == ("mars",)
    early = gates.design_checks(version, on=date(1990, 1, 1))
    assert next(one for one in early if one.name == "hazard").gaps == ("eu", "mars")


def test_dye_and_additives_must_be_known_too(eu):
    dye = Item.objects.create(kind=Kind.DYE, name="Rust chips", measure=Measure.MASS)
    version = design(formula_version=of(known(LINALOOL), extras=[(dye, Decimal("0.05"))]))
    said = hazard_of(version)
    assert (said.state, said.gaps) == ("open", ("Rust chips (EU)",))
    confirmed(dye)
    assert hazard_of(version).state == "met"


def test_what_may_not_be_sold_is_refused_even_where_something_is_not_known(eu):
    unknown = oil("Cedar")
    banned = known(BMHCA)
    said = hazard_of(design(formula_version=of(banned, unknown)))
    assert (said.state, said.waivable) == ("refused", False)
    assert "2-(4-tert-butylbenzyl)propionaldehyde" in said.detail


def test_a_sheet_that_shows_a_ban_takes_the_candle_off_sale(eu):
    item = known(LINALOOL)
    version = released(design(formula_version=of(item)))
    drafted(item, BMHCA)
    assert gates.is_released(version)
    confirmed(item, MUCH_LINALOOL)
    assert gates.is_released(version)
    confirmed(item, BMHCA)
    assert not gates.is_released(version)


def test_a_withdrawn_composition_withdraws_the_release(eu):
    item = oil()
    record = confirmed(item, LINALOOL)
    version = released(design(formula_version=of(item)))
    keeping.withdraw(record, reason="another oil’s sheet", at=AT)
    assert not gates.is_released(version)
    assert hazard_of(version).gaps == ("Fig leaf (EU)",)


# --- the panel -----------------------------------------------------------------------------------


def test_the_panel_agrees_with_the_gate_and_with_the_label_for_drawing(eu):
    version = design(formula_version=of(known(MUCH_LINALOOL)))
    found = panel(version.formula_version)
    drawn = label_elements(version, market="eu", on=ON)
    assert [str(sign) for sign in found.label.pictograms] == ["GHS07"]
    assert drawn.pictograms == found.label.pictograms
    assert drawn.contains == found.label.contains == "Contains: linalool."
    assert "GHS07" in hazard_of(version).detail


def test_each_kept_load_is_the_last_one_that_keeps_it(eu):
    """Made into a formula of its own, the load named keeps the label; a little more does not."""
    item = known(MUCH_LINALOOL)
    kept = {one.words: one for one in panel(of(item)).keeps}["free of H317"]
    assert not kept.met_now
    at = Decimal(kept.of_wax)
    for load, free in ((at, True), (at + Decimal("0.02"), False)):
        version = of(item, name=f"at {load}", load_pct=load, waxes=[(wax(f"w{load}"), Decimal(1))])
        codes = [one.code for one in panel(version).label.hazard_statements]
        assert ("H317" not in codes) == free


def test_the_nearest_shares_lose_what_they_say(eu):
    much, little = known({**LINALOOL, "share": "20 - 40"}), oil("Cedar")
    confirmed(little, {**LINALOOL, "share": "1"})
    version = of(much, little, load_pct=Decimal(9))
    (near,) = (one for one in panel(version).nearest if "H317" in one.words)
    moved = formulas.revise(
        version.formula,
        recipe=recipe(
            waxes=[(one.item, one.share) for one in version.waxes.all()],
            oils=[(item, Decimal(float(then)).quantize(Decimal("0.01")))
                  for item, _, then in near.shares],
            load_pct=Decimal(9),
        ),
        on=ON,
    )  # fmt: skip
    assert not any(one.code == "H317" for one in panel(moved).label.hazard_statements)


def test_a_formula_shows_its_label_why_and_every_decision(client, eu):
    version = of(known(MUCH_LINALOOL, BENZOATE))
    page = text(client, reverse("formulas:formula", args=[version.formula_id]))
    assert "May cause an allergic skin reaction." in page
    assert "GHS07, exclamation mark" in page
    assert "Contains: linalool." in page
    assert "competent adviser" in page
    trace = text(client, reverse("formulas:hazard", args=[version.formula_id]) + "?market=eu")
    assert "Table 3.4.5" in trace
    assert "78-70-6" in trace


def test_what_is_not_known_is_named_with_the_way_to_enter_it_and_never_guessed(client, eu):
    version = of(known(LINALOOL), oil("Cedar"))
    page = text(client, reverse("formulas:formula", args=[version.formula_id]))
    item = Item.objects.get(name="Cedar")
    assert "Not complete." in page
    assert f'href="{reverse("hazard:item", args=[item.pk])}"' in page
    assert "so far" in page


@pytest.mark.parametrize(
    ("market", "says"),
    [("us", "16 CFR 1500.13"), ("un", "UN model"), ("gb", "not needed"), ("mars", ": needed")],
)
def test_the_label_is_shown_by_whose_rules_are_asked_for(client, eu, market, says):
    eu.markets = "eu,gb,us"
    eu.save()
    version = of(known(MUCH_LINALOOL))
    page = reverse("formulas:formula", args=[version.formula_id])
    assert says in text(client, f"{page}?market={market}")


def test_the_form_shows_the_label_of_what_is_typed_so_far(client, eu):
    item = known(MUCH_LINALOOL)
    version = of(item)
    given = {
        "name": "Fig at noon", "load_pct": "4", "load_basis": "wax", "market": "eu",
        "waxes-TOTAL_FORMS": "1", "waxes-INITIAL_FORMS": "0",
        "waxes-0-item": version.waxes.get().item_id, "waxes-0-share": "1",
        "oils-TOTAL_FORMS": "1", "oils-INITIAL_FORMS": "0",
        "oils-0-item": item.pk, "oils-0-share": "1",
        "extras-TOTAL_FORMS": "0", "extras-INITIAL_FORMS": "0",
    }  # fmt: skip
    address = reverse("formulas:edit", args=[version.formula_id])

    def live(**changes):
        answer = client.post(address, given | changes, headers={"HX-Request": "true"})
        return re.sub(r"\s+", " ", answer.content.decode())

    mild = live()
    assert 'id="hazard-panel" hx-swap-oob="true"' in mild
    assert "May produce an allergic reaction." in mild
    assert "May cause an allergic skin reaction." in live(load_pct="8")
    assert "It shows when the formula can be read." in live(load_pct="a lot")
    # Without JavaScript the button brings the same.
    worked = text(client, address, **given | {"load_pct": "8", "work": "1"})
    assert "May cause an allergic skin reaction." in worked


def test_a_plain_candle_has_a_label_and_no_headroom(client, eu):
    version = formula(oils=[], load_pct=Decimal(0))
    assert panel(version).load is None
    page = text(client, reverse("formulas:formula", args=[version.formula_id]))
    assert "No hazard element." in page


# --- the design's page ---------------------------------------------------------------------------


def test_a_small_pack_is_spared_what_the_rules_allow(client, eu):
    fragrance = known({**BENZOATE, "share": "50"})
    version = design(formula_version=of(fragrance), fill_mg=100_000)
    assert pack_of(version).ml < 125
    assert [one.code for one in label_elements(version, market=Market.EU, on=ON).left_out]
    page = text(client, reverse("designs:design", args=[version.design_id]))
    assert "May be left out on this small pack" in page
    large = new_design(
        name="Large", on=ON,
        spec=spec(formula_version=version.formula_version, vessel=version.vessel,
                  wick=version.wick, fill_mg=220_000),
    )  # fmt: skip
    assert not label_elements(large, market=Market.EU, on=ON).left_out


def test_a_pack_of_unknown_density_is_taken_to_the_brim(eu):
    version = design(
        formula_version=of(known(LINALOOL), waxes=[(wax(density_cold_g_ml=None), Decimal(1))])
    )
    assert pack_of(version).ml > 300  # 74 mm wide and 85 mm deep
    assert "brim" in pack_of(version).words


def test_a_waiting_sheet_is_told_on_the_design_with_what_it_changes(client, eu):
    item = known(LINALOOL)
    version = design(formula_version=of(item))
    drafted(item, MUCH_LINALOOL)
    page = text(client, reverse("designs:design", args=[version.design_id]))
    assert "waits to be confirmed" in page
    assert re.search(r"EU: EUH208.*→ <strong>Warning, H317", page)


# --- the identifier ------------------------------------------------------------------------------


def give(client, version, **more):
    address = reverse("formulas:number", args=[version.formula_id])
    return client.post(address, {"version": version.number, **more}, follow=True)


def test_the_same_recipe_keeps_its_number_and_a_changed_one_gets_another(client, eu):
    eu.company_key = 77
    eu.save()
    item = known(MUCH_LINALOOL)
    first = of(item)
    give(client, first)
    give(client, first)
    assert Formulation.objects.count() == 1
    parts = recipe(
        waxes=[(one.item, one.share) for one in first.waxes.all()],
        oils=[(item, Decimal(2))],
    )
    formulas.FormulaVersion.objects.filter(pk=first.pk).update(used=True)
    same = formulas.revise(first.formula, recipe=parts, on=ON)
    assert same.number == 2
    code = showing.numbered(mixture_for(same), eu).code
    assert code == showing.numbered(mixture_for(first), eu).code
    assert (check(code).company_key, check(code).formulation) == (77, 1)
    assert f'UFI: <span class="code">{code}</span>' in text(
        client, reverse("formulas:formula", args=[first.formula_id])
    )
    other = formulas.new_formula(
        name="Other", recipe=recipe(waxes=parts.waxes, oils=parts.oils, load_pct=Decimal(7)), on=ON
    )
    assert showing.numbered(mixture_for(other), eu).formulation is None
    give(client, other)
    assert sorted(Formulation.objects.values_list("number", flat=True)) == [1, 2]


def test_a_sheet_that_says_something_else_is_shown_beside_the_identifier(client, eu):
    item = known(MUCH_LINALOOL)
    version = design(formula_version=of(item))
    give(client, version.formula_version, design=version.design_id)
    assert not showing.numbered(mixture_for(version.formula_version), eu).changed
    confirmed(item, MUCH_LINALOOL, EUGENOL)
    assert showing.numbered(mixture_for(version.formula_version), eu).changed
    page = text(client, reverse("designs:design", args=[version.design_id]))
    assert "it needs a new number" in page
    assert "Enter your VAT number or company key" in page
    give(client, version.formula_version)
    assert Formulation.objects.count() == 2


@pytest.mark.parametrize("number", ["12a", "-1", "268435456", "٣"])
def test_a_number_that_no_formulation_has_is_refused(client, eu, number):
    answer = give(client, of(known(MUCH_LINALOOL)), number=number)
    assert not Formulation.objects.exists()
    assert answer.status_code == 200


def test_a_number_stands_for_one_recipe(client, eu):
    item = known(MUCH_LINALOOL)
    first = of(item)
    give(client, first, number="40")
    second = formulas.new_formula(
        name="Other", recipe=recipe(oils=[(item, Decimal(1))], waxes=[(wax("R"), Decimal(1))]),
        on=ON,
    )  # fmt: skip
    assert b"a number stands for one recipe" in give(client, second, number="40").content
    give(client, second)
    assert sorted(Formulation.objects.values_list("number", flat=True)) == [40, 41]
    assert identifiers.formulation_of("nothing") is None


def test_the_settings_take_a_vat_number_or_a_key_and_say_what_is_wrong(client, workshop):
    page = reverse("workshop")
    form = client.get(page).context["form"]
    given = {
        name: field.value() or ""
        for name, field in ((f.name, f) for f in form)
        if name != "markets"
    } | {"markets": ["eu"]}  # fmt: skip
    wrong = text(client, page, **given | {"vat_country": "DE", "vat_number": "12"})
    assert "VAT number of Germany" in wrong
    assert "not both" in text(
        client, page, **given | {"vat_country": "DE", "vat_number": "112358132", "company_key": 7}
    )
    assert client.post(page, given | {"company_key": "7"}).status_code == 302
    workshop.refresh_from_db()
    assert workshop.company_key == 7


# --- Today ---------------------------------------------------------------------------------------


def test_today_tells_what_in_use_is_unknown_old_or_waits(workshop):
    old, fresh = known(LINALOOL, sheet_date=ON.replace(year=2019)), oil("Cedar")
    confirmed(fresh, LINALOOL)
    drafted(fresh, MUCH_LINALOOL)
    formula("All", oils=[(old, Decimal(1)), (fresh, Decimal(1)), (oil("Bay"), Decimal(1))])
    oil("In no formula")
    words = [line.what for line in today_page.day(on=ON, workshop=workshop).at_risk]
    assert "Bay without a composition" in words
    assert "Fig leaf with a safety sheet grown old" in words
    assert "Cedar with a sheet to look over" in words
    assert not any("In no formula" in word for word in words)
