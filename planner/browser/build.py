"""One HTML file out of the program, its inputs and the page's own sources: the same bytes each time for one date.

What is big lies in the file compressed and in base64, as text that no browser runs; the page's script hands it to a
worker. The content security policy names the page's own script and style by their hashes and allows no connection.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import html
import io
import json
import tarfile
import zipfile
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Final, NamedTuple

from planner import __version__
from planner.browser.inputs import locked

_PACKAGE: Final = Path(__file__).resolve().parent.parent
_HERE: Final = Path(__file__).resolve().parent
_COMPILED: Final = (".so", ".pyd", ".dll")
_NOT_IN: Final = ("__pycache__", ".pyc")
_BUILD_ALONE: Final = (
    "browser/page/",
    "browser/standins/",
    "browser/inputs",
    "browser/build.py",
    "browser/__main__.py",
)


class BuiltPage(NamedTuple):
    """The finished page, and what tells it from another one."""

    data: bytes
    fingerprint: str


def built(inputs: Mapping[str, bytes], *, date: str, valid_for_days: int) -> BuiltPage:
    """The page out of its inputs (bytes by name), with its date (`2026-11-27`) and the days that it is good for."""
    application = _tree(inputs)
    sources = [(f"page/{name}", data) for name, data in _below(_HERE / "page")]
    fingerprint = _fingerprint([*application.items(), *inputs.items(), *sources])
    edition = f"{date} {fingerprint}"
    application["planner/build.txt"] = edition.encode()
    runtime, solver = _npm(inputs["pyodide"]), _npm(inputs["highs"])
    parts = {
        "runtime": runtime["pyodide.mjs"],
        "interpreter": runtime["pyodide.asm.mjs"],
        "interpreter-wasm": runtime["pyodide.asm.wasm"],
        "library": runtime["python_stdlib.zip"],
        "lock": json.dumps(json.loads(runtime["pyodide-lock.json"]) | {"packages": {}}).encode(),
        "solver": solver["build/highs.mjs"],
        "solver-wasm": solver["build/highs.wasm"],
        "program": _listed(application),
        "worker": _source("worker.js").encode(),
    }
    facts = {"version": __version__, "date": date, "fingerprint": fingerprint, "valid_for_days": valid_for_days}
    script, style = _source("page.js"), _source("page.css")
    text = _filled(
        _source("page.html"),
        {
            "security": _security(script, style),
            "style": style,
            "script": script,
            "facts": json.dumps(facts),
            "edition": html.escape(f"{__version__}, {date}, {fingerprint}"),
            "licences": _licences(inputs, solver),
            "parts": "\n".join(
                f'<script type="text/plain" id="part-{name}">{_packed(data)}</script>' for name, data in parts.items()
            ),
        },
    )
    return BuiltPage(text.encode("utf-8"), fingerprint)


def unpacked(inputs: Mapping[str, bytes], folder: Path, edition: str) -> None:
    """The program as it lies in the page, with the libraries of the page, in a folder: what tests hold it against."""
    for name, data in {**_tree(inputs), "planner/build.txt": edition.encode()}.items():
        if name.split("/")[0] in {"highspy.py", "rpds.py", "PIL"}:
            continue  # stand-ins for what only a browser lacks
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)


def _tree(inputs: Mapping[str, bytes]) -> dict[str, bytes]:
    """Every file of the program, the libraries and the stand-ins, by its path where Python looks for it."""
    files = {f"planner/{name}": data for name, data in _below(_PACKAGE) if not name.startswith(_BUILD_ALONE)}
    for one in locked():
        if one.source == "wheel":
            files |= _wheel(inputs[one.name])
    return files | dict(_below(_HERE / "standins"))


def _below(folder: Path) -> Iterable[tuple[str, bytes]]:
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.is_file() and not any(mark in name for mark in _NOT_IN) and name != "build.txt":
            yield name, path.read_bytes()


def _wheel(data: bytes) -> dict[str, bytes]:
    """What a wheel holds, but for what is compiled for one machine: the libraries do without that."""
    with zipfile.ZipFile(io.BytesIO(data)) as wheel:
        return {name: wheel.read(name) for name in wheel.namelist() if not name.endswith(("/", *_COMPILED))}


def _npm(data: bytes) -> dict[str, bytes]:
    with tarfile.open(fileobj=io.BytesIO(data), mode="r:gz") as archive:
        members = ((member, archive.extractfile(member)) for member in archive.getmembers() if member.isfile())
        return {member.name.removeprefix("package/"): file.read() for member, file in members if file is not None}


def _listed(files: Mapping[str, bytes]) -> bytes:
    """All files one after another, behind a line of JSON that lists name and length of each, in order of the names."""
    names = sorted(files)
    return b"".join(
        [json.dumps([[name, len(files[name])] for name in names]).encode(), b"\n", *(files[name] for name in names)]
    )


def _packed(data: bytes) -> str:
    return base64.b64encode(gzip.compress(data, 9, mtime=0)).decode()


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _security(script: str, style: str) -> str:
    """What the page may do: run its own script and style, start a worker from its own parts, and connect to nothing."""
    return (
        f"default-src 'none'; script-src {_hash(script)} blob: 'wasm-unsafe-eval'; style-src {_hash(style)}; "
        "worker-src blob:; frame-src blob:; img-src data:; connect-src 'none'; form-action 'none'; base-uri 'none'"
    )


def _fingerprint(files: Iterable[tuple[str, bytes]]) -> str:
    total = hashlib.sha256()
    for name, data in sorted(files):
        total.update(f"{name}\0{hashlib.sha256(data).hexdigest()}\n".encode())
    return total.hexdigest()[:12]


def _source(name: str) -> str:
    return (_HERE / "page" / name).read_text(encoding="utf-8").replace("\r\n", "\n")


def _filled(template: str, texts: Mapping[str, str]) -> str:
    for name, text in texts.items():
        mark = f"<!--{name}-->" if f"<!--{name}-->" in template else f"/*{name}*/"
        if template.count(mark) != 1:
            raise ValueError(f"the page's source has no place, or several, for {name}")
        template = template.replace(mark, text)
    return template


def _licences(inputs: Mapping[str, bytes], solver: Mapping[str, bytes]) -> str:
    """A line for each input, and the licence texts that came with them."""
    own = (_PACKAGE.parent / "LICENSE", _PACKAGE / "fonts" / "LICENSE.txt")
    parts = [_licence("This program and its fonts", "", [path.read_text("utf-8") for path in own if path.exists()])]
    for one in locked():
        texts = [solver["LICENSE"].decode()] if one.name == "highs" else []
        if one.source == "wheel":
            texts = [
                data.decode("utf-8", "replace")
                for name, data in _wheel(inputs[one.name]).items()
                if ".dist-info/" in name and any(word in name.casefold() for word in ("licen", "copying", "notice"))
            ]
        parts.append(_licence(f"{one.name} {one.version}", f": {one.what}; {one.licence}", texts))
    return "\n".join(parts)


def _licence(title: str, line: str, texts: Iterable[str]) -> str:
    body = "".join(f"<pre>{html.escape(text.strip())}</pre>" for text in texts)
    return f"<details><summary>{html.escape(title)}{html.escape(line)}</summary>{body}</details>"
