"""
Hazard classes and percentages as safety sheets write them, read and written.

A class is read from its short name ("Skin Sens 1B"), from the abbreviation of the law ("Acute
Tox. 4 (oral)", "Aquatic Chronic 2"), with its statement ("Acute Tox. 4; H302") or from the
statement alone ("H317", read as the category that covers all it may stand for).
"""

from __future__ import annotations

import re
from fractions import Fraction

from pourwright.core.amounts.reading import shorten
from pourwright.core.errors import BadInput
from pourwright.core.hazard.model import HazardClass, Kind, Range, Route


class UnknownClass(BadInput):
    """Words that name no hazard class known here."""


class UnreadableShare(BadInput):
    """Words that are no percentage and no range of percentages."""


# The kind by its words run together.
_KINDS = {
    "aquaticacute": Kind.AQ_ACUTE, "aqacute": Kind.AQ_ACUTE, "aquacute": Kind.AQ_ACUTE,
    "aquaticacutetox": Kind.AQ_ACUTE, "aquatictoxacute": Kind.AQ_ACUTE,
    "aquaticchronic": Kind.AQ_CHRONIC, "aqchronic": Kind.AQ_CHRONIC,
    "aquchronic": Kind.AQ_CHRONIC, "chronic": Kind.AQ_CHRONIC,
    "aquaticchronictox": Kind.AQ_CHRONIC, "aquatictoxchronic": Kind.AQ_CHRONIC,
    "acutetoxicity": Kind.ACUTE, "acutetox": Kind.ACUTE, "acute": Kind.ACUTE,
    "skincorr": Kind.SKIN_CORR, "skincorrosion": Kind.SKIN_CORR,
    "skinirrit": Kind.SKIN_IRRIT, "skinirritation": Kind.SKIN_IRRIT, "skinirr": Kind.SKIN_IRRIT,
    "skincorrirrit": Kind.SKIN_IRRIT, "skincorrosionirritation": Kind.SKIN_IRRIT,
    "eyedam": Kind.EYE_DAM, "eyedamage": Kind.EYE_DAM, "seriouseyedamage": Kind.EYE_DAM,
    "eyeirrit": Kind.EYE_IRRIT, "eyeirritation": Kind.EYE_IRRIT, "eyeirr": Kind.EYE_IRRIT,
    "seriouseyedamageeyeirritation": Kind.EYE_IRRIT, "eyedamirrit": Kind.EYE_IRRIT,
    "respsens": Kind.RESP_SENS, "respiratorysensitisation": Kind.RESP_SENS,
    "respiratorysensitization": Kind.RESP_SENS, "respiratorysensitizer": Kind.RESP_SENS,
    "skinsens": Kind.SKIN_SENS, "skinsensitisation": Kind.SKIN_SENS,
    "skinsensitization": Kind.SKIN_SENS, "skinsensitizer": Kind.SKIN_SENS,
    "muta": Kind.MUTA, "mutagenicity": Kind.MUTA, "germcellmutagenicity": Kind.MUTA,
    "carc": Kind.CARC, "carcinogenicity": Kind.CARC,
    "repr": Kind.REPR, "reproductivetoxicity": Kind.REPR, "toxictoreproduction": Kind.REPR,
    "lact": Kind.LACT,
    "specifictargetorgantoxicitysingleexposure": Kind.STOT_SE,
    "specifictargetorgantoxicityrepeatedexposure": Kind.STOT_RE,
    "stotse": Kind.STOT_SE, "stotsingle": Kind.STOT_SE,
    "stotre": Kind.STOT_RE, "stotrep": Kind.STOT_RE,
    "asptox": Kind.ASP, "asp": Kind.ASP, "aspiration": Kind.ASP,
    "aspirationtoxicity": Kind.ASP,
    "edhh": Kind.ED_HH, "edenv": Kind.ED_ENV,
    "pbt": Kind.PBT, "vpvb": Kind.VPVB, "pmt": Kind.PMT, "vpvm": Kind.VPVM,
    "flamliq": Kind.FLAM_LIQ, "flammableliquid": Kind.FLAM_LIQ, "flammableliquids": Kind.FLAM_LIQ,
    "flamsol": Kind.FLAM_SOL, "flammablesolid": Kind.FLAM_SOL,
    "metcorr": Kind.MET_CORR, "corrosivetometals": Kind.MET_CORR,
}  # fmt: skip

# Which categories a kind has; the first is taken where a statement alone is given.
_CATEGORIES = {
    Kind.ACUTE: "1 2 3 4 5", Kind.SKIN_CORR: "1 1A 1B 1C", Kind.SKIN_IRRIT: "2 3",
    Kind.EYE_DAM: "1", Kind.EYE_IRRIT: "2 2A 2B", Kind.RESP_SENS: "1 1A 1B",
    Kind.SKIN_SENS: "1 1A 1B", Kind.MUTA: "1 1A 1B 2", Kind.CARC: "1 1A 1B 2",
    Kind.REPR: "1 1A 1B 2", Kind.STOT_SE: "1 2 3", Kind.STOT_RE: "1 2", Kind.ASP: "1 2",
    Kind.AQ_ACUTE: "1 2 3", Kind.AQ_CHRONIC: "1 2 3 4", Kind.ED_HH: "1 2", Kind.ED_ENV: "1 2",
    Kind.FLAM_LIQ: "1 2 3 4", Kind.FLAM_SOL: "1 2", Kind.MET_CORR: "1",
}  # fmt: skip
_ONLY_ONE = {Kind.EYE_DAM, Kind.MET_CORR, Kind.SKIN_IRRIT, Kind.EYE_IRRIT, Kind.ASP}

# What each statement stands for. Where it covers two categories, the more severe.
_STATEMENTS = {
    "H224": "Flam Liq 1", "H225": "Flam Liq 2", "H226": "Flam Liq 3", "H227": "Flam Liq 4",
    "H228": "Flam Sol 1", "H290": "Met Corr 1",
    "H300": "Acute 1 oral", "H301": "Acute 3 oral", "H302": "Acute 4 oral", "H303": "Acute 5 oral",
    "H304": "Asp 1", "H305": "Asp 2",
    "H310": "Acute 1 dermal", "H311": "Acute 3 dermal", "H312": "Acute 4 dermal",
    "H313": "Acute 5 dermal", "H314": "Skin Corr 1", "H315": "Skin Irrit 2", "H316": "Skin Irrit 3",
    "H317": "Skin Sens 1", "H318": "Eye Dam 1", "H319": "Eye Irrit 2", "H320": "Eye Irrit 2",
    "H330": "Acute 1 vapour", "H331": "Acute 3 vapour", "H332": "Acute 4 vapour",
    "H333": "Acute 5 vapour",
    "H334": "Resp Sens 1", "H335": "STOT SE 3", "H336": "STOT SE 3",
    "H340": "Muta 1B", "H341": "Muta 2", "H350": "Carc 1B", "H351": "Carc 2",
    "H360": "Repr 1B", "H361": "Repr 2", "H362": "Lact",
    "H370": "STOT SE 1", "H371": "STOT SE 2", "H372": "STOT RE 1", "H373": "STOT RE 2",
    "H400": "Aq Acute 1", "H401": "Aq Acute 2", "H402": "Aq Acute 3",
    "H410": "Chronic 1", "H411": "Chronic 2", "H412": "Chronic 3", "H413": "Chronic 4",
    "EUH380": "ED HH 1", "EUH381": "ED HH 2", "EUH430": "ED ENV 1", "EUH431": "ED ENV 2",
    "EUH440": "PBT", "EUH441": "vPvB", "EUH450": "PMT", "EUH451": "vPvM",
}  # fmt: skip
_ROUTES = (
    (r"oral", Route.ORAL),
    (r"dermal", Route.DERMAL),
    (r"dust|mist|aerosol", Route.DUST),
    (r"\bgas(es)?\b", Route.GAS),
    # A fragrance ingredient that is only said to be harmful "inhaled" was tested as a vapour.
    (r"vapou?r|inhal", Route.VAPOUR),
)
_EXAMPLES = '"Skin Sens 1B", "Acute Tox. 4 (oral)", "Aquatic Chronic 2" or "H317"'
_STATEMENT = re.compile(r"(?<![a-z0-9])(EUH|H) ?([0-9]{3})([FDfdi]*)(?![a-z0-9])", re.IGNORECASE)
# What says a route, a category or nothing, between the words that name the class.
_FILLING = re.compile(
    r"oral|dermal|inhal[a-z]*|vapou?rs?|dusts?|mists?|gas(es)?\b|\b(category|categories|cat|kat)\b"
    r"|\b(hazard(ous)?|to|the|environment)\b|\b[1-5][abc]?\b"
)


def parse_class(text: str) -> tuple[HazardClass, bool]:
    """
    Return the class that words name, and whether "*" marks it as a minimum.

    Raises ``UnknownClass`` where the words name none, or an acute toxicity without its route.

    >>> str(parse_class("Acute Tox. 4 (oral)")[0]), str(parse_class("H317")[0])
    ('Acute 4 oral', 'Skin Sens 1')
    """
    words = " ".join(str(text).replace("\u00a0", " ").split())
    statements = [(f"{m[1].upper()}{m[2]}", m[3]) for m in _STATEMENT.finditer(words)]
    code, letters = statements[0] if statements else ("", "")
    rest = _STATEMENT.sub(" ", words)
    minimum = "*" in rest
    kind, category, route = _read_name(rest)
    if kind is None:
        if re.search(r"[a-z]{2}", rest, re.IGNORECASE) or code not in _STATEMENTS:
            raise _unknown(text)
        found, _ = parse_class(_STATEMENTS[code])
        return _with_detail(found, code, letters), minimum
    if code in _STATEMENTS:
        meant, _ = parse_class(_STATEMENTS[code])
        if meant.kind is kind:
            category, route = category or meant.category, route or meant.route
    return _with_detail(_checked(text, kind, category, route), code, letters), minimum


def write_class(hazard: HazardClass, *, minimum: bool = False) -> str:
    """
    Return the short name with all that tells it from others; ``parse_class`` reads it back.

    >>> write_class(HazardClass(Kind.REPR, "1B", detail="Fd"))
    'Repr 1B H360Fd'
    """
    words = [hazard.kind.value, f"{hazard.category}{'*' if minimum else ''}"]
    words += [hazard.route.value] if hazard.route else []
    if hazard.kind is Kind.REPR and hazard.detail:
        words.append(f"H36{0 if hazard.category.startswith('1') else 1}{hazard.detail}")
    elif hazard.detail:
        words.append(hazard.detail)
    return " ".join(word for word in words if word)


def parse_range(text: str) -> Range:
    """
    Return a share as a safety sheet writes it: "5 - <10 %", "≥1 - <5", "<= 2,5 %", "12", "< 1".

    A comma is a decimal comma. Only a lower end ("> 90 %") reaches up to 100 %. Raises
    ``UnreadableShare`` where it is none.
    """
    plain = str(text).strip().casefold().translate(_PLAIN)
    plain = re.sub(r"\(?\b[wm] ?/ ?[wm]\b\)?|\bw(ei)?ght?\b|\bwt\b|mass|%|\bc\b|\bx\b", " ", plain)
    plain = plain.replace(">=", "≥").replace("=<", "≤").replace("<=", "≤").replace("=>", "≥")
    plain = re.sub(r"\b(to|bis|und|and|à|a)\b|…|\.{2,}", "-", plain)
    found = re.fullmatch(
        r"\s*([<>≤≥~]|ca\.?|approx\.?)?\s*([0-9]*[.,]?[0-9]+)"
        r"(?:[\s-]*([<>≤≥]|-)+\s*([<>≤≥])?\s*([0-9]*[.,]?[0-9]+))?\s*",
        re.sub(r"(?<=[0-9])\s+(?=[<≤])", " - ", plain),
    )
    if found is None:
        raise _unreadable(text)
    first_sign, first, second = found[1] or "", _number(found[2]), found[5]
    if second is None:
        return _one_ended(text, first_sign, first)
    second_sign = found[4] or (found[3] if found[3] != "-" else "")
    if first_sign in ("<", "≤") or second_sign in (">", "≥"):
        raise _unreadable(text)
    return _range(text, low=first, high=_number(second), open_above=second_sign == "<")


_PLAIN = str.maketrans({"–": "-", "—": "-", "−": "-", "‑": "-", "\u00a0": " ", "\u202f": " ",
                        "⩽": "≤", "⩾": "≥", "＜": "<", "＞": ">"})  # fmt: skip


def _one_ended(text: str, sign: str, number: Fraction) -> Range:
    if sign in (">", "≥"):
        return _range(text, low=number, high=Fraction(100), open_above=False)
    if sign in ("<", "≤"):
        return _range(text, low=Fraction(0), high=number, open_above=sign == "<")
    return _range(text, low=None, high=number, open_above=False)


def _range(text: str, *, low: Fraction | None, high: Fraction, open_above: bool) -> Range:
    if high > 100 or (low is not None and low > high):
        raise UnreadableShare(
            f'The share "{shorten(str(text))}" does not fit: it lies between 0 and 100 %, '
            "the lower end first."
        )
    return Range(low=low, high=high, open_above=open_above)


def _number(text: str) -> Fraction:
    return Fraction(text.replace(",", "."))


def _unreadable(text: str) -> UnreadableShare:
    return UnreadableShare(
        f'The share "{shorten(str(text))}" is no percentage; write for example 12, 0.5, '
        '"5 - <10" or "< 1".'
    )


def _unknown(text: str) -> UnknownClass:
    return UnknownClass(
        f'"{shorten(str(text))}" names no hazard class known here; write for example {_EXAMPLES}.'
    )


def _read_name(text: str) -> tuple[Kind | None, str, Route | None]:
    """
    Return kind, category and route of words without their statement; None where none is read.

    Words that come after the name (a note, an estimate) are left off one by one.
    """
    plain = text.casefold()
    route = next((route for pattern, route in _ROUTES if re.search(pattern, plain)), None)
    category = re.search(r"(?<![0-9a-z.,])([1-5][abc]?)(?![0-9a-z%]|[.,][0-9])", plain)
    words = [word for word in re.findall(r"[a-z]+", _FILLING.sub(" ", plain)) if len(word) > 1]
    for count in range(len(words), 0, -1):
        kind = _KINDS.get("".join(words[:count]))
        if kind is not None:
            found = category[1].upper() if category else ""
            return kind, found, route if kind is Kind.ACUTE else None
    return None, "", None


def _checked(text: str, kind: Kind, category: str, route: Route | None) -> HazardClass:
    allowed = _CATEGORIES.get(kind, "").split()
    if not category and kind in _ONLY_ONE:
        category = allowed[0]
    if (allowed and category not in allowed) or (category and not allowed):
        raise _unknown(text)
    if kind is Kind.ACUTE and route is None:
        raise UnknownClass(
            f'"{shorten(str(text))}" lacks its route; write for example "Acute 4 oral", '
            '"Acute 4 dermal" or "Acute 4 vapour".'
        )
    if kind is Kind.EYE_IRRIT:
        category = "2"
    return HazardClass(kind, category, route)


def _with_detail(hazard: HazardClass, code: str, letters: str) -> HazardClass:
    detail = ""
    if hazard.kind is Kind.REPR and code in ("H360", "H361"):
        detail = letters
    if hazard.kind is Kind.STOT_SE and code in ("H335", "H336") and hazard.category == "3":
        detail = code
    return HazardClass(hazard.kind, hazard.category, hazard.route, detail)
