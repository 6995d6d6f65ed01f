"""What an invented sheet says, as data, and the ways in which suppliers write it down."""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace
from datetime import date

from intake.sheets.substances import FACTS, Fact

OILS = (
    "Quince & Larkspur", "Cellar Plum", "Brick Oven Fig", "Velvet Marrow", "Copper Kettle Pear",
    "Sunday Linen Press", "Attic Cedar Chest", "Rain on Slate", "Almond Parlour", "Tin of Cloves",
    "Nutmeg Ledger", "Orchard Post", "Wet Chalk", "Candied Quill", "Blue Crockery", "Tea Auction",
)  # fmt: skip
SUPPLIERS = (
    "Umberly Aroma Works Ltd", "Dorn & Fessel Riechstoffe GmbH", "Pell Street Scents Inc.",
    "Maison Arquelle SARL", "Thistledown Essences Ltd", "Corvane Fragrance Compounds BV",
    "Lindqvall Doft AB", "Old Granary Perfumers Co.",
)  # fmt: skip
BANDS = (
    ("0.1", "1"), ("1", "5"), ("5", "10"), ("10", "25"), ("1", "2.5"), ("2.5", "10"),
    ("0.25", "1"), ("0.1", "0.25"), ("25", "50"), ("0.01", "0.1"),
)  # fmt: skip


@dataclass(frozen=True)
class RowTruth:
    """One ingredient as its sheet states it; numbers as they would be typed."""

    fact: Fact
    low: str | None
    high: str
    open_above: bool
    classes: frozenset[str]
    pct_text: str = ""
    cas: str = ""
    ec: str = ""
    m_acute: int | None = None
    m_chronic: int | None = None
    specific: dict[str, str] = field(default_factory=dict)
    ate_oral: int | None = None

    @property
    def name(self) -> str:
        return self.fact.name


@dataclass(frozen=True)
class Truth:
    """Everything that one sheet states and a reader should find."""

    product: str
    supplier: str
    sheet_date: date | None
    revision: str
    flash_c: str | None
    density: str | None
    rows: tuple[RowTruth, ...]
    unknown_pct: str | None = None


@dataclass(frozen=True)
class Made:
    """A sheet that was made: its bytes and its truth."""

    layout: str
    seed: int
    data: bytes
    truth: Truth


def draw_truth(rng: random.Random, *, fewest: int = 5, most: int = 12, ranges: str) -> Truth:
    """Return an invented oil with real ingredients; ``ranges`` names the way they are written."""
    facts = rng.sample(FACTS, rng.randint(fewest, most))
    return Truth(
        product=rng.choice(OILS),
        supplier=rng.choice(SUPPLIERS),
        sheet_date=date(rng.randint(2021, 2026), rng.randint(1, 12), rng.randint(1, 28)),
        revision=f"{rng.randint(1, 9)}.{rng.randint(0, 9)}",
        flash_c=str(rng.randint(61, 120)),
        density=f"{rng.uniform(0.88, 1.06):.3f}",
        rows=tuple(_row(fact, rng, ranges) for fact in facts),
    )


def _row(fact: Fact, rng: random.Random, ranges: str) -> RowTruth:
    low, high = rng.choice(BANDS)
    text, low_said, open_above = write_range(low, high, ranges, rng)
    return RowTruth(
        fact=fact,
        low=low_said,
        high=high,
        open_above=open_above,
        classes=frozenset(key for key, _ in fact.classes),
        pct_text=text,
        cas=fact.cas,
        ec=fact.ec,
    )


def write_range(low: str, high: str, way: str, rng: random.Random) -> tuple[str, str | None, bool]:
    """Return a range in a supplier's writing, the lower end as then stated, and if it is open."""
    if way == "mixed":
        way = rng.choice(("half open", "both signs", "plain", "up to", "below"))
    if way == "mixed comma":
        text, said, is_open = write_range(low, high, "mixed", rng)
        return text.replace(".", ","), said, is_open
    match way:
        case "half open":
            return f"{low} - <{high} %", low, True
        case "half open comma":
            return f"≥ {low} - < {high} %".replace(".", ","), low, True
        case "both signs":
            return f"≥{low} - <{high}", low, True
        case "plain":
            return f"{low}-{high}", low, False
        case "plain percent":
            return f"{low} - {high} %", low, False
        case "en dash":
            return f"{low}–{high} %", low, False
        case "up to":
            return f"<= {high} %", None, False
        case "below":
            return f"< {high} %", None, True
        case "signs twice":
            return f">= {low} % - < {high} %", low, True
        case "x between":
            return f"{low} ≤ x < {high}", low, True
        case "to":
            return f"{low} to {high}%", low, False
        case "ascii":
            return f">={low} - <{high}", low, True
    raise ValueError(way)


# --- classes -------------------------------------------------------------------------------------

SHORT = {
    "Acute": "Acute Tox.", "Skin Irrit": "Skin Irrit.", "Eye Irrit": "Eye Irrit.",
    "Eye Dam": "Eye Dam.", "Skin Sens": "Skin Sens.", "Aq Acute": "Aquatic Acute",
    "Chronic": "Aquatic Chronic", "Asp": "Asp. Tox.", "Flam Liq": "Flam. Liq.", "Repr": "Repr.",
    "Carc": "Carc.", "STOT SE": "STOT SE", "STOT RE": "STOT RE",
}  # fmt: skip
LONG = {
    "Acute": "Acute toxicity", "Skin Irrit": "Skin irritation", "Eye Irrit": "Eye irritation",
    "Eye Dam": "Serious eye damage", "Skin Sens": "Skin sensitisation",
    "Aq Acute": "Short-term (acute) aquatic hazard",
    "Chronic": "Long-term (chronic) aquatic hazard",
    "Asp": "Aspiration hazard", "Flam Liq": "Flammable liquids",
    "Repr": "Reproductive toxicity", "Carc": "Carcinogenicity",
    "STOT SE": "Specific target organ toxicity - single exposure",
    "STOT RE": "Specific target organ toxicity - repeated exposure",
}  # fmt: skip
LETTERS = {
    "Acute": "AT", "Skin Irrit": "SCI", "Eye Irrit": "EDI", "Eye Dam": "EDI", "Skin Sens": "SS",
    "Aq Acute": "EH A", "Chronic": "EH C", "Asp": "AH", "Flam Liq": "FL", "Repr": "REP",
    "Carc": "CAR", "STOT SE": "STO-SE", "STOT RE": "STO-RE",
}  # fmt: skip
BY_STATEMENT = {
    "H225": "Flam Liq 2", "H226": "Flam Liq 3", "H302": "Acute 4 oral", "H312": "Acute 4 dermal",
    "H304": "Asp 1", "H315": "Skin Irrit 2", "H317": "Skin Sens 1", "H318": "Eye Dam 1",
    "H319": "Eye Irrit 2", "H336": "STOT SE 3", "H351": "Carc 2", "H361d": "Repr 2",
    "H371": "STOT SE 2", "H373": "STOT RE 2", "H400": "Aq Acute 1", "H410": "Chronic 1",
    "H411": "Chronic 2", "H412": "Chronic 3", "H413": "Chronic 4",
}  # fmt: skip


def parts_of(key: str) -> tuple[str, str, str]:
    """Return kind, category and route of a class's short name."""
    words = key.split()
    route = words.pop() if words[0] == "Acute" and len(words) == 3 else ""
    return " ".join(words[:-1]), words[-1], route


def short(key: str, *, route: bool = False) -> str:
    """Return the class as the regulation abbreviates it: "Skin Irrit. 2"."""
    kind, category, way = parts_of(key)
    return f"{SHORT[kind]} {category}" + (f" ({way})" if route and way else "")


def write_classes(row: RowTruth, way: str) -> str:
    """Return a row's classes as a supplier writes them; several lines where the way has them."""
    pairs = row.fact.classes
    if not pairs:
        return "Not classified" if way in ("lines", "long") else "-"
    match way:
        case "lines":
            return "\n".join(f"{short(key)} - {code}" for key, code in pairs)
        case "comma":
            return ", ".join(f"{short(key)}, {code}" for key, code in pairs)
        case "semicolon":
            return "; ".join(f"{short(key)}; {code}" for key, code in pairs)
        case "brackets":
            return ", ".join(f"{short(key)} ({code})" for key, code in pairs)
        case "codes":
            return ", ".join(code for _, code in pairs)
        case "names":
            return "; ".join(short(key, route=True) for key, _ in pairs)
        case "long":
            return "; ".join(_long(key, code) for key, code in pairs)
        case "letters":
            kinds = [f"{LETTERS[parts_of(key)[0]]} {parts_of(key)[1]}" for key, _ in pairs]
            codes = "-".join(code for _, code in pairs)
            return "-".join(kinds).replace("EH A ", "EH A").replace("EH C ", "EH C") + f";{codes}"
    raise ValueError(way)


def _long(key: str, code: str) -> str:
    kind, category, way = parts_of(key)
    route = f" ({way})" if way else ""
    return f"{LONG[kind]}{route}, Category {category} ({code})"


def by_statement(truth: Truth) -> Truth:
    """Return the truth of a sheet that gives hazard statements alone: sub-categories are lost."""
    rows = tuple(
        replace(row, classes=frozenset(BY_STATEMENT[code] for _, code in row.fact.classes))
        for row in truth.rows
    )
    return replace(truth, rows=rows)


def with_details(truth: Truth, *, m: bool = True, specific: bool = True, ate: bool = True) -> Truth:
    """Return the truth of a sheet that states M-factors, specific limits and estimates too."""
    rows = tuple(
        replace(
            row,
            m_acute=row.fact.m_acute if m else None,
            m_chronic=row.fact.m_chronic if m else None,
            specific=dict(row.fact.specific) if specific else {},
            ate_oral=row.fact.ate_oral if ate else None,
        )
        for row in truth.rows
    )
    return replace(truth, rows=rows)


def write_details(row: RowTruth, way: str) -> list[str]:
    """Return the lines on M-factors, specific limits and estimates."""
    lines = []
    if way == "equals":
        if row.m_acute:
            lines.append(f"M={row.m_acute}" if not row.m_chronic else f"M(Acute)={row.m_acute}")
        if row.m_chronic:
            lines.append(f"M(Chronic)={row.m_chronic}")
        lines += [f"{short(key)}; H317: C ≥ {limit} %" for key, limit in row.specific.items()]
        if row.ate_oral:
            lines.append(f"ATE (oral) = {row.ate_oral} mg/kg")
    elif way == "words":
        if row.m_acute:
            lines.append(f"M-factor (acute): {row.m_acute}")
        if row.m_chronic:
            lines.append(f"M-factor (chronic): {row.m_chronic}")
        lines += [
            f"Specific conc. limit: {short(key)}: C >= {limit.replace('.', ',')} %"
            for key, limit in row.specific.items()
        ]
        if row.ate_oral:
            lines.append(f"Acute toxicity estimate, oral: {row.ate_oral} mg/kg bw")
    return lines
