"""
A jig as a DXF: the format of 2000 (AC1015), units millimetres, circles and polylines with arcs.

Written by hand so that the same jig gives the same bytes. What stands here is the least that the
format's published reference asks for: the header, the tables with their block records, the two
spaces, the entities, and the root dictionary.
"""

from __future__ import annotations

from collections.abc import Iterator

from pourwright.core.wicks.flat import Edge, Round
from pourwright.core.wicks.jigs import CAUTIONS, Jig
from pourwright.papers.jigs.laid import laid

Tag = tuple[int, object]

CUT, CENTRES = "CUT", "CENTRES"
_RED, _BLUE = 1, 5
_MILLIMETRES = 4


def jig_dxf(jig: Jig, *, title: str) -> bytes:
    """
    Return the lines to cut on the layer CUT and the holes' centres as points on CENTRES.

    The first part's middle is at (0, 0), y runs up. Title and cautions stand as comments.
    """
    tags = [*_comments(title), *_Writer().all(jig)]
    return "".join(f"{code:>3}\n{_value(value)}\n" for code, value in tags).encode("ascii")


def _value(value: object) -> str:
    if isinstance(value, float):
        text = f"{value:.6f}".rstrip("0")
        return "0.0" if text in ("-0.", "0.") else f"{text}0" if text.endswith(".") else text
    return str(value)


def _comments(title: str) -> Iterator[Tag]:
    for line in (title, *CAUTIONS):
        yield 999, line.encode("ascii", "replace").decode("ascii")


class _Writer:
    """Hands out handles as it goes."""

    def __init__(self) -> None:
        self._next = 0x20

    def handle(self) -> str:
        self._next += 1
        return f"{self._next:X}"

    def all(self, jig: Jig) -> list[Tag]:
        tables = list(self._tables())
        blocks = list(self._blocks())
        entities = list(self._entities(jig))
        objects: list[Tag] = [
            (0, "SECTION"), (2, "OBJECTS"),
            (0, "DICTIONARY"), (5, "C"), (330, "0"), (100, "AcDbDictionary"), (281, 1),
            (3, "ACAD_GROUP"), (350, "D"),
            (0, "DICTIONARY"), (5, "D"), (330, "C"), (100, "AcDbDictionary"), (281, 1),
            (0, "ENDSEC"), (0, "EOF"),
        ]  # fmt: skip
        return [*self._header(), *tables, *blocks, *entities, *objects]

    def _header(self) -> Iterator[Tag]:
        yield from [(0, "SECTION"), (2, "HEADER")]
        yield from [(9, "$ACADVER"), (1, "AC1015")]
        yield from [(9, "$HANDSEED"), (5, "FFFF")]
        yield from [(9, "$INSUNITS"), (70, _MILLIMETRES)]
        yield from [(9, "$MEASUREMENT"), (70, 1)]
        yield (0, "ENDSEC")
        yield from [(0, "SECTION"), (2, "CLASSES"), (0, "ENDSEC")]

    def _tables(self) -> Iterator[Tag]:
        yield from [(0, "SECTION"), (2, "TABLES")]
        yield from self._table("VPORT", "8", [])
        line = [(3, ""), (72, 65), (73, 0), (40, 0.0)]
        yield from self._table("LTYPE", "5", [
            ("LTYPE", "AcDbLinetypeTableRecord", name, line)
            for name in ("ByBlock", "ByLayer", "Continuous")
        ])  # fmt: skip
        yield from self._table("LAYER", "2", [
            ("LAYER", "AcDbLayerTableRecord", name,
             [(62, colour), (6, "Continuous"), (370, -3), (390, "F")])
            for name, colour in (("0", 7), (CUT, _RED), (CENTRES, _BLUE))
        ])  # fmt: skip
        yield from self._table("STYLE", "3", [
            ("STYLE", "AcDbTextStyleTableRecord", "Standard",
             [(40, 0.0), (41, 1.0), (50, 0.0), (71, 0), (42, 2.5), (3, "txt"), (4, "")])
        ])  # fmt: skip
        yield from self._table("VIEW", "6", [])
        yield from self._table("UCS", "7", [])
        yield from self._table("APPID", "9", [("APPID", "AcDbRegAppTableRecord", "ACAD", [])])
        yield from self._table("DIMSTYLE", "A", [])
        yield from [(0, "TABLE"), (2, "BLOCK_RECORD"), (5, "1"), (330, "0")]
        yield from [(100, "AcDbSymbolTable"), (70, 2)]
        for name, handle in (("*Model_Space", "1F"), ("*Paper_Space", "1B")):
            yield from [(0, "BLOCK_RECORD"), (5, handle), (330, "1")]
            yield from [(100, "AcDbSymbolTableRecord"), (100, "AcDbBlockTableRecord")]
            yield from [(2, name), (340, "0")]
        yield from [(0, "ENDTAB"), (0, "ENDSEC")]

    def _table(
        self, name: str, handle: str, records: list[tuple[str, str, str, list[Tag]]]
    ) -> Iterator[Tag]:
        yield from [(0, "TABLE"), (2, name), (5, handle), (330, "0")]
        yield from [(100, "AcDbSymbolTable"), (70, len(records))]
        if name == "DIMSTYLE":
            yield (100, "AcDbDimStyleTable")
        for kind, record, called, more in records:
            yield from [(0, kind), (5, self.handle()), (330, handle)]
            yield from [(100, "AcDbSymbolTableRecord"), (100, record), (2, called), (70, 0)]
            yield from (tag for tag in more if tag[0] != 390)
        yield (0, "ENDTAB")

    def _blocks(self) -> Iterator[Tag]:
        yield from [(0, "SECTION"), (2, "BLOCKS")]
        for name, record in (("*Model_Space", "1F"), ("*Paper_Space", "1B")):
            yield from [(0, "BLOCK"), (5, self.handle()), (330, record), (100, "AcDbEntity")]
            yield from [(8, "0"), (100, "AcDbBlockBegin"), (2, name), (70, 0)]
            yield from [(10, 0.0), (20, 0.0), (30, 0.0), (3, name), (1, "")]
            yield from [(0, "ENDBLK"), (5, self.handle()), (330, record), (100, "AcDbEntity")]
            yield from [(8, "0"), (100, "AcDbBlockEnd")]
        yield (0, "ENDSEC")

    def _entities(self, jig: Jig) -> Iterator[Tag]:
        yield from [(0, "SECTION"), (2, "ENTITIES")]
        for part in laid(jig):
            for edge in part.edges:
                yield from self._edge(edge)
            for hole in jig.holes:
                yield from self._head("POINT", CENTRES, "AcDbPoint")
                yield from [(10, float(hole.x + part.dx)), (20, float(hole.y)), (30, 0.0)]
        yield (0, "ENDSEC")

    def _edge(self, edge: Edge) -> Iterator[Tag]:
        if isinstance(edge, Round):
            yield from self._head("CIRCLE", CUT, "AcDbCircle")
            yield from [(10, float(edge.x)), (20, float(edge.y)), (30, 0.0)]
            yield (40, float(edge.radius))
            return
        yield from self._head("LWPOLYLINE", CUT, "AcDbPolyline")
        yield from [(90, len(edge)), (70, 1)]
        for corner in edge:
            yield from [(10, float(corner.x)), (20, float(corner.y))]
            if corner.bulge:
                yield (42, float(corner.bulge))

    def _head(self, kind: str, layer: str, record: str) -> Iterator[Tag]:
        yield from [(0, kind), (5, self.handle()), (330, "1F"), (100, "AcDbEntity"), (8, layer)]
        yield (100, record)
