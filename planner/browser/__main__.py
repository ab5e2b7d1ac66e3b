"""Builds the page: `python -m planner.browser --output output/transport-oxygen.html`."""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from planner.browser.build import built
from planner.browser.inputs import InputsError, gathered
from planner.files.output import OutputError, make_folder, write_bytes

VALID_FOR_DAYS = 180
"""Days after which the page says that it is old: by decision, half a year; a service may give another number."""


def main(words: list[str] | None = None) -> int:
    """Builds and writes the page; 0 written, 2 an input or the file could not be had."""
    asked = _arguments().parse_args(words)
    try:
        with tempfile.TemporaryDirectory() as own:
            inputs = gathered(asked.inputs or Path(own))
        page = built(inputs, date=_date(), valid_for_days=asked.valid_for_days)
        make_folder(asked.output.parent)
        write_bytes(asked.output, page.data)
    except (InputsError, OutputError) as error:
        sys.stderr.write(f"{error}\n")
        return 2
    sys.stderr.write(f"Written: {asked.output} ({page.fingerprint})\n")
    return 0


def _arguments() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m planner.browser", description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--output", type=Path, default=Path("output/transport-oxygen.html"), metavar="FILE")
    parser.add_argument(
        "--inputs", type=Path, metavar="DIR", help="a folder that has the inputs; what it lacks is fetched into it"
    )
    parser.add_argument(
        "--valid-for-days", type=int, default=VALID_FOR_DAYS, metavar="N", help="when the page begins to say it is old"
    )
    return parser


def _date() -> str:
    """Today, or the day of `SOURCE_DATE_EPOCH` for a page that is to come out the same later."""
    given = os.environ.get("SOURCE_DATE_EPOCH", "")
    return (datetime.fromtimestamp(int(given), UTC) if given.isdigit() else datetime.now(UTC)).date().isoformat()


if __name__ == "__main__":
    sys.exit(main())
