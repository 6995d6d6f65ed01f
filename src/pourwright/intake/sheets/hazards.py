"""
What one cell says of an ingredient's hazards: classes, M-factors, specific limits, estimates.

A cell may hold a list of class names, of statements, of both side by side or one after the other,
with factors and limits between. What is taken out is marked; words that are left make a doubt.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from pourwright.core.hazard.model import HazardClass, Kind, Route
from pourwright.core.hazard.words import UnknownClass, parse_class

_NAMES = (
    r"hazardous\s+to\s+the\s+aquatic\s+environment\s*[,:–-]*\s*\(?(?:acute|chronic|short|long)"
    r"[\s-]*(?:term)?\s*(?:\((?:acute|chronic)\))?\s*(?:aquatic\s+)?(?:hazards?)?\)?",
    r"short[\s-]*term\s*\(acute\)\s*aquatic\s+hazard|long[\s-]*term\s*\(chronic\)\s*aquatic\s+hazard",
    r"(?:aquatic|aqu?\.?)\s*(?:tox(?:icity|\.)?\s*)?(?:acute|chronic)(?:\s*tox(?:icity|\.)?)?",
    r"(?:acute|chronic)\s+aquatic\s+(?:toxicity|hazard)",
    r"(?<!aquatic )acute\s*tox(?:icity|\.)?",
    r"skin\s*(?:corrosion\s*/\s*irritation|corr(?:osion|osive|\.)?\s*/\s*irrit\.?|corr(?:osion|\.)?"
    r"|irrit(?:ation|ant|\.)?|irr\.?|sens(?:iti[sz]ation|iti[sz]er|\.)?)",
    r"(?:serious\s+)?eye\s*(?:damage\s*/\s*(?:eye\s*)?irrit(?:ation|\.)?|dam(?:age|\.)?"
    r"|irrit(?:ation|ant|\.)?|irr\.?)",
    r"resp(?:iratory|\.)?\s*(?:or\s+skin\s+)?sens(?:iti[sz]ation|iti[sz]er|\.)?",
    r"(?:germ\s+cell\s+)?muta(?:genicity|\.)?",
    r"carc(?:inogenicity|inogen|\.)?",
    r"(?:repr(?:oductive\s+toxicity|oduction|\.)?|toxic\s+(?:to|for)\s+reproduction)",
    r"lact(?:ation|\.)?",
    r"(?:stot|specific\s+target\s+organ\s+toxicity)\s*[,:(–-]*\s*"
    r"(?:s\.?e\.?|r\.?e\.?|single(?:\s+exposure)?|rep(?:eated|\.)?(?:\s+exposure)?)\)?",
    r"asp(?:iration\s+(?:hazard|toxicity)|\.?\s*tox\.?|\.)?(?=\s*[-,:]?\s*(?:cat|\d|\())",
    r"flam(?:mable|\.)?\s*(?:liq(?:uids?|\.)?|sol(?:ids?|\.)?)",
    r"(?:met(?:al|\.)?\s*corr(?:osive|\.)?|corrosive\s+to\s+metals)",
    r"ed\s*(?:hh|env)|vpvb|pbt|vpvm|pmt",
)
_CATEGORY = (
    r"(?P<between>[\s,:;–-]*(?:\((?:oral|dermal|inhal\w*)[^)]{0,24}\)|[\s,:–-]*\b(?:oral|dermal|"
    r"inhal\w*)\b[^\dH;]{0,18})?[\s,:–-]*(?:\(?(?:hazard\s+)?(?:cat(?:egory|egories|égorie|\.)?|"
    r"kat(?:egorie|\.)?)\s*\.?)?\s*)(?P<category>[1-5][A-Ca-c]?)(?![\d%]|[.,]\d)(?P<star>\s?\*{0,2})\)?"
)
_ROUTE_AFTER = (
    r"(?P<after>\s*[,–-]?\s*\(?(?:oral|dermal|inhal\w*|vapou?rs?|dusts?)\b[^;)\dH]{0,20}\)?)?"
)
_NAME = "|".join(f"(?:{name})" for name in _NAMES)
_CLASS = re.compile(rf"(?<![A-Za-z])(?P<name>{_NAME}){_CATEGORY}{_ROUTE_AFTER}", re.IGNORECASE)
_CLASS_ALONE = re.compile(rf"(?<![A-Za-z])(?P<name>{_NAME})(?![A-Za-z])", re.IGNORECASE)
_CODE = re.compile(r"(?<![A-Za-z\d])(EUH|H)\s?(\d{3})([A-Za-z]{0,2})(?![A-Za-z\d])(\s?\*{1,4})?")
_TRADE = re.compile(
    r"(?<![A-Za-z])((?:EH\s?[AC]|[A-Z]{2,3}(?:-[A-Z]{2})?)\s?)([1-4][ABC]?)(?![\d.])"
)

_NUM = r"\d{1,7}(?:[.,]\d{1,6})?"
_M = re.compile(
    r"(?:(?P<lead>acute|chronic|akut\w*|chron\w*|aigu\w*)\s+)?"
    r"(?<![A-Za-z])M\s*[-–‑]?\s*(?:fa[ck]t(?:or|eur)e?(?:n|en|s)?|[-–]?values?)?\s*"
    r"[(\[,:–-]*\s*(?:aquatic\s+)?(?P<tail>acute|chronic|akut\w*|chron\w*|aigu\w*|acu\.?|chr\.?)?"
    r"\s*(?:aquatic|tox\w*|hazard)?\s*[)\]]*\s*[=:]*\s*(?P<value>\d{1,7}(?:[ ,.]000)*)(?![\d.,]*\d)"
    r"(?P<more>\s*[,;/]\s*(?P<tail2>chronic|chron\w*)\s*[=:]*\s*(?P<value2>\d{1,7}))?"
    r"(?:\s*\((?P<end>acute|chronic|akut\w*|chron\w*|aigu\w*)\))?",
    re.IGNORECASE,
)
_ATE = re.compile(
    r"(?:\bATE\b|acute\s+toxicity\s+estimates?|schätzwert\s+akuter\s+toxizität|ETA\b)"
    r"(?P<what>[^\d=;]{0,60}?)\s*[=:]?\s*(?P<value>\d[\d .,]*\d|\d)\s*"
    r"(?P<unit>mg\s*/\s*kg|mg\s*/\s*l|mg/m³|ppmV?|mg)?(?:\s*(?:bw|body\s*weight|kg))?"
    r"(?:\s*/?\s*4\s?h)?(?:\s*\((?P<end>oral|dermal|inhal[^)]*|vapou?rs?|dusts?[^)]*)\))?",
    re.IGNORECASE,
)
_ATE_MORE = re.compile(
    r"\s*[,;/]?\s*(?P<what>oral|dermal|inhal\w*[^\d;]{0,24})\s*[=:]?\s*(?P<value>\d[\d .,]*\d|\d)"
    r"\s*mg\s*/\s*(?:kg|l)(?:\s*bw)?",
    re.IGNORECASE,
)
_GE, _LE = r"(?:≥|>=|=>|>|⩾)", r"(?:≤|<=|=<|<|⩽)"
# "C ≥ 0.01 %", "1 % ≤ C < 5 %", "≥ 0,01 %", "(0,01 ≤C < 100)", "0.01 - 100 %"
_INTERVAL = (
    rf"(?:\(\s*(?P<lowc>{_NUM})\s*%?\s*{_LE}\s*[Cx]\s*{_LE}\s*(?P<highc>{_NUM})\s*%?\s*\)?"
    rf"|(?P<lowd>{_NUM})\s*%?\s*{_LE}\s*[Cx]\s*{_LE}\s*(?P<highd>{_NUM})\s*%?"
    rf"|\(?\s*[Cx]?\s*{_GE}\s*(?P<low>{_NUM})\s*%?(?:\s*(?:-|–|to|and|und|,)?\s*[Cx]?\s*{_LE}\s*"
    rf"(?P<high>{_NUM})\s*%)?\s*%?\s*\)?)"
)
# The same without names for its parts, so that it can stand in a pattern twice.
_ANY_CATEGORY = re.sub(r"\?P<[a-z]+>", "?:", _CATEGORY)
_H = r"(?:EUH|H)\s?\d{3}[A-Za-z]{0,2}"
_LIMIT_AFTER = re.compile(
    rf"(?P<class>(?:{_NAME}){_ANY_CATEGORY}[\s;,:–(-]*(?:{_H})?[\s;,:)–-]*"
    rf"|(?<![A-Za-z\d]){_H}[\s;,:–-]*){_INTERVAL}",
    re.IGNORECASE,
)
_LIMIT_BEFORE = re.compile(
    rf"{_INTERVAL}\s*[:;,]?\s*(?P<class>(?:{_NAME}){_ANY_CATEGORY}(?:[\s;,:(–-]*{_H}\)?)?)",
    re.IGNORECASE,
)
# The statement in full behind its code; there is nothing in it that the code does not say.
_SENTENCE = re.compile(
    rf"({_H})\s*[:,–-]?\s*(?:May|Causes?|Harmful|(?:Very )?[Tt]oxic|Highly|Extremely|Flammable"
    r"|Fatal|Suspected|Combustible)\s[^.;:]*(?:\.|$)"
)
_NOTHING = re.compile(
    r"not\s+(?:classified|hazardous|applicable|available)|no[nt]?\s+classified|nicht\s+eingestuft|"
    r"non\s+classée?|\bn\.\s?c\.|no(?:ne)?\s+known|"
    r"\bnone\b|\bkeine\b|\bn\.?\s?a\b\.?|\bn/a\b|no\s+classification",
    re.IGNORECASE,
)
# Words that may stand beside classes and say nothing that is looked for.
_GLUE = re.compile(
    r"\bGHS\s?0\d\b|\b(?:wng|dgr|warning|danger|achtung|gefahr|attention)\b|"
    r"\b(?:specific|spezifische?r?|conc(?:entration)?\.?|limits?|konzentrationsgrenzen?|scl|skg|"
    r"m-?factors?|faktor|acute|chronic|ate|and|und|et|the|hazards?|statements?|clp|ghs|bw|"
    r"classification|category|cat|codes?|eu|ec|regulation|no|nota?|notes?|see|section|oral|dermal|"
    r"inhal\w*|mg|kg|exposure|skin|oels?|wel|reach|exempt|substance|with|a|workplace|limit|"
    r"mist|dusts?|vapou?rs?|short|long|term|annex|vi|self|harmoni[sz]ed)\b",
    re.IGNORECASE,
)


@dataclass(slots=True)
class Hazards:
    """What was read of one cell."""

    classes: tuple[tuple[HazardClass, bool], ...] = ()
    m_acute: Fraction | None = None
    m_chronic: Fraction | None = None
    specific_limits: dict[HazardClass, Fraction] = field(default_factory=dict)
    ate: dict[Route, Fraction] = field(default_factory=dict)
    doubts: list[str] = field(default_factory=list)


def read_hazards(text: str) -> Hazards:
    """
    Return what a cell says. Words that are not understood make a doubt that names them.

    >>> found = read_hazards("Skin Sens. 1A; H317: C ≥ 0,01 %; Aquatic Acute 1 H400 (M=10)")
    >>> sorted(str(hazard) for hazard, _ in found.classes), found.m_acute
    (['Aq Acute 1', 'Skin Sens 1A'], Fraction(10, 1))
    """
    found = Hazards()
    left = _SENTENCE.sub(r"\1 ; ", _plain(text))
    left = _take_estimates(left, found)
    left = _take_factors(left, found)
    left = _take_limits(left, found)
    tokens, left = _take_classes(left, found)
    found.classes = _paired(tokens, found)
    found.classes += tuple((hazard, False) for hazard in _limited_only(found))
    _settle_unsaid_factor(found)
    _doubt_rest(left, found)
    return found


def _plain(text: str) -> str:
    text = text.replace("\u00a0", " ").translate(str.maketrans("–—−‑", "----"))
    text = re.sub(r"(?<=[A-Za-z]{3})-\s+(?=[a-z]{2})", "", text)
    return " ".join(text.split())


def number(text: str) -> Fraction | None:
    """
    Return a number written with a point or a comma, thousands parted by spaces or points too.

    >>> number("1 200"), number("0,01"), number("1.000.000")
    (Fraction(1200, 1), Fraction(1, 100), Fraction(1000000, 1))
    """
    plain = text.strip().replace(" ", "")
    if re.fullmatch(r"\d{1,3}([.,]\d{3}){2,}", plain):
        plain = re.sub(r"[.,]", "", plain)
    plain = plain.replace(",", ".")
    return Fraction(plain) if re.fullmatch(r"\d+(\.\d+)?", plain) else None


# --- estimates, factors, limits -------------------------------------------------------------------


def _take_estimates(text: str, found: Hazards) -> str:
    spans = []
    at = 0
    while match := _ATE.search(text, at):
        at = end = match.end()
        _keep_estimate(f"{match['what']} {match['end'] or ''}", match, found)
        while more := _ATE_MORE.match(text, end):
            _keep_estimate(more["what"], more, found)
            at = end = more.end()
        spans.append((match.start(), end))
    return _without(text, spans)


def _keep_estimate(what: str, match: re.Match, found: Hazards) -> None:
    value = number(match["value"].rstrip(" .,"))
    route = next((route for words, route in _ROUTES if re.search(words, what, re.I)), None)
    if value is None or value <= 0:
        found.doubts.append(f"The acute toxicity estimate “{match[0].strip()}” was not understood.")
        return
    if route is None:
        found.doubts.append(
            f"The acute toxicity estimate “{match[0].strip()}” does not say by which route."
        )
        return
    found.ate[route] = value


_ROUTES = (
    (r"oral", Route.ORAL),
    (r"dermal|cutan", Route.DERMAL),
    (r"dust|mist|staub|nebel", Route.DUST),
    (r"gas", Route.GAS),
    (r"vapou?r|inhal|dampf", Route.VAPOUR),
)


def _take_factors(text: str, found: Hazards) -> str:
    spans = []
    for match in _M.finditer(text):
        said = " ".join(filter(None, (match["lead"], match["tail"], match["end"]))).casefold()
        value = number(re.sub(r"[ ,.]000", "000", match["value"]))
        before = text[: match.start()]
        if not said:
            said = _by_place(before)
        _keep_factor(said, value, found)
        if match["value2"]:
            _keep_factor("chronic", number(match["value2"]), found)
        spans.append(match.span())
    return _without(text, spans, " ; ")


def _by_place(before: str) -> str:
    """Return "acute" or "chronic" by the class that a factor stands behind in brackets, or ""."""
    if not re.search(r"[(\[]\s*$|[:,]\s*$|\d\s*$", before):
        return ""
    near = re.findall(r"aquatic\s+(acute|chronic)\s+1|H(400|410)", before[-60:], re.IGNORECASE)
    if not near:
        return ""
    if len({bool(a.casefold() == "acute" or code == "400") for a, code in near}) > 1:
        brackets = re.search(r"[(\[]\s*$", before)
        last = near[-1]
        return (
            ("acute" if "acute" in last[0].casefold() or last[1] == "400" else "chronic")
            if (brackets)
            else ""
        )
    return "acute" if near[-1][0].casefold() == "acute" or near[-1][1] == "400" else "chronic"


def _keep_factor(said: str, value: Fraction | None, found: Hazards) -> None:
    if value is None or value < 1:
        return
    if re.search(r"chr", said):
        found.m_chronic = value
    elif re.search(r"ac|ak|aig", said):
        found.m_acute = value
    else:
        # Settled when it is known which aquatic classes there are.
        found.m_acute = found.m_acute or value
        found.m_chronic = found.m_chronic or value
        found.doubts.append(_UNSAID)


_UNSAID = "unsaid factor"


def _settle_unsaid_factor(found: Hazards) -> None:
    if _UNSAID not in found.doubts:
        return
    found.doubts = [doubt for doubt in found.doubts if doubt != _UNSAID]
    names = {str(hazard) for hazard, _ in found.classes}
    acute, chronic = "Aq Acute 1" in names, "Chronic 1" in names
    if acute and not chronic:
        found.m_chronic = None
    elif chronic and not acute:
        found.m_acute = None
    else:
        found.doubts.append(
            "An M-factor does not say if it is the acute or the chronic one; it was taken for both."
        )


def _take_limits(text: str, found: Hazards) -> str:
    spans: list[tuple[int, int]] = []
    for pattern in (_LIMIT_BEFORE, _LIMIT_AFTER):
        for match in pattern.finditer(text):
            # "(0.01 ≤ C < 100) Skin Sens. 1A" puts the class behind; all other ways put it before.
            if pattern is _LIMIT_BEFORE and not match["lowc"]:
                continue
            if any(match.start() < end and begin < match.end() for begin, end in spans):
                continue
            low = number(match["lowc"] or match["lowd"] or match["low"] or "")
            try:
                hazard, _ = parse_class(_canonical(match["class"].strip(" ;,:(-")))
            except UnknownClass:
                found.doubts.append(f"The limit “{match[0].strip()}” was not understood.")
                spans.append(match.span())
                continue
            if low is not None and 0 < low <= 100:
                old = found.specific_limits.get(hazard)
                found.specific_limits[hazard] = low if old is None else min(old, low)
            spans.append(match.span())
    return _without(text, spans)


def _without(text: str, spans: Sequence[tuple[int, int]], filling: str = " ; ") -> str:
    for begin, end in sorted(spans, reverse=True):
        text = text[:begin] + filling + text[end:]
    return text


def _limited_only(found: Hazards) -> list[HazardClass]:
    """
    Return the classes that stand nowhere but before their limit.

    Not those that a limit makes of a more severe class, as Skin Irrit 2 of a Skin Corr 1.
    """
    kinds = {hazard.kind for hazard, _ in found.classes}
    severe = {Kind.SKIN_IRRIT: Kind.SKIN_CORR, Kind.EYE_IRRIT: Kind.EYE_DAM}
    limited = {hazard.kind for hazard in found.specific_limits}
    return [
        hazard
        for hazard in found.specific_limits
        if hazard.kind not in kinds and severe.get(hazard.kind) not in kinds | limited
    ]


# --- classes -------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Token:
    """A class name or a statement, in the order in which they stand."""

    at: int
    name: str = ""
    code: str = ""
    star: bool = False
    used: bool = False


def _take_classes(text: str, found: Hazards) -> tuple[list[_Token], str]:
    tokens, spans = [], []
    for match in _CLASS.finditer(text):
        name = f"{_canonical(match['name'])} {match['category']} {match['between']}"
        name = " ".join(re.sub(r"[-,:;]", " ", f"{name} {match['after'] or ''}").split())
        tokens.append(_Token(match.start(), name=name, star="*" in (match["star"] or "")))
        spans.append(match.span())
    for match in _CODE.finditer(text):
        if any(begin <= match.start() < end for begin, end in spans):
            continue
        tokens.append(_Token(match.start(), code=f"{match[1]}{match[2]}{match[3]}"))
        spans.append(match.span())
    left = _without(text, spans, " ")
    for match in _CLASS_ALONE.finditer(left):
        # "Asp. Tox." or "Lact." without a category.
        try:
            parse_class(match["name"])
        except UnknownClass:
            continue
        tokens.append(_Token(len(text) + match.start(), name=match["name"]))
        left = left.replace(match[0], " ", 1)
    if not any(token.name for token in tokens) and any(token.code for token in tokens):
        left = _take_trade_letters(left, text, tokens, found)
    return sorted(tokens, key=lambda token: token.at), left


def _take_trade_letters(left: str, text: str, tokens: list[_Token], found: Hazards) -> str:
    """
    Add the categories of a trade's letter codes, such as "SS 1A-EH C2", to the statements.

    Letters and statements stand in the same order; where their numbers differ, the statements
    alone count and a doubt says so.
    """
    letters = list(_TRADE.finditer(left))
    codes = [t for t in sorted(tokens, key=lambda t: t.at) if t.code.startswith("H")]
    if not letters:
        return left
    if len(letters) == len(codes):
        for letter, token in zip(letters, codes, strict=True):
            try:
                hazard, _ = parse_class(token.code)
                parse_class(f"{hazard.kind.value} {letter[2]} {hazard.route or ''}")
            except UnknownClass:
                found.doubts.append(f"“{letter[0]}” does not fit {token.code}; check the class.")
                continue
            token.name = f"{hazard.kind.value} {letter[2]} {hazard.route or ''}"
            token.used = True
    else:
        found.doubts.append(
            "The classes are given as letters that are not in step with the statements; the "
            "statements were read. Check for sub-categories such as 1A."
        )
    return _without(left, [letter.span() for letter in letters], " ")


def _canonical(name: str) -> str:
    """Return the law's abbreviation for the aquatic classes, which have many names."""
    plain = name.casefold()
    if plain.startswith("aspiration"):
        return "Asp. Tox."
    if "aquatic" not in plain and not re.match(r"aqu?\b", plain):
        return name
    kind = "Acute" if re.search(r"acute|short", plain) else "Chronic"
    rest = re.sub(rf"^(?:{_NAME})", "", name, flags=re.IGNORECASE)
    return f"Aquatic {kind} {rest}".strip()


def _paired(tokens: list[_Token], found: Hazards) -> tuple[tuple[HazardClass, bool], ...]:
    """Return the classes: each name with the statement that fits it, then what is left over."""
    classes: list[tuple[HazardClass, bool]] = []
    codes = [token for token in tokens if token.code and not token.name]
    for place, token in enumerate(tokens):
        if not token.name:
            continue
        if token.code:
            _keep_class(f"{token.name} {token.code}", token, classes, found)
            continue
        after = tokens[place + 1] if place + 1 < len(tokens) else None
        fitting = [code for code in codes if not code.used and _fits(token.name, code.code)]
        chosen = after if after in fitting else (fitting[0] if fitting else None)
        if chosen is not None:
            chosen.used = True
        code = chosen.code if chosen else ""
        _keep_class(f"{token.name} {code}", token, classes, found)
    for token in codes:
        if not token.used and token.code.startswith(("H", "EUH3", "EUH38", "EUH43", "EUH4")):
            _keep_code(token, classes, found)
    return tuple(classes)


def _fits(name: str, code: str) -> bool:
    try:
        meant, _ = parse_class(code)
    except UnknownClass:
        return False
    try:
        kind = parse_class(name)[0].kind
    except UnknownClass:
        # An acute toxicity without its route: its statement tells it.
        try:
            named, _ = parse_class(f"{name} {code}")
        except UnknownClass:
            return False
        category = re.search(r"[1-5]", name)
        return named.kind is meant.kind and (
            category is None
            or meant.category == category[0]
            or {meant.category, category[0]} == {"1", "2"}
        )
    return kind is meant.kind


def _keep_class(
    words: str, token: _Token, classes: list[tuple[HazardClass, bool]], found: Hazards
) -> None:
    try:
        hazard, minimum = parse_class(words)
    except UnknownClass as problem:
        found.doubts.append(f"A class was not understood. {problem}")
        return
    if all(hazard != old for old, _ in classes):
        classes.append((hazard, minimum or token.star))


def _keep_code(token: _Token, classes: list[tuple[HazardClass, bool]], found: Hazards) -> None:
    try:
        hazard, minimum = parse_class(token.code)
    except UnknownClass:
        if not token.code.startswith("EUH"):
            found.doubts.append(f"The statement {token.code} is not known here.")
        return
    same = [old for old, _ in classes if old.kind is hazard.kind and old.route == hazard.route]
    if hazard.kind is Kind.AQ_ACUTE or not same:
        if all(hazard != old for old, _ in classes):
            classes.append((hazard, minimum))
        if token.code in ("H300", "H310", "H330", "H360", "H340", "H350"):
            found.doubts.append(
                f"{token.code} alone leaves the category open; {hazard} was taken. Check it."
            )


def _doubt_rest(left: str, found: Hazards) -> None:
    rest = _NOTHING.sub(" ", left)
    rest = _GLUE.sub(" ", rest)
    words = re.findall(r"[A-Za-zÀ-ÿ]{3,}[^;]*", rest)
    rest = " ".join(" ".join(words).split())
    if rest:
        found.doubts.append(f"Not understood among the classes: “{rest[:160]}”.")
