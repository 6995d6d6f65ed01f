"""Files that mean harm, or are no sheets: each has to be refused or bounded, with a clear word."""

from __future__ import annotations

import io
import zlib
from collections.abc import Callable

from reportlab.pdfgen.canvas import Canvas

from intake.sheets.drawing import fonts


def pdf(objects: dict[int, bytes], *, root: int = 1) -> bytes:
    """Return a plain PDF file of numbered objects, its table of places right."""
    out = bytearray(b"%PDF-1.5\n")
    places = {}
    for number, body in objects.items():
        places[number] = len(out)
        out += b"%d 0 obj\n" % number + body + b"\nendobj\n"
    start, count = len(out), max(objects) + 1
    out += b"xref\n0 %d\n0000000000 65535 f \n" % count
    for number in range(1, count):
        place = places.get(number)
        out += b"%010d 00000 %c \n" % (place or 0, b"n" if place is not None else b"f")
    out += b"trailer\n<< /Size %d /Root %d 0 R >>\nstartxref\n%d\n%%%%EOF\n" % (count, root, start)
    return bytes(out)


def stream(data: bytes, more: bytes = b"") -> bytes:
    return b"<< /Length %d %s >>\nstream\n" % (len(data), more) + data + b"\nendstream"


def _one_page(content: bytes, *, box: bytes = b"0 0 595 842", more: bytes = b"", extra=()) -> bytes:
    objects = {
        1: b"<< /Type /Catalog /Pages 2 0 R >>",
        2: b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        3: b"<< /Type /Page /Parent 2 0 R /MediaBox [%s] /Contents 4 0 R "
        b"/Resources << /Font << /F 5 0 R >> %s >> >>" % (box, more),
        4: content,
        5: b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
    }
    return pdf({**objects, **dict(extra)})


def locked() -> bytes:
    """A sheet that opens with a password only."""
    fonts()
    buffer = io.BytesIO()
    canvas = Canvas(buffer, encrypt="a word that nobody here knows")
    canvas.drawString(72, 700, "SECTION 3: Composition/information on ingredients")
    canvas.save()
    return buffer.getvalue()


def many_pages(count: int = 10_000) -> bytes:
    """Ten thousand pages in one small file."""
    kids = b" ".join(b"%d 0 R" % (number + 4) for number in range(count))
    objects = {
        1: b"<< /Type /Catalog /Pages 2 0 R >>",
        2: b"<< /Type /Pages /Kids [%s] /Count %d >>" % (kids, count),
        3: stream(b""),
    }
    page = b"<< /Type /Page /Parent 2 0 R /MediaBox [0 0 595 842] /Contents 3 0 R >>"
    objects.update({number + 4: page for number in range(count)})
    return pdf(objects)


def nested_forms(depth: int = 12, times: int = 12) -> bytes:
    """A page that draws a thing made of twelve things, each made of twelve things, and so on."""
    forms = {}
    for level in range(depth):
        number, inner = 10 + level, 11 + level
        last = level == depth - 1
        content = b"BT /F 8 Tf (x) Tj ET" if last else b"/X Do " * times
        more = b"/Font << /F 5 0 R >>" if last else b"/XObject << /X %d 0 R >>" % inner
        forms[number] = stream(
            content,
            b"/Type /XObject /Subtype /Form /BBox [0 0 600 900] /Resources << %s >>" % more,
        )
    return _one_page(stream(b"/X Do"), more=b"/XObject << /X 10 0 R >>", extra=forms.items())


def form_in_itself() -> bytes:
    """A page that draws a thing that draws itself."""
    form = stream(
        b"/X Do",
        b"/Type /XObject /Subtype /Form /BBox [0 0 600 900] "
        b"/Resources << /XObject << /X 10 0 R >> >>",
    )
    return _one_page(stream(b"/X Do"), more=b"/XObject << /X 10 0 R >>", extra={10: form}.items())


def unpacks_to_gigabytes(mebibytes: int = 4096) -> bytes:
    """A few kilobytes that unpack, twice over, to gigabytes of text."""
    packer = zlib.compressobj(9)
    packer.compress(b"(linalool) Tj " * 10 + b" " * 2**20)
    head = packer.flush(zlib.Z_FULL_FLUSH)
    packer.compress(b"(linalool 78-70-6 5 %) Tj " * (2**20 // 26))
    chunk = packer.flush(zlib.Z_FULL_FLUSH)
    inner = head + chunk * mebibytes + packer.flush()
    data = zlib.compress(inner, 9)
    return _one_page(stream(data, b"/Filter [/FlateDecode /FlateDecode]"))


def endless_text(letters: int = 400_000) -> bytes:
    """One page with hundreds of thousands of letters on it."""
    line = b"BT /F 6 Tf %d %d Td (Linalool 78-70-6 201-134-4 5 - 10 H317 Acute Tox. 4 M=1) Tj ET\n"
    lines = b"".join(line % (n // 80, n % 80 * 10) for n in range(letters // 58))
    return _one_page(stream(zlib.compress(lines), b"/Filter /FlateDecode"))


def vast_page() -> bytes:
    """A page many kilometres wide."""
    text = b"BT /F 12 Tf 72 700 Td (SECTION 3: Composition. Linalool 78-70-6 5 - 10 % H317) Tj ET"
    return _one_page(stream(text), box=b"0 0 2000000000 2000000000")


def thin_page() -> bytes:
    """A page as thin as a thread and as long as a street."""
    return _one_page(stream(b"BT /F 12 Tf 0 0 Td (x) Tj ET"), box=b"0 0 1 900000")


def circling_pages() -> bytes:
    """A tree of pages that leads back to its own root, and claims a thousand million pages."""
    return pdf(
        {
            1: b"<< /Type /Catalog /Pages 2 0 R >>",
            2: b"<< /Type /Pages /Kids [2 0 R 3 0 R 2 0 R] /Count 1000000000 >>",
            3: b"<< /Type /Pages /Parent 2 0 R /Kids [2 0 R 2 0 R] /Count 1000000000 >>",
        }
    )


def no_pages() -> bytes:
    """A PDF without a page."""
    return pdf(
        {
            1: b"<< /Type /Catalog /Pages 2 0 R >>",
            2: b"<< /Type /Pages /Kids [] /Count 0 >>",
        }
    )


def broken() -> bytes:
    """What is left of a PDF when the middle is lost."""
    whole = many_pages(40)
    return whole[:60] + bytes(range(256)) * 8 + whole[-40:]


# What is refused whatever the machine, with a word that the message has to hold.
REFUSED: dict[str, tuple[Callable[[], bytes], str]] = {
    "empty": (lambda: b"", "empty"),
    "a web page": (lambda: b"<!DOCTYPE html><title>Not a sheet</title>", "not a PDF"),
    "a spreadsheet": (lambda: b"PK\x03\x04" + b"\0" * 3000, "not a PDF"),
    "too large": (lambda: b"%PDF-1.7\n" + b"\0" * (21 * 2**20), "21.0 MB"),
    "locked": (locked, "password"),
    "broken": (broken, "broken"),
    "no pages": (no_pages, "cannot be opened"),
    "ten thousand pages": (many_pages, "10,000 pages"),
    "a page tree in a circle": (circling_pages, "cannot be opened"),
}
# What may be refused or read, but within its time and memory either way.
BOUNDED: dict[str, Callable[[], bytes]] = {
    "nested things": nested_forms,
    "a thing in itself": form_in_itself,
    "unpacks to gigabytes": unpacks_to_gigabytes,
    "too many letters": endless_text,
    "a vast page": vast_page,
    "a thin page": thin_page,
}
