"""Two general PDF libraries that fill in a form, as the viewers of a ward do."""

from __future__ import annotations

import ctypes
from collections.abc import Mapping
from io import BytesIO
from typing import Any

import pypdfium2  # type: ignore[import-untyped]
from pypdf import PdfReader, PdfWriter
from pypdfium2 import raw


def by_pypdf(form: bytes, values: Mapping[str, str]) -> bytes:
    """Values put in by name."""
    writer = PdfWriter(clone_from=PdfReader(BytesIO(form)))
    named = {f"request.{name}": "/Yes" if value == "Yes" else value for name, value in values.items()}
    for page in writer.pages:
        writer.update_page_form_field_values(page, named, auto_regenerate=False)
    out = BytesIO()
    writer.write(out)
    return out.getvalue()


def by_pdfium(form: bytes, values: Mapping[str, str]) -> bytes:
    """Values typed, chosen and ticked with the mouse and keyboard of a viewer (the engine of a browser)."""
    document = pypdfium2.PdfDocument(form)
    document.init_forms()
    env: Any = document.formenv
    left = dict(values)
    for page in document:
        raw.FORM_OnAfterLoadPage(page, env)
        for index in range(raw.FPDFPage_GetAnnotCount(page)):
            annotation = raw.FPDFPage_GetAnnot(page, index)
            name = _text(lambda buffer, size, a=annotation: raw.FPDFAnnot_GetFormFieldName(env, a, buffer, size))
            value = left.pop(name.removeprefix("request."), None)
            if value is not None:
                _enter(env, page, annotation, value)
            raw.FPDFPage_CloseAnnot(annotation)
        raw.FORM_ForceToKillFocus(env)
    assert not left, left
    out = BytesIO()
    document.save(out)
    return out.getvalue()


def _enter(env: Any, page: Any, annotation: Any, value: str) -> None:
    rect = raw.FS_RECTF()
    assert raw.FPDFAnnot_GetRect(annotation, rect)
    x, y = (rect.left + rect.right) / 2, (rect.top + rect.bottom) / 2
    raw.FORM_OnMouseMove(env, page, 0, x, y)
    raw.FORM_OnLButtonDown(env, page, 0, x, y)
    raw.FORM_OnLButtonUp(env, page, 0, x, y)
    kind = raw.FPDFAnnot_GetFormFieldType(env, annotation)
    if kind == raw.FPDF_FORMFIELD_COMBOBOX:
        words = [
            _text(lambda buffer, size, n=number: raw.FPDFAnnot_GetOptionLabel(env, annotation, n, buffer, size))
            for number in range(raw.FPDFAnnot_GetOptionCount(env, annotation))
        ]
        assert raw.FORM_SetIndexSelected(env, page, words.index(value), True)
    elif kind == raw.FPDF_FORMFIELD_TEXTFIELD:
        raw.FORM_SelectAllText(env, page)
        data = ctypes.create_string_buffer((value + "\0").encode("utf-16-le"))
        raw.FORM_ReplaceSelection(env, page, ctypes.cast(data, ctypes.POINTER(ctypes.c_ushort)))


def _text(ask: Any) -> str:
    size = ask(None, 0)
    buffer = ctypes.create_string_buffer(size)
    ask(ctypes.cast(buffer, ctypes.POINTER(ctypes.c_ushort)), size)
    return buffer.raw[:size].decode("utf-16-le").rstrip("\0")
