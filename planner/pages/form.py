"""The fillable form: every box to tick or to write in becomes a field of the PDF, under the name it carries.

The fields lie over the printed boxes and show nothing while they are empty, so that a page fills in on a screen and
prints as before. Boxes of one name are one field: a reading that the log and a change both ask for is typed
once. Hidden fields say which print it is. Typed text uses the typeface of the pages, embedded whole, so that it looks
the same in every reader. The names are listed in planner/pages/README.md.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from planner.package_file import package_bytes
from planner.pages.drawing import fonts
from planner.pages.drawing.layout import FormField, PageItem

FACE: fonts.Face = "regular"
FONT_NAME = "Plan"
"""Name of the typeface among the resources of the form."""
LARGEST, SMALLEST = 16.0, 9.0
"""Type sizes of what is typed, points; in between, 0.6 of the height of the box."""

HIDDEN = 1 << 1
PRINT = 1 << 2
READ_ONLY = 1
COMBO = 1 << 17
NOTHING_CHOSEN = " "
"""The first of the words to choose from: one blank, since a viewer cannot go back to nothing."""
NO_SPELL_CHECK = 1 << 22


class Widget(NamedTuple):
    """A field at its place: points from the bottom left of the paper."""

    item: FormField
    left: float
    bottom: float


@dataclass(slots=True)
class NamePart:
    """One part of the names: its own part, what hangs below it, or the widgets of a field."""

    part: str
    nodes: dict[str, NamePart] = field(default_factory=dict)
    widgets: list[Any] = field(default_factory=list)
    item: FormField | None = None


class Form:
    """The form of one document. `add` each page before it is shown, `close` before the document is saved."""

    def __init__(self, canvas: Any) -> None:
        self._canvas = canvas
        self._document = canvas._doc  # noqa: SLF001 - reportlab has no public way to a field with a font of its own
        self._found: list[tuple[Widget, Any]] = []
        self._drawings: dict[tuple[str, float, float], Any] = {}
        self._typeface: Any = None

    def add(self, items: Iterable[PageItem], left: float, top: float) -> None:
        """Lay a field over each box of a page; the frame has its top left corner at `left` and `top` on the paper."""
        for item in items:
            if isinstance(item, FormField):
                widget = Widget(item, left + item.x, top - item.y - item.height)
                drawn = self._widget(widget)
                self._canvas._addAnnotation(drawn)  # noqa: SLF001 - as above
                self._found.append((widget, drawn))

    def attach(self, name: str, data: bytes) -> None:
        """Attach a file of JSON under a name."""
        from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName, PDFStream, PDFString, PDFZCompress

        kind = PDFDictionary({"Type": PDFName("EmbeddedFile")})
        file = self._document.Reference(PDFStream(kind, data, filters=[PDFZCompress]))
        held = {
            "Type": PDFName("Filespec"),
            "F": PDFString(name),
            "UF": PDFString(name),
            "EF": PDFDictionary({"F": file}),
            "Desc": PDFString("What this print was planned from"),
        }
        names = PDFArray([PDFString(name), self._document.Reference(PDFDictionary(held))])
        self._document._catalog.Names = PDFDictionary(  # noqa: SLF001 - as above
            {"EmbeddedFiles": PDFDictionary({"Names": names})}
        )

    def close(self) -> None:
        """Bind the fields together by their names, and the form to the document."""
        from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFString

        root = name_tree((widget.item, drawn) for widget, drawn in self._found)
        fields = [self._bind(node, None) for node in root.nodes.values()]
        self._document._catalog.AcroForm = PDFDictionary(  # noqa: SLF001 - as above
            {
                "Fields": PDFArray(fields),
                "DR": PDFDictionary({"Font": PDFDictionary({FONT_NAME: self._face()})}),
                "DA": PDFString(f"/{FONT_NAME} 12 Tf 0 g"),
                "NeedAppearances": "false",
            }
        )

    def _bind(self, node: NamePart, parent: Any) -> Any:
        """The field or the group of fields below a node, as a reference; a field of one widget is that widget."""
        from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFString

        one = node.widgets[0] if len(node.widgets) == 1 else None
        bound = PDFDictionary() if one is None else one
        reference = self._document.Reference(bound)
        bound["T"] = PDFString(node.part)
        if parent is not None:
            bound["Parent"] = parent
        if node.item is not None:
            bound.dict.update(_field(node.item))
        if one is None:
            below = [self._document.Reference(widget) for widget in node.widgets]
            for widget in node.widgets:
                widget["Parent"] = reference
            below += [self._bind(each, reference) for each in node.nodes.values()]
            bound["Kids"] = PDFArray(below)
        return reference

    def _widget(self, widget: Widget) -> Any:
        from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName

        item = widget.item
        box = [round(value, 3) for value in (widget.left, widget.bottom)]
        box += [round(value, 3) for value in (widget.left + item.width, widget.bottom + item.height)]
        found = {
            "Type": PDFName("Annot"),
            "Subtype": PDFName("Widget"),
            "Rect": PDFArray(box),
            "F": HIDDEN if item.kind == "hidden" else PRINT,
        }
        if item.kind == "hidden":
            return PDFDictionary(found)
        if item.kind == "tick":
            empty, cross = self._shared(item, ""), self._shared(item, _cross(item.width, item.height))
            found["AP"] = PDFDictionary({"N": PDFDictionary({"Off": empty, "Yes": cross})})
            found["AS"] = PDFName(item.value or "Off")
        else:
            drawing = self._new_drawing(_shown(item), round(item.width, 3), round(item.height, 3))
            found["AP"] = PDFDictionary({"N": self._document.Reference(drawing)})
        return PDFDictionary(found)

    def _shared(self, item: FormField, content: str) -> Any:
        """How a tick looks, as a drawing that ticks of one size share.

        What is written into has a drawing of its own: a viewer may write what was typed into the drawing that it finds,
        and every box that shares it would show the words of one.
        """
        key = (content, round(item.width, 3), round(item.height, 3))
        if key not in self._drawings:
            self._drawings[key] = self._document.Reference(self._new_drawing(*key))
        return self._drawings[key]

    def _new_drawing(self, content: str, wide: float, high: float) -> Any:
        from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName, PDFStream

        form = {"Type": PDFName("XObject"), "Subtype": PDFName("Form"), "BBox": PDFArray([0, 0, wide, high])}
        resources = PDFDictionary()
        if f"/{FONT_NAME} " in content:
            resources["Font"] = PDFDictionary({FONT_NAME: self._face()})
        return PDFStream(
            PDFDictionary({**form, "Resources": resources}), content.encode("cp1252", "replace"), filters=[]
        )

    def _face(self) -> Any:
        """The typeface among the document's objects, once."""
        if self._typeface is None:
            self._typeface = self._document.Reference(self._font())
        return self._typeface

    def _font(self) -> Any:
        """The typeface as a simple font in the encoding of Windows, which readers type in."""
        from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName, PDFStream

        data = package_bytes(f"fonts/{fonts.FILES[FACE]}")
        name = PDFName(fonts.FILES[FACE].removesuffix(".ttf"))
        stream = PDFStream(PDFDictionary({"Length1": len(data)}), data)
        height = round(1000 * fonts.x_height(FACE))
        descriptor = PDFDictionary(
            {
                "Type": PDFName("FontDescriptor"),
                "FontName": name,
                "Flags": 1 << 5,
                "FontBBox": PDFArray([-1000, -300, 2000, 1000]),
                "ItalicAngle": 0,
                "Ascent": 760,
                "Descent": -240,
                "CapHeight": 729,
                "XHeight": height,
                "StemV": 80,
                "FontFile2": self._document.Reference(stream),
            }
        )
        return PDFDictionary(
            {
                "Type": PDFName("Font"),
                "Subtype": PDFName("TrueType"),
                "BaseFont": name,
                "Encoding": PDFName("WinAnsiEncoding"),
                "FirstChar": 32,
                "LastChar": 255,
                "Widths": PDFArray([_width(code) for code in range(32, 256)]),
                "FontDescriptor": self._document.Reference(descriptor),
            }
        )


def name_tree(found: Iterable[tuple[FormField, Any]]) -> NamePart:
    """The fields by the parts of their names, which stand between dots. Boxes of one name and kind are one field.

    A name that is taken by another kind of box, or that is the beginning of a longer one, gets an underscore.
    """
    pairs = list(found)
    begun = {".".join(_parts(item.name)[:count]) for item, _ in pairs for count in range(1, len(_parts(item.name)))}
    root = NamePart("")
    kinds: dict[str, str] = {}
    for item, drawn in pairs:
        parts = _parts(item.name)
        while ".".join(parts) in begun or kinds.get(".".join(parts), item.kind) != item.kind:
            parts[-1] += "_"
        kinds[".".join(parts)] = item.kind
        node = root
        for part in parts:
            node = node.nodes.setdefault(part, NamePart(part))
        node.item = node.item or item
        node.widgets.append(drawn)
    return root


def _parts(name: str) -> list[str]:
    return [part or "_" for part in name.split(".")]


def _field(item: FormField) -> dict[str, Any]:
    """What a field is, whatever number of widgets it has."""
    from reportlab.pdfbase.pdfdoc import PDFArray, PDFName, PDFString

    if item.kind == "tick":
        return {"FT": PDFName("Btn"), "TU": PDFString(item.tip), "V": PDFName(item.value or "Off")}
    if item.kind == "hidden":
        return {"FT": PDFName("Tx"), "TU": PDFString(item.tip), "V": PDFString(item.value), "Ff": READ_ONLY}
    typed = {"TU": PDFString(item.tip), "V": PDFString(item.value), "DA": PDFString(_face_of(item))}
    if item.kind == "choice":
        words = PDFArray([PDFString(word) for word in (NOTHING_CHOSEN, *item.words)])
        return {"FT": PDFName("Ch"), **typed, "Ff": COMBO | NO_SPELL_CHECK, "Opt": words}
    return {"FT": PDFName("Tx"), **typed, "Ff": NO_SPELL_CHECK, "Q": 1}


def _face_of(item: FormField) -> str:
    """Typeface and size of what is typed into a field."""
    return f"/{FONT_NAME} {_size(item):.3g} Tf 0 g"


def _size(item: FormField) -> float:
    return min(LARGEST, max(SMALLEST, 0.6 * item.height))


def _shown(item: FormField) -> str:
    """How a field looks with what stands in it: a chosen word at the left, a typed one in the middle."""
    if not item.value:
        return "/Tx BMC\nEMC\n"
    size = min(_size(item), _size(item) * (item.width - 4) / max(1.0, fonts.width(item.value, FACE, _size(item))))
    left = 2.0 if item.kind == "choice" else (item.width - fonts.width(item.value, FACE, size)) / 2
    text = item.value.replace("\\", "\\\\").replace("(", "\\(").replace(")", "\\)")
    place = f"{left:.2f} {(item.height - 0.7 * size) / 2:.2f}"
    return f"/Tx BMC\nq BT /{FONT_NAME} {size:.3g} Tf 0 g {place} Td ({text}) Tj ET Q\nEMC\n"


def _cross(wide: float, high: float) -> str:
    """A cross from corner to corner: a tick that no copier loses."""
    near, far, top = 0.18 * wide, 0.82 * wide, 0.82 * high
    low = 0.18 * high
    return (
        f"q 0 G {0.12 * wide:.2f} w 1 J {near:.2f} {low:.2f} m {far:.2f} {top:.2f} l "
        f"{near:.2f} {top:.2f} m {far:.2f} {low:.2f} l S Q\n"
    )


def _width(code: int) -> int:
    try:
        return round(fonts.width(bytes([code]).decode("cp1252"), FACE, 1000))
    except UnicodeDecodeError:
        return 0
