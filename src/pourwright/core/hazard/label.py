"""
What a candle's hazard label must carry, each element with its reason.

Works from a ``Classification``, or from a ``Decision`` alone: then the reasons name no
percentages, and every ingredient that could count towards a class is named.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Self

from pourwright.core.hazard.care import Care, precautions_for
from pourwright.core.hazard.classify import Classification, Refusal
from pourwright.core.hazard.criteria import Decision
from pourwright.core.hazard.model import HazardClass, Kind
from pourwright.core.hazard.pack import (
    Coming,
    LabelSize,
    Relief,
    coming_after,
    label_size,
    needing,
    rule_of_market,
    small_pack_relief,
)
from pourwright.core.hazard.reasons import Reasons, listed
from pourwright.core.hazard.rulebook import rulebook
from pourwright.core.hazard.signs import (
    Drawn,
    Said,
    pictograms_of,
    sign_of,
    signal_word_of,
    statements_of,
    tables,
    text_of,
)
from pourwright.core.hazard.trace import plain
from pourwright.core.rules import rule

__all__ = [
    "Coming",
    "LabelElements",
    "LabelSize",
    "LeftOut",
    "Named",
    "Pictogram",
    "Reason",
    "Statement",
    "elements_of",
    "pictograms_of",
]

ADVICE = (
    "Check the result against the rule's current text and, where you are unsure, ask a competent "
    "adviser. It rests on the compositions entered; nothing here says that a candle is safe."
)


class Explained(str):
    """A short text that carries its reason: ``why``, ``rule`` (the clause) and ``status``."""

    why: str
    rule: str
    status: str

    @classmethod
    def of(cls, text: str, *, why: str, rule: str, status: str) -> Self:
        """Return the text with its reason."""
        made = cls(text)
        made.why, made.rule, made.status = why, rule, status
        return made


class Pictogram(Explained):
    """A pictogram's code, such as GHS07, with its reason."""

    @property
    def code(self) -> str:
        """The code as plain text."""
        return str(self)


class Named(Explained):
    """
    The name of a substance that the label must give, with its reason.

    ``causes`` are the classes that it causes; none for one that is named as a sensitiser only.
    """

    causes: tuple[HazardClass, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why something is, or is not, asked for, in plain words, with its clause."""

    why: str
    rule: str = ""
    status: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """A statement on the label: its code, its words, why it stands there and by which clause."""

    code: str
    text: str
    why: str
    rule: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A statement that may be left out on this small pack, and why."""

    code: str
    why: str
    rule: str
    status: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelElements:
    """
    What the label carries.

    ``contains`` is the line of names ("Contains: A, B."), empty where EUH208 names them or nothing
    is named. ``refused``: reasons why it must not be sold at all; a label does not mend that.
    ``left_out`` may go on a small pack; it is still listed among the statements. ``reasons`` has
    the words for "signal_word", "identifier", "tactile_warning" and "child_resistant".
    """

    pictograms: tuple[Pictogram, ...] = ()
    signal_word: str | None = None
    hazard_statements: tuple[Statement, ...] = ()
    supplemental: tuple[Statement, ...] = ()
    precautionary: tuple[Statement, ...] = ()
    named_substances: tuple[Named, ...] = ()
    contains: str = ""
    identifier_needed: bool = False
    refused: tuple[Refusal, ...] = ()
    sizes: LabelSize = field(default_factory=LabelSize)
    left_out: tuple[LeftOut, ...] = ()
    tactile_warning: bool = False
    child_resistant: bool = False
    coming: tuple[Coming, ...] = ()
    reasons: Mapping[str, Reason] = field(default_factory=dict)
    advice: str = ADVICE


def elements_of(
    found: Classification | Decision, *, package_ml: Fraction | None = None
) -> LabelElements:
    """
    Return the label of a classified candle, for a package that holds so many ml (None: unknown).
    """
    decision = found.decision if isinstance(found, Classification) else found
    market, on = decision.market, decision.on
    why = Reasons.of(found)
    hazards = [decided.hazard for decided in decision.classes]
    said = statements_of(hazards, on=on)
    care = precautions_for([one.code for one in said], on=on)
    names = _names(decision, why)
    sensitising = any(h.kind in (Kind.SKIN_SENS, Kind.RESP_SENS) for h in hazards)
    # What only elicits is named by EUH208, unless the candle is a sensitiser itself.
    on_line = names if sensitising else [name for name in names if name.causes]
    relief = small_pack_relief(package_ml, market=market, on=on)
    identifier, identifier_why = _identifier(decision, hazards)
    closures = _closures(decision, hazards)
    signal = signal_word_of(hazards, on=on)
    return LabelElements(
        pictograms=tuple(_pictogram(one, why) for one in pictograms_of(hazards, on=on)),
        signal_word=signal,
        hazard_statements=tuple(_statement(one, why) for one in said),
        supplemental=_supplemental(found, decision, why, sensitising=sensitising),
        precautionary=tuple(_precaution(one, why) for one in care),
        named_substances=names,
        contains=f"Contains: {', '.join(on_line)}." if on_line else "",
        identifier_needed=identifier,
        refused=_refused(found, decision),
        sizes=label_size(package_ml, market=market, on=on),
        left_out=_left_out(said, care, relief, why) if relief else (),
        tactile_warning="tactile_warning" in closures,
        child_resistant="child_resistant" in closures,
        coming=coming_after(on, market=market),
        reasons={
            "signal_word": _signal_reason(decision, hazards, signal),
            "identifier": identifier_why,
            **closures,
        },
    )


def _pictogram(drawn: Drawn, why: Reasons) -> Pictogram:
    words = [f"For {listed([str(h) for h in drawn.classes])}: {why.of_classes(drawn.classes)}"]
    return Pictogram.of(
        drawn.code,
        why=" ".join([*words, *(f"{note}." for note in drawn.notes)]),
        rule=why.clause(f"Article 26 and {why.table.values['clause']}"),
        status=why.status(why.table.status),
    )


def _statement(said: Said, why: Reasons) -> Statement:
    text, status = text_of(said.code, on=why.decision.on)
    note = f" It is {said.note}." if said.note else ""
    return Statement(
        code=said.code,
        text=text,
        why=f"{listed([str(h) for h in said.classes])}: {why.of_classes(said.classes)}{note}",
        rule=why.rules_of(said.classes),
        status=why.status_of(said.classes, status),
    )


def _precaution(care: Care, why: Reasons) -> Statement:
    return Statement(
        code=care.code,
        text=care.text,
        why=f"{care.why} [{why.clause(care.clause)}]",
        rule=why.clause(care.clause),
        status=care.status,
    )


def _signal_reason(
    decision: Decision, hazards: Sequence[HazardClass], signal: str | None
) -> Reason:
    precedence = tables(decision.on)[1]
    rule_text = rulebook(decision.market, decision.on).clause(precedence["signal_clause"])
    if signal is None:
        return Reason(why="No class of this candle has a signal word.", rule=rule_text)
    behind = [str(h) for h in hazards if sign_of(h, on=decision.on).signal == signal]
    others = signal != precedence["signal_words"][-1]
    why = f"{listed(behind)} asks for {signal}."
    if others:
        why += " A milder signal word does not stand beside it."
    return Reason(why=why, rule=rule_text, status=precedence.status)


def _names(decision: Decision, why: Reasons) -> tuple[Named, ...]:
    """
    Return the substances to name: the causes first, then the other sensitisers, each by name.

    An unclassified candle names its sensitisers in EUH208.
    """
    table = rule("hazard/names", on=decision.on)
    about = rulebook(decision.market, decision.on).about
    causes: dict[str, list[HazardClass]] = {}
    for decided in decision.classes:
        if decided.hazard.kind.value in table["kinds"]:
            for name in why.names_in(decided):
                causes.setdefault(name, []).append(decided.hazard)
    named = [
        Named.of(
            name,
            why=f"It causes {listed([str(h) for h in causes[name]])}.",
            rule=why.clause(table["clause"]),
            status=why.status(table["clause_status"]),
        )
        for name in sorted(causes, key=str.casefold)
    ]
    for one in named:
        one.causes = tuple(causes[one])
    if about["name_other_sensitisers"]:
        others = {decision.substances[at].name for at in decision.elicitors} - set(causes)
        named += [
            Named.of(
                name,
                why=why.of_elicitor(name),
                rule=why.clause(table["other_sensitisers_clause"]),
                status=why.status(table["other_sensitisers_status"]),
            )
            for name in sorted(others, key=str.casefold)
        ]
    return tuple(named)


def _supplemental(
    found: Classification | Decision,
    decision: Decision,
    why: Reasons,
    *,
    sensitising: bool,
) -> tuple[Statement, ...]:
    """Return EUH208 where the candle is no sensitiser itself, and shares of unknown toxicity."""
    table = rule("hazard/names", on=decision.on)
    book = rulebook(decision.market, decision.on)
    statements = []
    if decision.elicitors and not sensitising and book.about["allergen_statement"]:
        elicitors = {decision.substances[at].name for at in decision.elicitors}
        text, status = text_of("EUH208", on=decision.on)
        statements.append(
            Statement(
                code="EUH208",
                text=text.format(names=", ".join(sorted(elicitors, key=str.casefold))),
                why="The candle is not classified as a sensitiser, but holds enough for people who "
                f"are already allergic: {'; '.join(map(why.elicitation, sorted(elicitors)))}. "
                + table["with_allergen_statement"],
                rule=book.clause(table["other_sensitisers_clause"]),
                status=status,
            )
        )
    for route in decision.unknown_acute:
        shares = found.unknown_acute if isinstance(found, Classification) else {}
        share = next((pct for key, pct in shares.items() if key.value == route), None)
        word = "inhalation" if route in ("gas", "vapour", "dust") else route
        statements.append(
            Statement(
                code=f"unknown {route}",
                text=table["unknown_acute_text"].format(
                    pct=f"{plain(share)} %" if share is not None else "A part", route=word
                ),
                why="The sheets have no usable data on it, so it could not be counted.",
                rule=book.clause(book.acute["statement_clause"]),
                status=book.acute["statement_status"],
            )
        )
    return tuple(statements)


def _identifier(decision: Decision, hazards: Iterable[HazardClass]) -> tuple[bool, Reason]:
    table = rule_of_market("poison_centre", market=decision.market, on=decision.on)
    book = rulebook(decision.market, decision.on)
    if table is None:
        return False, Reason(
            why=f"In {book.about['place']} no identifier is asked for on the label."
        )
    behind = [str(h) for h in hazards if h.kind.value not in table["not_for"]]
    why = (
        f"The candle is classified for a hazard to health or a physical one ({listed(behind)}) and "
        "sold to the public: poison centres must know its composition under this identifier."
        if behind
        else "It is not classified for a hazard to health or a physical one."
    )
    return bool(behind), Reason(why=why, rule=book.clause(table["clause"]), status=table.status)


def _closures(decision: Decision, hazards: Sequence[HazardClass]) -> dict[str, Reason]:
    table = rule_of_market("hazard_closures", market=decision.market, on=decision.on)
    found = {}
    for key, rows, what in (
        ("tactile_warning", "tactile", "a tactile warning that blind people can feel"),
        ("child_resistant", "child_resistant", "a closure that children cannot open"),
    ):
        behind = needing(table[rows], hazards) if table else []
        if table and behind:
            found[key] = Reason(
                why=f"{listed([str(h) for h in behind])} asks for {what} on packs for the public.",
                rule=rulebook(decision.market, decision.on).clause(table[f"{rows}_clause"]),
                status=table.status,
            )
    return found


def _refused(found: Classification | Decision, decision: Decision) -> tuple[Refusal, ...]:
    if isinstance(found, Classification):
        return found.refusals
    return tuple(
        Refusal(
            reason=f"{decision.substances[ban.terms[0].ingredient].name} at {plain(ban.limit)} % "
            f"or more ({ban.hazard}) bans the sale to the public.",
            rule=ban.rule,
            status=ban.status,
        )
        for ban in decision.bans
    )


def _left_out(
    said: Sequence[Said], care: Sequence[Care], relief: Relief, why: Reasons
) -> tuple[LeftOut, ...]:
    """Return the statements that only relieved classes call for."""
    classes = {one.code: one.classes for one in said}
    up_to = plain(relief.up_to_ml)
    rows: list[tuple[str, Any]] = [
        (one.code, one.classes) for one in said if relief.spares("H", one.classes)
    ]
    rows += [
        (one.code, behind)
        for one in care
        if relief.spares("P", behind := [h for call in one.calls for h in classes[call]])
    ]
    return tuple(
        LeftOut(
            code=code,
            why=f"May be left out up to {up_to} ml: only {listed([str(h) for h in behind])} calls "
            "for it.",
            rule=why.clause(relief.rule),
            status=relief.status,
        )
        for code, behind in rows
    )
