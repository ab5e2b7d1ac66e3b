"""The page in a real browser, driven through the automation protocol that browsers share (W3C WebDriver)."""

from __future__ import annotations

import base64
import fcntl
import json
import shutil
import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service

from planner.browser.build import built, unpacked
from planner.browser.inputs import InputsError, gathered

ROOT = Path(__file__).resolve().parents[2]
INPUTS = ROOT / ".venv" / "page-inputs"
DATE = "2026-11-27"
ISSUED_S = 1_796_000_000
"""A time of issue for both sides, so that pages can be held together byte for byte."""

QUIET = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
)
READY_S = 90
"""How long a test waits for the page: a limit against hanging, and no claim of speed."""


class Made(NamedTuple):
    """The page and the program that lies in it, for an interpreter outside the browser."""

    page: Path
    program: Path


def made(folder: Path) -> Made:
    """The page, built once for all processes of a run. Skips where its inputs cannot be had."""
    found = Made(folder / "page.html", folder / "program")
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not found.page.exists():
            try:
                inputs = gathered(INPUTS)
            except InputsError as error:
                pytest.skip(str(error))
            page = built(inputs, date=DATE, valid_for_days=36500)
            unpacked(inputs, found.program, f"{DATE} {page.fingerprint}")
            found.page.write_bytes(page.data)
    return found


def browser(width: int = 1440, height: int = 1000) -> webdriver.Chrome:
    """A browser without a window. Skips where none is installed."""
    program, driver = shutil.which("chromium"), shutil.which("chromedriver")
    if program is None or driver is None:
        pytest.skip("no browser with its driver is installed here (chromium and chromium-driver)")
    options = Options()
    for word in (*QUIET, f"--window-size={width},{height}"):
        options.add_argument(word)
    options.binary_location = program
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driven = webdriver.Chrome(options=options, service=Service(driver))
    driven.set_script_timeout(READY_S)
    return driven


def opened(driver: webdriver.Chrome, page: Path) -> None:
    """Opens the page from disk and waits until it is ready."""
    driver.get(page.as_uri())
    wait(driver, "document.documentElement.dataset.ready === 'yes' || state.className === 'wrong'")
    assert driver.execute_script("return state.textContent") == "Ready."


def wait(driver: webdriver.Chrome, condition: str) -> None:
    """Waits until a condition of the page holds."""
    script = "const done = arguments[0]; const look = () => (%s) ? done(true) : setTimeout(look, 20); look();"
    driver.execute_async_script(script % condition)


RUN = """
(([words, texts, issued]) => {
  const bytes = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const text = (data) => btoa(Array.from(data, (one) => String.fromCharCode(one)).join(""));
  const files = Object.fromEntries(Object.entries(texts).map(([name, each]) => [name, bytes(each)]));
  const texts_of = (made) => Object.fromEntries(Object.entries(made).map(([name, data]) => [name, text(data)]));
  return asked({ what: "run", words, files, issued_s: issued }).then(
    (ran) => ({ ...ran, files: texts_of(ran.files) }),
    (error) => ({ failed: String(error.message) })).then(JSON.stringify);
})(%s)
"""
"""What asks the page's worker for a verb, with bytes as base64."""


def packed(files: Mapping[str, bytes]) -> dict[str, str]:
    """Files as texts that pass through JSON."""
    return {name: base64.b64encode(data).decode() for name, data in files.items()}


def ran(told: dict[str, Any]) -> dict[str, Any]:
    """What a verb gave, its files as bytes again."""
    assert "failed" not in told, told["failed"]
    return {**told, "files": {name: base64.b64decode(text) for name, text in told["files"].items()}}


def said(driver: webdriver.Chrome, words: Sequence[str], files: Mapping[str, bytes]) -> dict[str, Any]:
    """What the page's worker gives, or `failed` with its reason; files as base64."""
    call = RUN % json.dumps([list(words), packed(files), ISSUED_S])
    answer = driver.execute_async_script(f"const done = arguments[0]; ({call.strip()}).then(done);")
    found: dict[str, Any] = json.loads(answer)
    return found


def run(driver: webdriver.Chrome, words: Sequence[str], files: Mapping[str, bytes]) -> dict[str, Any]:
    """What the page's worker gives for a verb: code, out, err, and the files written, as bytes."""
    return ran(said(driver, words, files))


OUTSIDE = """
import base64, json, sys
sys.path.insert(0, sys.argv[1])
from planner.browser.desk import run
for line in sys.stdin:
    words, texts, issued = json.loads(line)
    ran = run(words, {name: base64.b64decode(text) for name, text in texts.items()}, issued)
    ran["files"] = {name: base64.b64encode(data).decode() for name, data in ran["files"].items()}
    print(json.dumps(ran), flush=True)
"""


def outside(program: Path, asked: Sequence[tuple[Sequence[str], Mapping[str, bytes]]]) -> list[dict[str, Any]]:
    """The same verbs by the same program and libraries on this machine's own Python, without the browser."""
    lines = [json.dumps([list(words), packed(files), ISSUED_S]) for words, files in asked]
    command = [sys.executable, "-I", "-c", OUTSIDE, str(program)]
    done = subprocess.run(command, input="\n".join(lines), capture_output=True, text=True, check=True)
    return [ran(json.loads(line)) for line in done.stdout.splitlines()]
