"""The workshop is set up, and its supplies, formulas and designs come to be, each on its day."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

from pourwright.core.amounts import parse_money
from pourwright.workshop.demo import sheets
from pourwright.workshop.demo.life import G, Life
from pourwright.workshop.demo.tables import table
from pourwright.workshop.demo.weighing import label_of
from pourwright.workshop.designs import services as designs
from pourwright.workshop.designs.models import Stage
from pourwright.workshop.formulas import services as formulas
from pourwright.workshop.formulas.services import Recipe
from pourwright.workshop.gates import services as gates
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.pours.models import Melter
from pourwright.workshop.stores import items as stores_items
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.items import About
from pourwright.workshop.stores.models import Kind

NUMBERS = (
    "max_load_pct", "density_cold_g_ml", "density_liquid_g_ml", "melt_to_c", "add_at_c",
    "pour_at_c", "never_above_c", "set_hours", "flash_point_c", "density_g_ml",
    "max_pct_of_whole", "inside_mm", "top_inside_mm", "depth_mm", "wall_mm", "base_mm",
    "length_mm", "burn_rate_g_h",
)  # fmt: skip

BURNS_SEEN = (
    "Three candles burnt to the end in the notebook, four hours at a time: even pool, no soot, "
    "glass never too hot to hold. Kept on paper until burns are kept here."
)
AGAIN_SEEN = (
    "As the version before, with a little more oil: two candles burnt to the end, no change."
)


def set_up(life: Life) -> None:
    """Enter the melters, the suppliers, every supply, and what was there of it."""
    life.melters = [
        Melter.objects.create(**row | {"capacity_ml": Decimal(row["capacity_ml"])})
        for row in table("workshop")["melters"]
    ]
    for row in table("supplies")["suppliers"]:
        about = About(name=row["name"], contact=row["contact"], lead_days=row["lead_days"])
        life.suppliers[row["key"]] = stores_items.keep_supplier(about)
    for row in table("supplies")["items"]:
        life.items[row["key"]] = _item(life, row)
        _opening(life, row)


def the_workshop() -> Workshop:
    """Return the demo's settings, kept."""
    row = {key: value for key, value in table("workshop").items() if key != "melters"}
    row["labour_rate_minor100"] = parse_money(row.pop("labour_rate"), currency=row["currency"])
    for name in ("loss_pct", "overhead_pct"):
        row[name] = Decimal(row[name])
    workshop = Workshop(pk=1, is_demo=True, **row)
    workshop.save()
    return workshop


def unit_of(row: dict) -> int:
    """Return how many of the records' units one gram or piece of a table's row is."""
    return G if by_mass(row) else 1


def by_mass(row: dict) -> bool:
    return row.get("measure") == "mass" or row["kind"] in (Kind.WAX, Kind.OIL)


def price_of(life: Life, row: dict, qty: int) -> int:
    """Return what so many grams or pieces cost, the price being for a kilogram or a piece."""
    pounds = Decimal(row["price"]) * qty / (1000 if by_mass(row) else 1)
    return int((pounds * 100).to_integral_value()) * 100


def _item(life: Life, row: dict):
    facts = {
        key: Decimal(value) if key in NUMBERS else value
        for key, value in row.get("facts", {}).items()
    }
    if row["kind"] == Kind.OIL:
        sheet = life.start - timedelta(days=90)
        facts |= {
            "limit_from": f"certificate of the supplier, {sheet:%B %Y}",
            "sheet_date": sheet,
            "sheet_revision": "3",
        }
    if row["kind"] == Kind.VESSEL:
        facts["leak_tested_on"] = life.start - timedelta(days=12)
    return stores_items.new_item(
        kind=row["kind"],
        name=row["name"],
        measure=row.get("measure"),
        facts=facts,
        supplier=life.suppliers[row["supplier"]],
        reorder_below=row["low"] * unit_of(row) or None,
        piece_mg=round(row["piece_g"] * G) if "piece_g" in row else None,
    )


def _opening(life: Life, row: dict) -> None:
    if not row.get("opening"):
        return
    stores.open_with(
        item=life.items[row["key"]],
        qty=row["opening"] * unit_of(row),
        value=price_of(life, row, row["opening"]),
        on=life.on,
        at=life.at(9),
        began_on=life.on - timedelta(days=40),
        note="there before the books began",
        best_before=best_before(life, row),
    )


def best_before(life: Life, row: dict):
    months = row.get("keeps_months")
    return life.on + timedelta(days=round(months * 30.4)) if months else None


# --- formulas and designs ------------------------------------------------------------------------


def of_the_day(life: Life) -> None:
    """Write the formulas, revisions and designs whose day this is."""
    for row in _due(life, table("formulas")["formulas"]):
        life.formulas[row["key"]] = formulas.new_formula(
            name=row["name"], idea=row["idea"], recipe=_recipe(life, row), on=life.on
        )
    for row in _due(life, table("formulas")["revisions"]):
        _revise(life, row)
    for row in _due(life, table("designs")["designs"]):
        life.designs[row["key"]] = _design(life, row)


def _due(life: Life, rows: list[dict]) -> list[dict]:
    return [row for row in rows if row["day"] == life.day]


def _recipe(life: Life, row: dict) -> Recipe:
    def parts(name: str) -> list:
        return [(life.items[key], Decimal(share)) for key, share in row.get(name, {}).items()]

    return Recipe(
        waxes=parts("wax"),
        oils=parts("oils"),
        extras=parts("extras"),
        load_pct=Decimal(row["load"]),
        load_basis=row["basis"],
        add_at_c=Decimal(row["add_at"]) if "add_at" in row else None,
        pour_at_c=Decimal(row["pour_at"]),
        override_reason=row.get("override", ""),
        note=row.get("note", ""),
    )


def _revise(life: Life, row: dict) -> None:
    """Revise a formula, and the designs that are made of it."""
    old = life.formulas[row["key"]]
    recipe = formulas.recipe_of(old)
    if "load" in row:
        recipe = replace(recipe, load_pct=Decimal(row["load"]))
    if "oils" in row:
        oils = [(life.items[key], Decimal(share)) for key, share in row["oils"].items()]
        recipe = replace(recipe, oils=oils)
    recipe = replace(recipe, note=row["note"])
    new = formulas.revise(old.formula, recipe=recipe, on=life.on)
    life.formulas[row["key"]] = new
    for key, version in life.designs.items():
        if version.formula_version_id == old.pk and new.pk != old.pk:
            spec = replace(designs.spec_of(version), formula_version=new)
            life.designs[key] = designs.revise(version.design, spec=spec, on=life.on)
            release_design(life, key, burns=AGAIN_SEEN)


def _design(life: Life, row: dict):
    wicks = row.get("wicks", 1)
    parts = [(life.items["tab"], wicks, Stage.POUR), (life.items["sticker"], wicks, Stage.POUR)]
    parts += [(life.items[key], qty, Stage.FINISH) for key, qty in row["finish"].items()]
    spec = designs.DesignSpec(
        formula_version=life.formulas[row["formula"]],
        vessel=life.items[row["vessel"]],
        wick=life.items[row["wick"]],
        wick_count=wicks,
        fill_mg=row["fill"] * G,
        declared=label_of(row["fill"]),
        parts=parts,
        cure_days=row.get("cure"),
        best_before_months=24,
        minutes_each=Decimal(row["minutes"]),
        price_minor100=life.money(row["price"]),
        wholesale_minor100=life.money(row["wholesale"]),
    )
    return designs.new_design(name=row["name"], label_name=row["label_name"], spec=spec, on=life.on)


def release_design(life: Life, key: str, *, burns: str = BURNS_SEEN) -> None:
    """Pass by hand what has no evidence here yet, with the reason, and release the design."""
    version = life.designs[key]
    gates.waive(
        subject=version, check_name="burns", reason=burns, by=life.workshop.maker, at=life.at(17)
    )
    gates.release(version, by=life.workshop.maker, on=life.on, at=life.at(17, 10))
    sheets.number(life, version)
    life.released.add(version.pk)


def design_row(key: str) -> dict:
    return next(row for row in table("designs")["designs"] if row["key"] == key)
