"""Tags of a document: which runs of text are headings and which are paragraphs, page by page in reading order.

Rows of tables are paragraphs, lines and boxes are left untagged: the drawing library has no calls for tags, so that no
standard of accessible documents is claimed. Fields are walked through in the order of rows.
"""

from __future__ import annotations

from typing import Any

from planner.pages.drawing.layout import Role

_PAGE_KEYS = ("StructParents", "Tabs")


def tag(canvas: Any, pages: list[list[Role]]) -> None:
    """Add the tree of tags: `pages` are the roles of the marked pieces of each page, in their order.

    Call it when every page is shown and before the document is saved.
    """
    from reportlab.pdfbase.pdfdoc import PDFArray, PDFDictionary, PDFName

    document = canvas._doc  # noqa: SLF001 - reportlab has no public way to tags
    root, whole = PDFDictionary({"Type": PDFName("StructTreeRoot")}), PDFDictionary()
    root_reference, whole_reference = document.Reference(root), document.Reference(whole)
    numbers: list[Any] = []
    found: list[Any] = []
    for number, (page, roles) in enumerate(zip(document.Pages.pages, pages, strict=True)):
        page.__NoDefault__ = [*page.__NoDefault__, *_PAGE_KEYS]
        page.StructParents, page.Tabs = number, PDFName("R")
        here = document.Reference(page)
        pieces = [
            document.Reference(PDFDictionary({"S": PDFName(role), "P": whole_reference, "Pg": here, "K": place}))
            for place, role in enumerate(roles)
        ]
        found += pieces
        numbers += [number, PDFArray(pieces)]
    whole.dict.update({"S": PDFName("Document"), "P": root_reference, "K": PDFArray(found)})
    root.dict.update({"K": whole_reference, "ParentTree": PDFDictionary({"Nums": PDFArray(numbers)})})
    root.dict["ParentTreeNextKey"] = len(pages)
    catalog = document._catalog  # noqa: SLF001 - as above
    catalog.StructTreeRoot, catalog.MarkInfo = root_reference, PDFDictionary({"Marked": "true"})
