"""Marks by which cells of a composition are told apart: numbers, shares, classes, heads."""

from __future__ import annotations

import re

# A CAS or EC number that may be broken over two lines after a hyphen.
CAS = re.compile(r"(?<![\d-])(\d{2,7})\s?[-–−]\s?(\d{2})\s?[-–−]\s?(\d)(?![\d-]|\.\d)")
EC = re.compile(r"(?<![\d-])(\d{3})\s?[-–−]\s?(\d{3})\s?[-–−]\s?(\d)(?![\d-])")
INDEX = re.compile(r"(?<![\d-])\d{3}-\d{3}-\s?\d{2}-\s?[\dX](?![\d-])", re.IGNORECASE)
REACH = re.compile(r"(?<!\d)0[1-9]-\s?\d{4,10}\s?-\s?\d{2}(\s?-\s?(\d{4}|[xX.]+))?(?!\d)")
CODE = re.compile(r"(?<![A-Za-z])(?:EUH|H)\s?\d{3}[A-Za-z]{0,3}(?![A-Za-z\d])")
_NUMBER = r"\d{1,3}(?:[.,]\d{1,5})?"
# Letters of the Symbol font come out as ³ and £ where ≥ and ≤ were meant.
_SIGN = r"(?:<=|>=|=<|=>|[<>≤≥⩽⩾~³£])"
SHARE = re.compile(
    rf"(?:{_SIGN}\s*)?{_NUMBER}\s*%?\s*(?:{_SIGN}\s*[xXcC]\s*{_SIGN}\s*{_NUMBER}\s*%?"
    rf"|(?:-|–|—|−|\bto\b|\bbis\b|à|\.\.+|…)+\s*(?:{_SIGN}\s*)?{_NUMBER}\s*%?"
    rf"|{_SIGN}\s*{_NUMBER}\s*%?)?",
    re.IGNORECASE,
)
CLASS_WORD = re.compile(
    r"\b(acute tox|skin (irrit|sens|corr)|eye (irrit|dam)|serious eye|aquatic|asp(\.|iration)|"
    r"flam(\.|mable)|repr(\.|oductive)|carc(\.|inog)|muta|stot|resp(\.|iratory)|met\. corr|lact|"
    r"not classified|specific target|long-term|short-term)",
    re.IGNORECASE,
)
FACTOR = re.compile(
    r"m\s*-?\s*fa[ck]|\bM\s*[(=]|\bATE\b|acute toxicity estimate|specific con|limit|\bC\s*[≥>]",
    re.IGNORECASE,
)

# Each kind of column and the words of its head, the surest kind first.
HEADS = (
    ("m_acute", r"^m\b(?!.*chron).*\bacute"),
    ("m_chronic", r"^m\b(?!.*acute).*\bchronic"),
    ("classes", r"classif|einstufung|\bclp\b|\bghs\b|1272"),
    ("limits", r"specific|spezifisch|spécifique|m-? ?fa[ck]t|\bate\b|\bscl\b|konzentrationsgrenz"),
    ("cas", r"\bcas\b"),
    ("ids", r"reach|registr|\bindex\b|\b(ec|einecs|elincs|eg|ce)\b|identifiers?\b|identifikator"),
    (
        "pct",
        r"%|\bconc|konz\b|konzentr|content|weight|\bwt\b|w/w|gew|gehalt|\bshare|range|anteil|teneur"
        r"|quantit|proportion|amount|\bmass|\bmenge|poids|percent",
    ),
    ("name", r"ingredient|component|bestandteil|inhaltsstoff|composant"),
    (
        "classes",
        r"hazard|\bh-? ?(code|state|phrase|satz|sätze)|statement|danger|gefahr|mention|symbol",
    ),
    ("name", r"\bname|substance|stoff|bezeichnung|chemical|\bnom\b|material|product|description"),
)


def kind_of_head(text: str) -> str:
    """
    Return the kind of column that a head names: cas, ids, name, pct, classes, limits or "".

    >>> kind_of_head("Conc. % w/w"), kind_of_head("Hazardous ingredients")
    ('pct', 'name')
    """
    plain = " ".join(text.casefold().split())
    if len(plain) > 120:
        return ""
    return next((kind for kind, words in HEADS if re.search(words, plain)), "")


def joined(lines: list[str]) -> str:
    """
    Return a cell's lines as one text; what was broken after a hyphen or a comma comes together.

    >>> joined(["5989-27-", "5"]), joined(["1,3,4,6,7,8-Hexahydro-", "4,6,6-trimethyl"])
    ('5989-27-5', '1,3,4,6,7,8-Hexahydro-4,6,6-trimethyl')
    """
    text = ""
    for line in lines:
        if not text:
            text = line
        elif (re.search(r"(?<=[\w)])-$", text) and re.match(r"[\w(]", line)) or (
            re.search(r"\d,$", text) and re.match(r"\d", line)
        ):
            text += line
        else:
            text += " " + line
    return text.strip()


def cas_is_right(text: str) -> bool:
    """
    Return whether the check digit of a CAS number is right.

    >>> cas_is_right("78-70-6"), cas_is_right("78-70-7")
    (True, False)
    """
    digits = [int(letter) for letter in text if letter.isdigit()]
    return sum(n * d for n, d in enumerate(reversed(digits[:-1]), start=1)) % 10 == digits[-1]


def ec_is_right(text: str) -> bool:
    """Return whether the check digit of an EC number is right (weights 1 to 6, modulo 11)."""
    digits = [int(letter) for letter in text if letter.isdigit()]
    return sum(n * d for n, d in enumerate(digits[:-1], start=1)) % 11 == digits[-1]


def numbers_in(text: str) -> tuple[list[str], list[str], str]:
    """Return the CAS numbers, the EC numbers, and what is left when all numbers are taken out."""
    rest = INDEX.sub(" ", REACH.sub(" ", text))
    ec = ["-".join(match.groups()) for match in EC.finditer(rest)]
    rest = EC.sub(" ", rest)
    cas = ["-".join(match.groups()) for match in CAS.finditer(rest)]
    if any(map(cas_is_right, cas)):
        # A name may hold figures that look like a number; the check digit tells them apart.
        wrong = [number for number in cas if not cas_is_right(number)]
        cas = [number for number in cas if number not in wrong]
        rest = CAS.sub(lambda m: m[0] if "-".join(m.groups()) in wrong else " ", rest)
    else:
        rest = CAS.sub(" ", rest)
    return list(dict.fromkeys(cas)), list(dict.fromkeys(ec)), " ".join(rest.split())


_LABELS = re.compile(
    r"[(\[]?\b(?:cas|ec|eg|ce|einecs|elincs|reach|index|registration|registrierungs?|identification|"
    r"n°\s*(?:cas|ce|reach|index))"
    r"[\s-]*(?:list)?[\s-]*(?:numbers?|no|nos|nr|nummer|num|n°|#)?\b\.?\s*[)\]]?\s*[:=#]?(?=\s|$|-)",
    re.IGNORECASE,
)


def without_labels(text: str) -> str:
    """
    Return a name without the labels of the numbers that stood with it.

    >>> without_labels("Linalool CAS: EC-No.:")
    'Linalool'
    """
    text = _LABELS.sub(" ", text)
    text = re.sub(r"\([\s,;:/]*\)|\[[\s,;:/]*\]", " ", text)
    if text.count(")") > text.count("("):
        text = re.sub(r"[\s,;:/]+\)\s*$", "", text)
    return " ".join(text.split()).strip(" ,;:/|-–*")
