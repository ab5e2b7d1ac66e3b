"""The line with which a profile names its schema to an editor: a comment that YAML language servers look for.

`transport-oxygen schema --write DIR` puts the schemas into a folder; a profile names the one in the folder `schema`
beside it or above it.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Final

BEGINS: Final = "# yaml-language-server: $schema="
FOLDER: Final = "schema"
_NAME: Final = "profile.schema.json"
_FOLDERS_UP: Final = 4


def editor_line(folder: Path) -> str:
    """The line for a profile of a folder: the schema found there or above, else where `schema --write` would put it."""
    here = folder.resolve()
    for above in (here, *here.parents)[: _FOLDERS_UP + 1]:
        schema = above / FOLDER / _NAME
        if schema.is_file():
            return BEGINS + os.path.relpath(schema, here).replace(os.sep, "/")
    return f"{BEGINS}{FOLDER}/{_NAME}"


def moved(text: str, folder: Path) -> str:
    """The text of a profile whose first line names a schema, as it stands in another folder."""
    first, end, rest = text.partition("\n")
    if not first.startswith(BEGINS):
        return text
    carriage_return = "\r" if first.endswith("\r") else ""
    return editor_line(folder) + carriage_return + end + rest
