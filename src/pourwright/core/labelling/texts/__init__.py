"""A label's words by language: one TOML file each, named by its ISO 639-1 code."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from string import Formatter
from typing import Any

from pourwright.core.errors import BadInput

ENGLISH = "en"


class NoSuchWords(BadInput):
    """A language, or words in it, that no file holds."""


class Texts:
    """
    The words of one language.

    ``of("fire.core.in_sight")`` returns a text; names in braces are filled in. What a language
    lacks raises ``NoSuchWords``: nothing is printed in another language instead.
    """

    def __init__(self, code: str, table: Mapping[str, Any]) -> None:
        self.code = code
        self._table = table

    @property
    def language(self) -> str:
        return str(self._table["language"])

    def of(self, key: str, **values: str) -> str:
        found: Any = self._table
        for part in key.split("."):
            found = found.get(part) if isinstance(found, Mapping) else None
        if not isinstance(found, str):
            raise NoSuchWords(
                f"The label’s words in {self.language} lack “{key}”: add it to texts/"
                f"{self.code}.toml."
            )
        wanted = {name for _, name, *_ in Formatter().parse(found) if name}
        if missing := wanted - values.keys():
            raise NoSuchWords(f"The text “{found}” needs {', '.join(sorted(missing))}.")
        return found.format(**values)

    def has(self, key: str) -> bool:
        try:
            self.of(key)
        except NoSuchWords:
            return False
        return True

    def keys(self) -> frozenset[str]:
        return frozenset(_keys(self._table))


def _keys(table: Mapping[str, Any], before: str = "") -> list[str]:
    found = []
    for key, value in table.items():
        if isinstance(value, Mapping):
            found += _keys(value, f"{before}{key}.")
        else:
            found.append(f"{before}{key}")
    return found


def languages() -> list[str]:
    """Return the codes of the languages that there are words for."""
    return sorted(
        file.name.removesuffix(".toml")
        for file in files("pourwright.core.labelling.texts").iterdir()
        if file.name.endswith(".toml")
    )


@cache
def texts(code: str = ENGLISH) -> Texts:
    """Return the words of a language by its code; raises ``NoSuchWords`` where there are none."""
    if code not in languages():
        raise NoSuchWords(
            f"There are no label words for the language “{code}”; there are "
            f"{', '.join(languages())}."
        )
    path = files("pourwright.core.labelling.texts").joinpath(f"{code}.toml")
    return Texts(code, tomllib.loads(path.read_text(encoding="utf-8")))
