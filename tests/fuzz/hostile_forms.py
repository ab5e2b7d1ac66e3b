"""PDF files made to break the reader of forms: small ones that ask for much, and what readers of PDF do to a form."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Mapping
from typing import Final

HIDDEN: Final = b"/T (plan) /Kids [] "


def pdf(objects: Mapping[int, bytes], trailer: bytes = b"", root: int = 1) -> bytes:
    """A file of numbered objects with a table of them, and more in its trailer."""
    out = bytearray(b"%PDF-1.7\n")
    places = {}
    for number, body in objects.items():
        places[number] = len(out)
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    begin = len(out)
    most = max(objects) + 1
    out += b"xref\n0 %d\n" % most
    for number in range(most):
        known = number in places
        out += b"%010d %05d %c \n" % (places.get(number, 0), 0 if known else 65535, b"n"[0] if known else b"f"[0])
    out += b"trailer\n<</Size %d /Root %d 0 R %s>>\nstartxref\n%d\n%%%%EOF\n" % (most, root, trailer, begin)
    return bytes(out)


def stream(data: bytes, head: bytes = b"") -> bytes:
    """A stream with what its dictionary says of it."""
    return b"<</Length %d %s>>\nstream\n%s\nendstream" % (len(data), head, data)


def page_with(
    boxes: bytes, more: Mapping[int, bytes] | None = None, catalog: bytes = b"", trailer: bytes = b""
) -> bytes:
    """A file of one page with boxes, which are references or dictionaries in a row."""
    objects = {
        1: b"<</Type /Catalog /Pages 2 0 R %s>>" % catalog,
        2: b"<</Type /Pages /Kids [3 0 R] /Count 1>>",
        3: b"<</Type /Page /Parent 2 0 R /MediaBox [0 0 9 9] /Annots [%s]>>" % boxes,
        **(more or {}),
    }
    return pdf(objects, trailer)


def squeezed(data: bytes, times: int) -> bytes:
    """Data packed again and again."""
    for _ in range(times):
        data = zlib.compress(data, 9)
    return data


def attached(body: bytes) -> bytes:
    """A file with one box and an attachment, the stream of which is given."""
    return page_with(
        b"<</Subtype /Widget /T (a)>>",
        {4: body},
        b"/Names <</EmbeddedFiles <</Names [(planned-from.json) <</EF <</F 4 0 R>>>>]>>>>",
    )


def object_streams() -> bytes:
    """Every box is an object of one packed stream, which a reader may unpack again for each of them."""
    many = 8000
    bodies = [b"<</Subtype /Widget /T (%d)>>" % number for number in range(many)]
    places, at = [], 0
    for number, body in enumerate(bodies, 10):
        places.append(b"%d %d" % (number, at))
        at += len(body) + 1
    head = b" ".join(places) + b" "
    packed = zlib.compress(head + b" ".join(bodies), 9)
    out = bytearray(b"%PDF-1.7\n")
    found: dict[int, int] = {}
    objects = {
        1: b"<</Type /Catalog /Pages 2 0 R>>",
        2: b"<</Type /Pages /Kids [3 0 R] /Count 1>>",
        3: b"<</Type /Page /Parent 2 0 R /MediaBox [0 0 9 9] /Annots [%s]>>"
        % b" ".join(b"%d 0 R" % number for number in range(10, 10 + many)),
        4: stream(packed, b"/Type /ObjStm /N %d /First %d /Filter /FlateDecode" % (many, len(head))),
    }
    for number, body in objects.items():
        found[number] = len(out)
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    begin = len(out)
    rows = b""
    for number in range(10 + many):
        if number in found:
            rows += b"\x01" + found[number].to_bytes(4, "big") + b"\x00\x00"
        elif number >= 10:
            rows += b"\x02" + (4).to_bytes(4, "big") + (number - 10).to_bytes(2, "big")
        else:
            rows += b"\x00" * 7
    head_of = b"/Type /XRef /Size %d /W [1 4 2] /Root 1 0 R /Filter /FlateDecode" % (10 + many)
    out += b"9 0 obj\n%s\nendobj\nstartxref\n%d\n%%%%EOF\n" % (stream(zlib.compress(rows, 9), head_of), begin)
    return bytes(out)


def deep_pages() -> bytes:
    """Pages within pages, each the only one of the one above."""
    many = 5000
    objects = {1: b"<</Type /Catalog /Pages 2 0 R>>"}
    for number in range(2, many):
        objects[number] = b"<</Type /Pages /Kids [%d 0 R] /Count 1>>" % (number + 1)
    objects[many] = b"<</Type /Page /MediaBox [0 0 9 9]>>"
    return pdf(objects)


FILTERS: Final = b"/Filter [" + b"/FlateDecode " * 3 + b"]"

SAMPLES: Final[dict[str, Callable[[], bytes]]] = {
    "nothing": lambda: b"",
    "a head alone": lambda: b"%PDF-1.7\n",
    "zeros": lambda: b"\0" * 100_000,
    "object streams": object_streams,
    "nested filters": lambda: attached(stream(squeezed(b"\0" * 150_000_000, 3), FILTERS)),
    "an attachment of 150 MB": lambda: attached(stream(squeezed(b"\0" * 150_000_000, 1), b"/Filter /FlateDecode")),
    "an attachment of two megabytes": lambda: attached(stream(squeezed(b" " * 2_000_000, 1), b"/Filter /FlateDecode")),
    "an attachment in a circle": lambda: attached(b"4 0 R"),
    "7.5 MB of boxes": lambda: page_with(b"<</Subtype /Widget /T (log.cart.A.1.gauge) /V (1)>> " * 145_000),
    "one box many times": lambda: page_with(b"4 0 R " * 300_000, {4: b"<</Subtype /Widget /T (a)>>"}),
    "a box that is its own parent": lambda: page_with(b"4 0 R", {4: b"<</Subtype /Widget /T (a) /Parent 4 0 R>>"}),
    "a box with many parents": lambda: page_with(
        b"4 0 R", {n: b"<</Subtype /Widget /T (a) /Parent %d 0 R>>" % (n + 1) for n in range(4, 3000)}
    ),
    "a value of a megabyte": lambda: page_with(b"<</Subtype /Widget /T (log.a) /V (%s)>>" % (b"9" * 1_000_000)),
    "a name of a megabyte": lambda: page_with(b"<</Subtype /Widget /T (log.%s) /V (9)>>" % (b"9" * 1_000_000)),
    "boxes that are no dictionaries": lambda: page_with(b"1 (a) [1 2] null /Name 99 0 R true"),
    "a value that is a dictionary": lambda: page_with(b"<</Subtype /Widget /T (log.a) /V <</a [1]>>>>"),
    "a name that is a list": lambda: page_with(b"<</Subtype /Widget /T [1] /V (9)>>"),
    "deep lists": lambda: page_with(b"[" * 100_000),
    "deep dictionaries": lambda: page_with(b"<</a " * 50_000),
    "a page that is its own parent": lambda: pdf(
        {1: b"<</Type /Catalog /Pages 2 0 R>>", 2: b"<</Type /Pages /Kids [2 0 R] /Count 1>>"}
    ),
    "pages within pages": deep_pages,
    "the same page many times": lambda: pdf(
        {
            1: b"<</Type /Catalog /Pages 2 0 R>>",
            2: b"<</Type /Pages /Kids [%s] /Count 100000>>" % (b"3 0 R " * 100_000),
            3: b"<</Type /Page /MediaBox [0 0 9 9] /Annots [<</Subtype /Widget /T (log.a)>>]>>",
        }
    ),
    "a table in a circle": lambda: page_with(b"", trailer=b"/Prev 9"),
    "no root": lambda: pdf({1: b"<</Type /Catalog>>"}, root=7),
    "no pages": lambda: pdf({1: b"<</Type /Catalog>>"}),
    "a table of a billion": lambda: (
        b"%PDF-1.7\nxref\n0 1000000000\ntrailer\n<</Size 1000000000>>\nstartxref\n9\n%%EOF\n"
    ),
    "locked with a key of 256 bits": lambda: page_with(
        b"",
        {4: b"<</Filter /Standard /V 5 /R 6 /Length 256 /P -1 /O <%s> /U <%s> /OE <%s> /UE <%s> /Perms <%s> "
         b"/CF <</StdCF <</CFM /AESV3 /AuthEvent /DocOpen /Length 32>>>> /StmF /StdCF /StrF /StdCF>>"
         % (b"00" * 48, b"00" * 48, b"00" * 32, b"00" * 32, b"00" * 16)},
        trailer=b"/Encrypt 4 0 R /ID [<00><00>]",
    ),
    "locked in no known way": lambda: page_with(b"", trailer=b"/Encrypt <</Filter /Other /V 9>> /ID [<00><00>]"),
    "words for a terminal": lambda: (
        b"%PDF-1.7\n1 0 obj\n<</a \x1b[2J\x1b[32mGO\x1b[0m>>\nendobj\nstartxref\n\x1b[2J\n%%EOF\n"
    ),
}  # fmt: skip
