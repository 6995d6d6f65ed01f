"""
The kinds of file that can be brought in and taken out, column by column.

Everything that is said about a file comes from here: the help on the page and in the terminal, the
template, the head of an export, and what is accepted. Examples are invented.
"""

from __future__ import annotations

from dataclasses import dataclass

from pourwright.core.errors import BadInput
from pourwright.intake.columns import (
    Column,
    amount,
    day,
    density,
    email,
    length,
    marks,
    mass,
    money,
    number,
    one_of,
    percent,
    temperature,
    text,
    volume,
    whole,
    yes_or_no,
)
from pourwright.intake.compositions import (
    class_lines,
    estimate_lines,
    exact_words,
    limit_lines,
    part,
    read_ate,
    read_cas,
    read_classes,
    read_limits,
    read_m,
    read_name,
    read_routes,
    read_share,
    routes_words,
    share_words,
)


class UnknownKind(BadInput):
    """There is no such kind of file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """
    One kind of file. ``group`` names the column whose equal words make lines belong together.

    ``needs`` are the kinds that have to be there before.
    """

    name: str
    what: str
    columns: tuple[Column, ...]
    group: str = ""
    needs: tuple[str, ...] = ()

    @property
    def slug(self) -> str:
        """Return the name as addresses and the command line write it."""
        return self.name.replace(" ", "-")

    def column(self, name: str) -> Column:
        return next(column for column in self.columns if column.name == name)


_SUPPLIER = text("supplier", "who sells it; the supplier must be there", "Brindle Wax Works")
_SUPPLIER_REF = text("supplier's number", "what the supplier calls it", "SB-20", most=80)
_NOTES = text("notes", "anything else", most=2000)
_RETIRED = yes_or_no("retired", "no longer used; kept for the records")
_NAME = text("name", "what you call it", "Soy blend no. 2", most=120, required=True)
_PIECES_LEFT = whole("reorder below", "Today warns when fewer are left", "24")
_PIECE = mass("piece weight", "what one piece weighs, to spread freight by weight", "215")
_BASIS = {"of the wax": "wax", "of the whole": "whole"}

SUPPLY_KINDS = {
    "wax": "wax", "fragrance oil": "oil", "dye": "dye", "additive": "additive", "part": "part",
}  # fmt: skip
ITEM_KINDS = {
    **SUPPLY_KINDS, "vessel": "vessel", "wick": "wick", "scented mix": "mix",
    "finished candle": "candle",
}  # fmt: skip

SUPPLIERS = Kind(
    name="suppliers",
    what="whom you buy from; one line a supplier",
    columns=(
        text("name", "the supplier's name", "Brindle Wax Works", most=120, required=True),
        text("contact", "whom to ask for", "Ada Thorn"),
        email("email", "address for mail", "orders@brindle.example"),
        text("website", "address on the web", "brindle.example"),
        text("address", "where they are", "4 Mill Lane", most=1000),
        whole("lead days", "days from order to arrival, usually", "5"),
        _NOTES,
    ),
)

SUPPLIES = Kind(
    name="supplies",
    what="waxes, fragrance oils, dyes, additives and parts, with what is known of each; "
    "one line a supply",
    needs=("suppliers",),
    columns=(
        one_of("kind", "what it is", "wax", SUPPLY_KINDS, required=True),
        _NAME,
        one_of(
            "measured by",
            "weight or piece; empty: a part by the piece, the others by weight",
            "weight",
            {"weight": "mass", "piece": "count"},
        ),
        _SUPPLIER,
        _SUPPLIER_REF,
        amount("reorder below", "Today warns when less is left", "4 kg"),
        mass("piece weight", "what one piece weighs, to spread freight by weight", ""),
        percent("most load", "wax: most oil it takes, by its supplier", "9"),
        one_of("most load basis", "wax: what that is a percentage of", "of the wax", _BASIS),
        density("cold density", "wax: set and cold", "0.91"),
        density("liquid density", "wax: melted", "0.83"),
        temperature("melt to", "wax: how hot to melt it", "80"),
        temperature("add oil at", "wax: when the oil goes in", "74"),
        temperature("pour at", "wax: when to pour", "62"),
        temperature("never above", "wax: spoils, or worse, above this", "95"),
        number("setting hours", "wax: until it may be moved", "12", places=1, most=500),
        whole("cure days", "wax: before it is tested or sold", "10"),
        text("figures from", "wax: whose word these are", "supplier's sheet, 2025"),
        text("wax revision", "wax: its supplier's revision", "", most=40),
        temperature("flash point", "oil: from its safety sheet", ""),
        density("oil density", "oil: from its sheet", ""),
        percent("safety limit of the whole", "oil: most of it in a candle, by its certificate", ""),
        text("limit from", "oil: where the limit is written", ""),
        day("sheet date", "oil: date of the safety sheet", ""),
        text("sheet revision", "oil: its revision", "", most=40),
        _NOTES,
        _RETIRED,
    ),
)

MELTED_KINDS = {word: kept for word, kept in SUPPLY_KINDS.items() if kept != "part"}
_UNKNOWN = "sheet's statement: of unknown toxicity"

COMPOSITIONS = Kind(
    name="compositions",
    what="what oils, dyes, additives and waxes are made of, by their safety sheets; one line a "
    "substance, the lines of one material together. What is brought in counts as confirmed",
    needs=("supplies",),
    group="material",
    columns=(
        text("material", "its name in the stores, on each line", "Plum and smoke oil", most=120,
             required=True),
        one_of("kind", "what it is, where two share a name", "fragrance oil", MELTED_KINDS,
               head=True),
        text("product name", "as the sheet calls it", "Plum & Smoke", head=True),
        day("sheet date", "of this revision of the sheet", "2025-04-03", head=True),
        text("revision", "of the sheet", "3.1", most=40, head=True),
        temperature("flash point", "closed cup, from section 9", "93", head=True),
        density("density", "from section 9", "0.97", head=True),
        percent("unknown oral", f"{_UNKNOWN} if swallowed", "", head=True),
        percent("unknown dermal", f"{_UNKNOWN} on the skin", "", head=True),
        percent("unknown vapour", f"{_UNKNOWN} as vapour", "", head=True),
        percent("unknown dust", f"{_UNKNOWN} as dust or mist", "", head=True),
        percent("unknown gas", f"{_UNKNOWN} as gas", "", head=True),
        text("note", "anything else", most=300, head=True),
        yes_or_no("nothing listed", "yes: the sheet lists no substance", "no", head=True),
        part("substance", "as the sheet names it", "linalool", read_name, str),
        part("CAS number", "with its check digit", "78-70-6", read_cas, str),
        part("share", "per cent of the material; a range as the sheet writes it", "5 - <10",
             read_share, share_words, unit="%"),
        part("classes", "semicolons between", "Skin Sens. 1B; Eye Irrit. 2", read_classes,
             class_lines),
        part("M acute", "M-factor, acute", "", read_m, exact_words),
        part("M chronic", "M-factor, chronic", "", read_m, exact_words),
        part("specific limits", "class and percentage; semicolons between", "", read_limits,
             limit_lines),
        part("ATE", "route and estimate (mg/kg; mg/l; gas: ppm); semicolons between", "",
             read_ate, estimate_lines),
        yes_or_no("not additive", "for skin and eyes: a strong acid or base, a phenol …"),
        part("no data for", "routes whose acute toxicity is not known, comma between", "",
             read_routes, routes_words),
        yes_or_no("no data in water", "its harm in water is not known"),
    ),
)  # fmt: skip

VESSELS = Kind(
    name="vessels",
    what="what candles are poured into; one line a vessel",
    needs=("suppliers",),
    columns=(
        text("name", "what you call it", "Amber tumbler", most=120, required=True),
        one_of(
            "shape",
            "its inside",
            "straight",
            {"straight": "straight", "tapered": "tapered", "measured by water": "water"},
            required=True,
        ),
        one_of(
            "material",
            "what it is made of",
            "glass",
            {word: word for word in ("glass", "ceramic", "metal", "concrete", "other")},
            required=True,
        ),
        length("inside diameter", "at the base, inside", "76"),
        length("top inside diameter", "at the brim, of a tapered one", ""),
        length("depth", "inside, from brim to base", "82"),
        volume("brim volume", "water that it holds to the brim", ""),
        marks("water marks", "measured by water step by step: heights and volumes", ""),
        length("wall", "thickness of the side", "3.5"),
        length("base", "thickness of the bottom", "6"),
        text("fit for candles", "the supplier's statement that it is", "supplier's letter, 2025"),
        text(
            "thermal shock and annealing",
            "the supplier's statement, for glass and ceramic",
            "annealed, bears 35 K",
        ),
        day("leak tested on", "the day it held water overnight", "2026-01-20"),
        text("revision", "its supplier's revision, such as another mould", "", most=40),
        _SUPPLIER,
        _SUPPLIER_REF,
        _PIECES_LEFT,
        _PIECE,
        _NOTES,
        _RETIRED,
    ),
)

WICKS = Kind(
    name="wicks",
    what="wicks by the piece; one line a wick",
    needs=("suppliers",),
    columns=(
        text("name", "what you call it", "Flat braid no. 3", most=120, required=True),
        text("series", "the maker's family of wicks", "flat braid", most=80),
        text("size", "its size in that family", "3", most=40),
        text("core", "what the core is made of; empty: cotton", "cotton", most=40),
        length("length", "as bought", "100", places=1),
        number(
            "burn rate",
            "wax it burns in an hour, by the supplier's chart",
            "4.2",
            places=3,
            most=50,
            unit="g/h",
        ),
        text("revision", "its supplier's revision", "", most=40),
        text("lead-free statement", "the supplier's, that the core has none", "letter of 2025"),
        _SUPPLIER,
        _SUPPLIER_REF,
        _PIECES_LEFT,
        _PIECE,
        _NOTES,
        _RETIRED,
    ),
)

RECEIPTS = Kind(
    name="receipts",
    what="what came in, with lots and prices; one line an item, the lines of one parcel together",
    needs=("suppliers", "supplies", "vessels", "wicks"),
    group="parcel",
    columns=(
        text("parcel", "the same word on each line of a parcel", "A1", required=True, most=80),
        day("received on", "the day it came", "2026-02-14", required=True, head=True),
        text("supplier", "who sent it", "Brindle Wax Works", head=True),
        text(
            "reference",
            "invoice or parcel number; without this column the parcel's word",
            "INV 2081",
            most=80,
            head=True,
        ),
        money("freight", "freight and duty for the whole parcel", "18.40", head=True),
        one_of(
            "freight spread",
            "over the lines by value or by weight; empty: by value",
            "by value",
            {"by value": "value", "by weight": "weight"},
            head=True,
        ),
        text("note", "anything about the parcel", head=True),
        one_of("kind", "what the item is, where two share a name", "wax", ITEM_KINDS),
        text("item", "its name in the stores", "Soy blend no. 2", most=120, required=True),
        amount("amount", "how much came", "20 kg", required=True),
        money("price", "of the whole line, without freight", "96.00", required=True),
        day("best before", "as the supplier states", "2027-02-01"),
        text("supplier's lot", "the lot number on the pack", "B-7714", most=80),
    ),
)

FORMULAS = Kind(
    name="formulas",
    what="waxes, oils and extras; one line a part, the lines of one formula together",
    needs=("supplies",),
    group="formula",
    columns=(
        text("formula", "the formula's name, on each line", "Plum and smoke", most=120,
             required=True),
        text("idea", "what it should smell of", "an orchard in October", most=2000, head=True),
        percent("load", "fragrance load; empty: none", "7", head=True),
        one_of("load basis", "what the load is a percentage of", "of the wax", _BASIS, head=True),
        temperature("add oil at", "when the oil goes in", "74", head=True),
        temperature("pour at", "when to pour", "62", head=True),
        number("stir minutes", "how long to stir; empty: 2", "2", places=1, most=600, head=True),
        text("override reason", "why the wax's limit may be passed", most=300, head=True),
        text("note", "anything else", head=True),
        yes_or_no("retired", "no longer used; kept for the records", head=True),
        one_of(
            "kind",
            "what the part is",
            "wax",
            {word: kept for word, kept in SUPPLY_KINDS.items() if kept != "part"},
            required=True,
        ),
        text("part", "its name in the stores", "Soy blend no. 2", most=120, required=True),
        number(
            "share",
            "a wax's share of the waxes, an oil's of the oils; "
            "of a dye or additive, per cent of the wax",
            "100",
            places=4,
            most=9999,
            required=True,
        ),
    ),
)  # fmt: skip

DESIGNS = Kind(
    name="designs",
    what="a formula in a vessel with its wicks; one line for each further part (lid, label, box), "
    "the lines of one design together",
    needs=("formulas", "vessels", "wicks", "supplies"),
    group="design",
    columns=(
        text("design", "the design's name, on each line", "Plum tumbler", most=120, required=True),
        text("label name", "the name on the label; empty: the design's", most=80, head=True),
        text("formula", "its newest version is used", "Plum and smoke", required=True, head=True),
        text("vessel", "its name in the stores", "Amber tumbler", required=True, head=True),
        text("wick", "its name in the stores", "Flat braid no. 3", required=True, head=True),
        whole("wicks", "how many wicks; empty: 1", "1", least=1, head=True),
        mass("fill", "wax and oil in one", "180", required=True, head=True),
        text("net weight", "as the label says it; empty: proposed from the fill", "175 g",
             most=40, head=True),
        length("trim", "wick length when lit; empty: 6", "5", places=1, head=True),
        whole("cure days", "empty: the wax's or the workshop's", "14", head=True),
        whole("best before months", "from the pour", "24", head=True),
        number("minutes each", "of work for one candle", "3.5", places=2, most=6000, head=True),
        money("price", "direct, for one", "22", head=True),
        money("wholesale price", "for one", "12", head=True),
        text("markets", "us, eu or gb, comma between; empty: the workshop's", "us", most=40,
             head=True),
        text("note", "anything else", head=True),
        yes_or_no("retired", "no longer made; kept for the records", head=True),
        one_of(
            "part kind", "what the part is, where two share a name", "part",
            {word: kept for word, kept in ITEM_KINDS.items() if kept not in ("mix", "candle")},
        ),
        text("part", "what else one candle takes; may be empty", "Round label", most=120),
        amount("part amount", "for one candle; empty: 1 piece", "1"),
        one_of(
            "stage", "when it is used; empty: when finished", "when finished",
            {"when poured": "pour", "when finished": "finish"},
        ),
    ),
)  # fmt: skip

OPENING = Kind(
    name="opening stock",
    what="what is there when the books begin, supplies and finished candles; one line a lot",
    needs=("supplies", "vessels", "wicks", "designs"),
    columns=(
        one_of("kind", "what the item is, where two share a name", "finished candle", ITEM_KINDS),
        text("item", "its name; of a candle, the design's", "Plum tumbler", most=120,
             required=True),
        amount("amount", "how much is there", "16", required=True),
        money("value", "what all of it cost you", "84.00", required=True),
        day("entered on", "the day the books begin with it; empty: today", "2026-01-01"),
        day("since", "received or poured on; empty: the day entered", "2025-11-30"),
        day("best before", "if it has one", ""),
        day("cured on", "candles: ready from", "2025-12-14"),
        text("own lot", "the lot on the pack, or on your own label", "PT-11", most=80),
        text("note", "anything else"),
    ),
)  # fmt: skip

CUSTOMERS = Kind(
    name="customers",
    what="whom you sell to; one line a customer",
    columns=(
        text("name", "the customer's name", "Corner Lamp Shop", most=120, required=True),
        email("email", "address for mail", "hello@cornerlamp.example"),
        text("phone", "telephone", "555 0142", most=40),
        text("address", "where to send", "12 Quay Street", most=1000),
        _NOTES,
    ),
)

ORDERS = Kind(
    name="orders",
    what="orders not yet sent; one line a candle ordered, the lines of one order together",
    needs=("customers", "designs"),
    group="order",
    columns=(
        text("order", "the same word on each line of an order", "S-14", most=80, required=True),
        one_of(
            "state",
            "open or cancelled; empty: open. What was sent needs its lots and cannot be brought in",
            "open",
            {"open": "open", "cancelled": "cancelled", "sent": "sent"},
            head=True,
        ),
        text("customer", "the customer's name; empty: unnamed", "Corner Lamp Shop", most=120,
             head=True),
        text("customer email", "where two share a name", "", most=254, head=True),
        one_of(
            "channel", "empty: direct", "wholesale",
            {"direct": "direct", "wholesale": "wholesale", "market stall": "market"}, head=True,
        ),
        day("ordered on", "the day it was ordered", "2026-02-20", required=True, head=True),
        day("due", "when it must be there", "2026-03-06", head=True),
        text("reference", "their number, or the market", "PO 88", most=80, head=True),
        text("note", "anything else", most=2000, head=True),
        text("design", "the candle", "Plum tumbler", most=120, required=True),
        whole("number", "how many", "24", least=1, required=True),
        money("price each", "for one candle", "12", required=True),
        yes_or_no("seconds", "sold as seconds", "no"),
    ),
)  # fmt: skip

# In the order in which a new workshop brings them in.
KINDS = (
    SUPPLIERS, SUPPLIES, COMPOSITIONS, VESSELS, WICKS, RECEIPTS, FORMULAS, DESIGNS, OPENING,
    CUSTOMERS, ORDERS,
)  # fmt: skip


def kind_named(name: str) -> Kind:
    """Return the kind of that name; hyphens serve as spaces."""
    wanted = name.strip().casefold().replace("-", " ").replace("_", " ")
    for kind in KINDS:
        if kind.name == wanted:
            return kind
    names = ", ".join(kind.slug for kind in KINDS)
    raise UnknownKind(f"“{name[:40]}” is no kind of file; write one of {names}.")
