"""Formulas: versions that stand, limits that hold, and pages that show and keep what was typed."""

from decimal import Decimal
from fractions import Fraction

import pytest
from django.urls import reverse

from conftest import AT, ON
from design_examples import design, formula, oil, recipe, wax
from pourwright.core.formula import OverLimit
from pourwright.workshop.formulas import queries, services
from pourwright.workshop.formulas.models import Formula, FormulaVersion
from pourwright.workshop.pours.models import Melter
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import Item, Kind, Measure

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]


def parts(version):
    return {p.item.name: p.share for p in (*version.waxes.all(), *version.oils.all())}


# --- services ------------------------------------------------------------------------------------


def test_a_new_formula_has_its_first_version_and_an_item_for_its_left_over_mix(workshop):
    version = formula()
    assert (version.number, version.made_on, version.used) == (1, ON, False)
    assert (version.formula.mix.kind, version.formula.mix.name) == (Kind.MIX, "Fig at noon")
    assert parts(version) == {"Meadow blend": 1, "Fig leaf": 1}


def test_an_unused_version_is_changed_in_place(workshop):
    version = formula()
    start = services.recipe_of(version)
    again = services.revise(
        version.formula,
        recipe=recipe(waxes=start.waxes, oils=start.oils, load_pct=Decimal(6)),
        on=ON,
    )
    assert (again.pk, again.number, again.load_pct) == (version.pk, 1, 6)
    assert parts(again) == {"Meadow blend": 1, "Fig leaf": 1}


def test_a_used_version_never_changes_and_the_next_one_is_made(workshop):
    version = formula()
    design(formula_version=version)
    before = services.recipe_of(FormulaVersion.objects.get(pk=version.pk))
    other = oil("Wet moss")
    after = services.revise(
        version.formula,
        recipe=recipe(waxes=before.waxes, oils=[(other, Decimal(2))], load_pct=Decimal(5)),
        on=ON,
    )
    assert after.number == 2
    stands = FormulaVersion.objects.get(pk=version.pk)
    assert stands.used
    assert services.same(services.recipe_of(stands), before)
    assert parts(after) == {"Meadow blend": 1, "Wet moss": 2}


def test_saving_without_a_change_makes_no_version(workshop):
    version = formula()
    design(formula_version=version)
    again = services.revise(version.formula, recipe=services.recipe_of(version), on=ON)
    assert again.pk == version.pk
    assert version.formula.versions.count() == 1


def test_above_the_waxs_limit_only_with_a_reason(workshop):
    base = wax(limit="6")
    with pytest.raises(OverLimit, match="6 % of the wax"):
        formula(waxes=[(base, Decimal(1))])
    version = formula(
        waxes=[(base, Decimal(1))],
        oils=[(oil("Amber"), Decimal(1))],
        override_reason="held its oil for a month",
    )
    found = services.findings(version)
    assert [(f.code, f.override_reason) for f in found] == [
        ("wax_limit", "held its oil for a month")
    ]


def test_above_an_oils_safety_limit_no_reason_helps_and_nothing_is_saved(workshop):
    with pytest.raises(OverLimit, match="safety limit is 3 %"):
        formula(oils=[(oil(limit="3"), Decimal(1))], override_reason="I am sure")
    assert not Formula.objects.exists()
    assert not Item.objects.filter(kind=Kind.MIX).exists()


def test_a_limit_of_the_whole_is_compared_with_the_load_of_the_whole(workshop):
    """8 % of the wax is 800/108 = 7.407 % of the whole: under 7.5 of the whole, over 7.4."""
    formula("Under", waxes=[(wax("W1", limit="7.5", basis="whole"), Decimal(1))])
    with pytest.raises(OverLimit):
        formula(
            "Over",
            waxes=[(wax("W2", limit="7.4", basis="whole"), Decimal(1))],
            oils=[(oil("O2"), Decimal(1))],
        )


def test_adding_above_a_flash_point_warns_and_is_kept(workshop):
    version = formula(oils=[(oil(flash="70"), Decimal(1))])
    assert [f.code for f in services.findings(version)] == ["flash_point"]


def test_a_plain_formula_has_no_oil_and_no_load(workshop):
    version = formula(oils=[], load_pct=Decimal(0))
    assert services.core_formula(version).load_pct_of_whole == 0
    assert services.findings(version) == ()


def test_a_thing_in_the_wrong_row_is_refused_by_name(workshop):
    with pytest.raises(services.CannotFormulate, match="“Fig leaf” is kept as fragrance oil"):
        formula(waxes=[(oil(), Decimal(1))], oils=[], load_pct=Decimal(0))


def test_two_formulas_cannot_share_a_name(workshop):
    formula()
    with pytest.raises(services.CannotFormulate, match="There is a formula"):
        formula(waxes=[(wax("Other"), Decimal(1))], oils=[(oil("O"), Decimal(1))])


def test_renaming_renames_the_left_over_mix_too(workshop):
    made = formula().formula
    services.describe(made, name="Fig at dusk", idea="later")
    made.refresh_from_db()
    assert (made.name, made.mix.name) == ("Fig at dusk", "Fig at dusk")


def test_differences_are_told_in_words(workshop):
    base, fig, moss = wax(), oil(), oil("Wet moss")
    old = recipe(waxes=[(base, Decimal(1))], oils=[(fig, Decimal(60)), (moss, Decimal(40))])
    new = recipe(
        waxes=[(base, Decimal(1))], oils=[(fig, Decimal(75))], load_pct=Decimal(7),
        add_at_c=Decimal(70),
    )  # fmt: skip
    said = [words.replace("\xa0", " ") for words in queries.differences(old, new)]
    assert said == [
        "load 8 % of the wax → 7 % of the wax",
        "Wet moss left out",
        "share of Fig leaf 60 → 75",
        "oils added at 75 °C → 70 °C",
    ]
    assert queries.differences(old, old) == []


def test_the_parts_of_a_kilogram_of_mix_add_up(workshop):
    fig, moss, amber = oil(), oil("Wet moss"), oil("Amber")
    version = formula(oils=[(fig, Decimal(1)), (moss, Decimal(1)), (amber, Decimal(1))])
    sums = queries.sums_of(services.core_formula(version))
    assert sum(line.pct_of_whole for line in sums.lines) == 100
    assert abs(sum(line.per_kilo_mg for line in sums.lines) - 1_000_000) <= 2
    assert sums.load_pct_of_whole == Fraction(800, 108)


# --- pages ---------------------------------------------------------------------------------------


def rows(prefix, *given, amount="share"):
    data = {f"{prefix}-TOTAL_FORMS": len(given), f"{prefix}-INITIAL_FORMS": 0}
    for place, (item, value) in enumerate(given):
        data |= {
            f"{prefix}-{place}-item": (item and item.pk) or "",
            f"{prefix}-{place}-{amount}": value,
        }
    return data


def typed(waxes=(), oils=(), extras=(), **facts):
    return (
        {"name": "Fig at noon", "idea": "", "load_pct": "8", "load_basis": "wax",
         "add_at_c": "75", "pour_at_c": "60 C", "stir_minutes": "2", "override_reason": "",
         "note": ""}
        | rows("waxes", *waxes) | rows("oils", *oils)
        | rows("extras", *extras, amount="pct_of_wax") | facts
    )  # fmt: skip


def test_a_formula_is_written_by_form(client, workshop):
    base, fig = wax(), oil()
    dye = Item.objects.create(kind=Kind.DYE, name="Green chip", measure=Measure.MASS)
    answer = client.post(
        reverse("formulas:new"),
        typed([(base, "3")], [(fig, "1"), (None, "")], [(dye, "0.05")], add_at_c="167 F"),
    )
    made = Formula.objects.get()
    assert answer.url == reverse("formulas:formula", args=[made.pk])
    version = made.versions.get()
    assert (version.add_at_c, version.pour_at_c) == (75, 60)
    assert version.extras.get().pct_of_wax == Decimal("0.05")
    page = client.get(answer.url).content.decode()
    assert "Green chip" in page
    assert "7.4" in page


def test_a_refusal_is_said_on_the_form_and_what_was_typed_stays(client, workshop):
    base, fig = wax(limit="6"), oil()
    answer = client.post(reverse("formulas:new"), typed([(base, "3")], [(fig, "17")], note="try"))
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "takes up to 6 % of the wax" in page
    assert 'value="17"' in page
    assert 'value="try"' in page
    assert not Formula.objects.exists()


def test_what_cannot_be_read_is_said_beside_its_field(client, workshop):
    answer = client.post(reverse("formulas:new"), typed([(wax(), "3")], [(oil(), "much")]))
    assert "much" in answer.context["forms"].tables["oils"].forms[0].errors["share"][0]


def test_moving_the_load_shows_what_it_comes_to_and_saves_nothing(client, workshop):
    base, fig = wax(), oil(limit="5")
    data = typed([(base, "1")], [(fig, "1")], load_pct="4")
    live = client.post(reverse("formulas:new"), data, headers={"HX-Request": "true"})
    assert "3.846" in live.content.decode()  # 400/104
    assert "<html" not in live.content.decode()
    data["load_pct"] = "9"
    over = client.post(reverse("formulas:new"), data, headers={"HX-Request": "true"})
    assert "safety limit is 5" in over.content.decode()
    plain = client.post(reverse("formulas:new"), data | {"work": "1"})
    assert "safety limit is 5" in plain.content.decode()
    assert not Formula.objects.exists()


def test_the_page_says_that_a_used_version_stays(client, workshop):
    version = formula()
    address = reverse("formulas:edit", args=[version.formula_id])
    assert "becomes version" not in client.get(address).content.decode()
    design(formula_version=version)
    assert "becomes version 2" in client.get(address).content.decode()


def test_starting_from_a_formula_copies_it_and_leaves_it_alone(client, workshop):
    version = formula()
    page = client.get(reverse("formulas:new") + f"?from={version.formula_id}")
    forms = page.context["forms"]
    assert forms.form.initial["load_pct"] == 8
    assert forms.tables["oils"].forms[0].initial["item"].name == "Fig leaf"
    assert version.formula.versions.count() == 1


def test_an_untouched_form_saves_back_what_stood(client, workshop):
    """Every field shows its value so that reading it again gives the same."""
    version = formula(load_pct=Decimal("7.125"), pour_at_c=Decimal("61.5"), note="soft")
    address = reverse("formulas:edit", args=[version.formula_id])
    for units in ("metric", "us"):
        workshop.units = units
        workshop.save()
        before = services.recipe_of(services.newest_version(version.formula))
        forms = client.get(address).context["forms"]
        data = {bound.html_name: bound.value() or "" for bound in forms.form}
        for table in forms.tables.values():
            data |= {f"{table.prefix}-{key}": table.management_form[key].value()
                     for key in ("TOTAL_FORMS", "INITIAL_FORMS")}  # fmt: skip
            data |= {bound.html_name: bound.value() or "" for row in table for bound in row}
        assert client.post(address, data).status_code == 302
        assert services.same(
            services.recipe_of(services.newest_version(version.formula)), before
        ), units
    assert version.formula.versions.count() == 1


def test_the_calculator_sizes_a_batch_from_vessels(client, workshop):
    """10 vessels of 216 g of an 8 % load are 2 kg of wax and 160 g of oil."""
    version = formula()
    address = reverse("formulas:formula", args=[version.formula_id])
    asked = {"by": "vessels", "number": "10", "fill": "216 g", "loss": "0", "oil_goes_in": "melter"}
    worked = client.get(address, asked).context["worked"]
    assert [(row.name, row.weigh_mg) for row in worked.rows] == [
        ("Meadow blend", 2_000_000), ("Fig leaf", 160_000),
    ]  # fmt: skip
    assert (worked.vessels, worked.left_mg, worked.load_pct_of_wax) == (10, 0, 8)
    part = client.get(address, asked, headers={"HX-Request": "true"})
    assert "<html" not in part.content.decode()
    assert "HX-Request" in part.headers["Vary"]


def test_the_calculator_says_how_many_a_melter_fills_and_what_is_left(client, workshop):
    version = formula()
    kettle = Melter.objects.create(name="Kettle", capacity_mg=3_240_000)
    address = reverse("formulas:formula", args=[version.formula_id])
    asked = {
        "by": "melter",
        "melter": kettle.pk,
        "fill": "500",
        "loss": "",
        "oil_goes_in": "melter",
    }
    worked = client.get(address, asked).context["worked"]
    assert (worked.mix_mg, worked.vessels, worked.left_mg) == (3_240_000, 6, 240_000)
    asked |= {"by": "vessels", "number": "60"}
    page = client.get(address, asked).content.decode()
    assert "does not fit the melter" in page


def test_an_earlier_version_can_be_looked_at(client, workshop):
    version = formula()
    design(formula_version=version)
    start = services.recipe_of(version)
    services.revise(
        version.formula,
        recipe=recipe(waxes=start.waxes, oils=start.oils, load_pct=Decimal(5)),
        on=ON,
    )
    address = reverse("formulas:formula", args=[version.formula_id])
    assert client.get(address).context["version"].load_pct == 5
    assert client.get(address, {"version": "1"}).context["version"].load_pct == 8
    assert client.get(address, {"version": "9"}).status_code == 404


def test_the_calculator_asks_for_what_it_lacks(client, workshop):
    version = formula()
    address = reverse("formulas:formula", args=[version.formula_id])
    form = client.get(address, {"by": "wax", "wax": "", "loss": "x"}).context["batch_form"]
    assert {"wax", "loss"} <= set(form.errors)


def test_left_over_mix_stands_on_the_page_and_in_the_list(client, workshop):
    version = formula()
    stores.open_with(item=version.formula.mix, qty=640_000, value=900, on=ON, at=AT)
    page = client.get(reverse("formulas:formula", args=[version.formula_id])).content.decode()
    assert "M-0001" in page
    assert "640.0" in client.get(reverse("formulas:index")).content.decode()


def test_the_list_finds_by_name_and_by_oil_and_hides_what_is_retired(client, workshop):
    first, second = formula(), formula(
        "Cellar", waxes=[(wax("W2"), Decimal(1))], oils=[(oil("Wet moss"), Decimal(1))]
    )  # fmt: skip
    address = reverse("formulas:index")

    def names(**asked):
        return [row.name for row in client.get(address, asked).context["slice"]]

    assert names() == ["Cellar", "Fig at noon"]
    assert names(q="moss") == ["Cellar"]
    assert names(q="noon fig") == ["Fig at noon"]
    client.post(reverse("formulas:retire", args=[first.formula_id]))
    assert names() == ["Cellar"]
    assert names(show="retired") == ["Fig at noon"]
    assert second.number == 1


def test_a_formula_with_two_versions_that_match_is_listed_once(client, workshop):
    version = formula()
    design(formula_version=version)
    start = services.recipe_of(version)
    services.revise(
        version.formula,
        recipe=recipe(waxes=start.waxes, oils=start.oils, load_pct=Decimal(5)),
        on=ON,
    )
    found = client.get(reverse("formulas:index"), {"q": "fig leaf"}).context["slice"]
    assert [(row.name, row.designs, row.newest.number) for row in found] == [("Fig at noon", 1, 2)]


def test_the_list_asks_no_more_questions_for_more_formulas(
    client, workshop, django_assert_max_num_queries
):
    address = reverse("formulas:index")

    def more(count, start):
        for place in range(start, start + count):
            formula(
                f"Formula {place}",
                waxes=[(wax(f"W{place}"), Decimal(1))],
                oils=[(oil(f"A{place}"), Decimal(1)), (oil(f"B{place}"), Decimal(1))],
            )

    more(30, 0)
    with django_assert_max_num_queries(12):
        assert len(client.get(address).context["slice"]) == 30


def test_an_empty_list_says_what_to_do_next(client, workshop):
    assert reverse("formulas:new") in client.get(reverse("formulas:index")).content.decode()
