"""
The formulation numbers behind unique formula identifiers: one for a recipe, never used twice.

The same recipe keeps its number, in whatever version or design it stands; a changed recipe has
none until one is given. Whether a safety sheet that changed since means another composition, and
so another number, only the maker and the supplier can say: it is shown, not decided.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from datetime import date
from fractions import Fraction

from django.db import IntegrityError, transaction
from django.db.models import Max

from pourwright.core.errors import BadInput
from pourwright.core.hazard.model import Mixture
from pourwright.workshop.formulas.models import Formulation, FormulaVersion

# 28 bits (developers' manual of the identifier, European Chemicals Agency).
MOST = 2**28 - 1


class BadFormulation(BadInput):
    """A formulation number that cannot be given."""


def print_of_recipe(pct_of_whole: Mapping[int, Fraction]) -> str:
    """Return the fingerprint of what goes in: each item's key with its exact share of the whole."""
    return _digest(f"{item}:{pct}" for item, pct in pct_of_whole.items())


def print_of_mixture(mixture: Mixture) -> str:
    """Return the fingerprint of the substances that safety sheets name in it."""
    return _digest(f"{one.substance.key}:{one.pct_of_whole}" for one in mixture.present)


def _digest(lines: Iterable[str]) -> str:
    return hashlib.sha256("\n".join(sorted(lines)).encode()).hexdigest()


def formulation_of(recipe: str) -> Formulation | None:
    """Return the newest number that was given to a recipe, by its fingerprint."""
    return Formulation.objects.filter(recipe=recipe).order_by("-id").first()


def give_number(
    version: FormulaVersion,
    *,
    recipe: str,
    made_of: str,
    on: date,
    number: int | None = None,
) -> Formulation:
    """
    Give a recipe its number, the next free one unless ``number`` is asked for.

    What has a number already gets another only where what it is made of has changed since, or
    where one is asked for by hand. Raises ``BadFormulation`` for a number that is taken or too big.
    """
    with transaction.atomic():
        # Locked, so that two people at once do not give the same recipe two numbers.
        FormulaVersion.objects.select_for_update().get(pk=version.pk)
        standing = formulation_of(recipe)
        if standing and standing.made_of == made_of and number in (None, standing.number):
            return standing
        if number is None:
            number = (Formulation.objects.aggregate(last=Max("number"))["last"] or 0) + 1
        _refuse_unless_free(number)
        try:
            with transaction.atomic():
                return Formulation.objects.create(
                    number=number, recipe=recipe, made_of=made_of, version=version, given_on=on
                )
        except IntegrityError as taken:
            raise BadFormulation(f"Number {number} has just been given; try again.") from taken


def _refuse_unless_free(number: int) -> None:
    if not 0 <= number <= MOST:
        raise BadFormulation(f"A formulation number lies between 0 and {MOST:,}; not {number:,}.")
    if taken := Formulation.objects.filter(number=number).select_related("version").first():
        raise BadFormulation(
            f"Number {number} is that of {taken.version}, given on {taken.given_on:%d %B %Y}; "
            "a number stands for one recipe."
        )
