"""The page in a browser: the same figures and pages as the command, no connection, and every part by keyboard."""

from __future__ import annotations

import hashlib
import json
import os
import random
import re
import shutil
import subprocess
import sys
import tarfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from planner.pages.request import request_bytes
from tests.browser import driven
from tests.browser.driven import ROOT, Made
from tests.browser.firefox import second
from tests.fuzz import hostile, hostile_forms
from tests.request.filling import by_pdfium
from tests.request.test_request import WARD

SHIPPED = sorted((ROOT / "profiles").glob("*.yaml"))
DEMO = sorted((ROOT / "demo").glob("*.yaml"))
GOOD = sorted(path for path in (ROOT / "tests/profiles/good").glob("*.yaml") if ".figures" not in path.name)
BAD = sorted(path for path in (ROOT / "tests/profiles/bad").glob("*.yaml"))
BESIDE = {
    path.name: path.read_bytes()
    for folder in ("profiles/policies", "profiles/stores", "profiles/own-lines", "tests/profiles/good/parts")
    for path in sorted((ROOT / folder).glob("*"))
    if path.is_file()
}
"""What profiles name: a page is given these files too."""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    own = tmp_path_factory.getbasetemp()
    return driven.made((own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "page-for-all")


@pytest.fixture(scope="module")
def shared(made: Made) -> Iterator[webdriver.Chrome]:
    driver = driven.browser()
    driven.opened(driver, made.page)
    yield driver
    driver.quit()


@pytest.fixture
def page(shared: webdriver.Chrome) -> webdriver.Chrome:
    """The page as it stands when it is opened, without starting the interpreter again."""
    shared.execute_script(
        """files.clear(); current = ""; saved = true; readings = null; answers = []; part("trip");
        verdict("No trip yet"); problems([]); hidePages(); show($("summary"), "");
        $("editor").hidden = $("questions").hidden = true;
        $("start").hidden = false; fileLists();"""
    )
    return shared


def put(driver: webdriver.Chrome, files: dict[str, bytes]) -> None:
    """Drops files on the page."""
    driver.execute_script(
        """const held = new DataTransfer();
        for (const [name, text] of Object.entries(arguments[0])) {
          held.items.add(new File([Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0))], name));
        }
        document.dispatchEvent(new DragEvent("drop", { dataTransfer: held, cancelable: true }));""",
        driven.packed(files),
    )


def word(driver: webdriver.Chrome) -> str:
    driven.wait(
        driver, "!['No trip yet', 'NOT PLANNED YET', ''].includes(document.querySelector('#verdict .word').textContent)"
    )
    return driver.find_element(By.CSS_SELECTOR, "#verdict .word").text


def test_the_same_figures_and_pages_as_outside_a_browser(
    shared: webdriver.Chrome, made: Made, pytestconfig: pytest.Config
) -> None:
    """Byte for byte: what is printed, JSON, tables and pages; the shipped trips and demo, good and bad profiles."""
    every = pytestconfig.getoption("long")
    few = [*SHIPPED[::4], *DEMO[:1], *GOOD[::40], *BAD[::40]]
    asked = []
    for path in [*SHIPPED, *DEMO, *GOOD, *BAD] if every else few:
        words = ["plan", path.name, "--output", "pages", "--format", "text,json,csv,pdf", "--paper", "letter"]
        asked.append((words, {**BESIDE, path.name: path.read_bytes()}))
    outside = driven.outside(made.program, asked)
    other = [
        words[1]
        for (words, files), here in zip(asked, outside, strict=True)
        if driven.run(shared, words, files) != here
    ]
    assert other == []
    assert {here["code"] for here in outside} >= {0, 1, 3}


def test_a_second_browser_says_the_same(made: Made, tmp_path: Path, pytestconfig: pytest.Config) -> None:
    """Another maker's browser: JSON, text and pages byte for byte, of every profile."""
    if not pytestconfig.getoption("long"):
        pytest.skip("a browser more, with --long")
    asked = []
    for path in [*SHIPPED, *DEMO, *GOOD, *BAD]:
        words = ["plan", path.name, "--output", "pages", "--format", "text,json,pdf"]
        asked.append((words, {**BESIDE, path.name: path.read_bytes()}))
    other = []
    with second(tmp_path / "own") as browser:
        browser.open(made.page)
        until = time.monotonic() + driven.READY_S
        while (state := browser.value("state.textContent")).startswith("Starting") and time.monotonic() < until:
            time.sleep(0.1)
        assert state == "Ready."
        for (words, files), here in zip(asked, driven.outside(made.program, asked), strict=True):
            call = driven.RUN % json.dumps([words, driven.packed(files), driven.ISSUED_S])
            if driven.ran(json.loads(browser.value(call))) != here:
                other.append(words[1])
    assert other == []


def verbs() -> list[tuple[list[str], dict[str, bytes]]]:
    """A command line of every verb that a page has a use for, with its files."""
    ward = (ROOT / "profiles/ward-to-scan.yaml").read_bytes()
    road = (ROOT / "profiles/ventilated-by-road.yaml").read_bytes()
    read = (ROOT / "profiles/readings/ward-to-scan.yaml").read_bytes()
    table = (ROOT / "profiles/readings/ventilated-by-road.csv").read_bytes()
    return [
        (["lasts", "--size", "US-E", "--gauge", "1900 psi", "--flow", "4 L/min", "--at", "12:00"], {}),
        (
            [
                "measured-flow",
                "--size",
                "US-E",
                "--from-gauge",
                "1900 psi",
                "--to-gauge",
                "1500 psi",
                "--minutes",
                "9 min",
            ],
            {},
        ),
        (["check", "ward.yaml"], {"ward.yaml": ward}),
        (["compare", "ward.yaml", "read.yaml", "--format", "text,json"], {"ward.yaml": ward, "read.yaml": read}),
        (["compare", "road.yaml", "read.csv"], {**BESIDE, "road.yaml": road, "read.csv": table}),
        (["shift", "ward.yaml", "road.yaml", "--output", "pages"], {**BESIDE, "ward.yaml": ward, "road.yaml": road}),
        (["review", "history.jsonl"], {"history.jsonl": (ROOT / "demo/history.jsonl").read_bytes()[:200_000]}),
        (["catalog"], {}),
        (["schema"], {}),
        (["new", "--from", "ward.yaml", "--set", "trip=Back again", "--output", "again.yaml"], {"ward.yaml": ward}),
        (["plan", "--help"], {}),
    ]


def test_every_verb_says_the_same(shared: webdriver.Chrome, made: Made) -> None:
    asked = verbs()
    for (words, files), here in zip(asked, driven.outside(made.program, asked), strict=True):
        assert driven.run(shared, words, files) == here, words


def test_a_filled_in_form_is_read(shared: webdriver.Chrome, made: Made) -> None:
    """The form of the pack, a gauge put in by a general library, read by the page."""
    from io import BytesIO

    from pypdf import PdfReader, PdfWriter

    ward = (ROOT / "profiles/ward-to-scan.yaml").read_bytes()
    words = ["plan", "ward.yaml", "--fillable", "--format", "pdf", "--output", "pages"]
    pack = driven.run(shared, words, {"ward.yaml": ward})["files"]["pages/ward.pdf"]
    writer = PdfWriter(clone_from=PdfReader(BytesIO(pack)))
    fields = writer.get_fields() or {}
    gauges = [name for name in fields if "gauge" in name]
    assert gauges
    for sheet in writer.pages:
        writer.update_page_form_field_values(sheet, {gauges[0]: "1400 psi"})
    out = BytesIO()
    writer.write(out)
    asked = [(["compare", "ward.yaml", "form.pdf"], {"ward.yaml": ward, "form.pdf": out.getvalue()})]
    assert driven.run(shared, *asked[0]) == driven.outside(made.program, asked)[0]


def test_a_request_form_that_is_dropped_is_planned_and_becomes_a_profile(page: webdriver.Chrome, made: Made) -> None:
    """The ward's form, typed in by the engine of a browser."""
    form = by_pdfium(request_bytes("psi"), WARD)
    asked = (["plan", "ward.pdf", "--format", "text,json"], {"ward.pdf": form})
    (outside,) = driven.outside(made.program, [asked])
    assert driven.run(page, *asked) == outside
    put(page, {"ward.pdf": form})
    assert word(page) == {0: "GO", 3: "NO-GO"}[outside["code"]]
    assert page.find_element(By.ID, "summary").get_property("textContent") == outside["err"]
    page.find_element(By.ID, "write").click()
    driven.wait(page, "current === 'ward.yaml' && summary.textContent !== ''")
    assert "contents: 680 L at 2015 psi" in page.execute_script("return profile.value")


def test_a_faulty_form_comes_back_with_its_faults_beside_the_boxes(page: webdriver.Chrome) -> None:
    put(page, {"ward.pdf": by_pdfium(request_bytes("psi"), {**WARD, "leg.1.minutes": "soon"})})
    assert word(page) == "NOT PLANNED"
    driven.wait(page, "document.querySelector('#problems button') !== null")
    (problem,) = page.find_elements(By.CSS_SELECTOR, "#problems button")
    assert "page 1, leg 1: Minutes" in problem.text
    assert not page.find_element(By.ID, "profile").is_displayed()  # a form has no lines to type in
    link = page.find_element(By.ID, "save-marked")
    assert link.is_displayed()
    assert link.get_attribute("download") == "ward-to-mend.pdf"


def test_hostile_profiles_do_what_they_do_outside(
    shared: webdriver.Chrome, made: Made, pytestconfig: pytest.Config
) -> None:
    names = list(hostile.SAMPLES) if pytestconfig.getoption("long") else ["alias bomb", "not UTF-8 at the end"]
    asked = [(["check", hostile.TRIP], hostile.SAMPLES[name]()) for name in names]
    outside = driven.outside(made.program, asked)
    other = [
        name
        for name, (words, files), here in zip(names, asked, outside, strict=True)
        if driven.run(shared, words, files) != here
    ]
    assert other == []
    assert {here["code"] for here in outside} <= {0, 1}


def test_hostile_forms_give_a_word_or_are_stopped_and_the_next_is_answered(
    page: webdriver.Chrome, pytestconfig: pytest.Config
) -> None:
    """Outside the browser such a form is read in a process with limits; here the worker is what can be ended."""
    ward = (ROOT / "profiles/ward-to-scan.yaml").read_bytes()
    every = list(hostile_forms.SAMPLES)
    for name in every if pytestconfig.getoption("long") else ["zeros", "deep lists", "nested filters"]:
        for words in (["plan", "form.pdf"], ["compare", "ward.yaml", "form.pdf"]):
            files = {"ward.yaml": ward, "form.pdf": hostile_forms.SAMPLES[name]()}
            said = driven.said(page, words, files)
            assert said.get("code") == 1 or said["failed"], name
            assert "Traceback" not in str(said), name
            driven.wait(page, "document.documentElement.dataset.ready === 'yes'")
    assert driven.run(page, ["lasts", "--help"], {})["code"] == 0


def test_a_program_that_ends_is_started_again(page: webdriver.Chrome, pytestconfig: pytest.Config) -> None:
    """The interpreter gives up (out of memory, say): that question fails in words, and the next is answered."""
    if not pytestconfig.getoption("long"):
        pytest.skip("a start more, with --long")
    said = page.execute_async_script(
        "const done = arguments[0]; asked({what: 'run', words: 5, files: {}}).then(() => done('answered'),"
        " (error) => done(error.message));"
    )
    assert "int" in said
    driven.wait(page, "document.documentElement.dataset.ready === 'yes' && waiting.size === 0")
    assert driven.run(page, ["lasts", "--help"], {})["code"] == 0


def test_changed_trips_give_the_same(shared: webdriver.Chrome, made: Made, pytestconfig: pytest.Config) -> None:
    """Shipped profiles with one to three of their numbers changed at random: good, bad and no-go alike."""
    draw = random.Random(4_000)  # noqa: S311 - changes for a test
    asked = []
    for _ in range(480 if pytestconfig.getoption("long") else 5):
        path = draw.choice(SHIPPED)
        text = path.read_text()
        for _ in range(draw.randint(1, 3)):
            found = draw.choice(list(re.finditer(r"(?<=[ :{,])[0-9]+(?:\.[0-9]+)?(?=[ %,}\n])", text)))
            text = text[: found.start()] + str(draw.choice([0, 1, 2, 7, 15, 60, 450, 1900])) + text[found.end() :]
        asked.append(
            (["plan", path.name, "--output", "p", "--format", "text,json,pdf"], {**BESIDE, path.name: text.encode()})
        )
    outside = driven.outside(made.program, asked)
    other = [
        files[words[1]]
        for (words, files), here in zip(asked, outside, strict=True)
        if driven.run(shared, words, files) != here
    ]
    assert other == []


def test_a_no_go_says_so_first_and_why(page: webdriver.Chrome) -> None:
    path = next(path for path in SHIPPED if path.stem == "high-flow-on-e-cylinders")
    put(page, {**BESIDE, path.name: path.read_bytes()})
    assert word(page) == "NO-GO"
    summary = page.find_element(By.ID, "summary").text
    assert summary.startswith("NO-GO")
    box = page.find_element(By.ID, "verdict")
    assert (box.get_attribute("role"), box.get_attribute("aria-live")) == ("status", "polite")


def test_nothing_said_of_a_trip_stays_when_the_trip_changes(page: webdriver.Chrome) -> None:
    """A GO of the trip before, beside the one that is typed now, would be taken for its own."""
    path = ROOT / "profiles/ward-to-scan.yaml"
    put(page, {path.name: path.read_bytes()})
    assert word(page) == "GO"
    # Its one cylinder lost stands in the plan in words, and is no caution above it: it would always be there.
    assert page.find_elements(By.CSS_SELECTOR, "#findings li") == []
    page.find_element(By.ID, "make").click()
    driven.wait(page, "!document.getElementById('save-pages').hidden")
    at_once = page.execute_script(
        """profile.value = profile.value.replace("1500 psi", "150 psi"); profile.dispatchEvent(new Event("input"));
        return [document.querySelector("#verdict .word").textContent, summary.textContent, pages.hidden,
          document.getElementById("save-pages").hidden, findings.children.length];"""
    )
    assert at_once == ["NOT PLANNED YET", "", True, True, 0]
    assert word(page) == "NO-GO"


def test_nothing_said_of_a_trip_stays_above_the_questions_for_another(page: webdriver.Chrome) -> None:
    path = ROOT / "profiles/ward-to-scan.yaml"
    put(page, {path.name: path.read_bytes()})
    assert word(page) == "GO"
    page.find_element(By.ID, "ask").click()
    driven.wait(page, "!questions.hidden")
    assert page.find_element(By.CSS_SELECTOR, "#verdict .word").text == "No trip yet"
    assert not page.find_element(By.ID, "summary").is_displayed()
    page.find_element(By.ID, "leave").click()
    assert word(page) == "GO"


def test_an_answer_goes_when_what_was_typed_changes(page: webdriver.Chrome) -> None:
    page.execute_script("part('gauge')")
    form = page.find_element(By.CSS_SELECTOR, "form[data-verb=lasts]")
    for name, text in (("size", "US-E"), ("gauge", "1900 psi"), ("flow", "4 L/min")):
        form.find_element(By.NAME, name).send_keys(text)
    form.find_element(By.TAG_NAME, "button").click()
    driven.wait(page, "document.querySelector('form[data-verb=lasts] pre').textContent.includes('min')")
    form.find_element(By.NAME, "flow").send_keys("0")
    assert form.find_element(By.TAG_NAME, "pre").get_property("textContent") == ""


def test_a_problem_that_lines_share_is_marked_beside_each(page: webdriver.Chrome) -> None:
    text = (ROOT / "profiles/ward-to-scan.yaml").read_text()
    put(page, {"ward.yaml": text.replace("duration:", "lasts:").encode()})
    assert word(page) == "NOT PLANNED"
    at = [number for number, line in enumerate(text.splitlines(), 1) if "duration:" in line]
    assert len(at) > 1
    gutter = page.find_element(By.ID, "gutter").get_property("textContent")
    assert [line[1:] for line in str(gutter).splitlines() if line.startswith(">")] == [str(each) for each in at]


def test_a_go_by_a_reading_that_is_too_old_is_not_valid_yet(page: webdriver.Chrome) -> None:
    """Read at 07:00 on the day before, and a reading counts for 12 h."""
    text = """\
profile: 1
trip: Old gauge
setting: in_house
departs: 2026-11-27 15:00
supplies: {cart: {cylinders: [{label: A, size: US-E, gauge: 2000 psi, checked: 2026-11-26 07:00}]}}
devices: {mask: {type: simple_mask, flow: 6 L/min}}
legs: [{name: Ward, duration: 20 min, supply: cart, devices: [mask]}]
"""
    put(page, {"old.yaml": text.encode()})
    assert word(page) == "GO: NOT VALID YET"
    box = page.find_element(By.ID, "verdict")
    assert "NOT VALID UNTIL A IS READ AGAIN" in box.text
    assert box.get_attribute("class") == "stop"
    put(page, {"new.yaml": text.replace("2026-11-26", "2026-11-27").encode()})
    assert word(page) == "GO"


def test_a_problem_stands_beside_its_line(page: webdriver.Chrome) -> None:
    """A flow without a unit on line 6 of this profile: the message names the line, and pressing it goes there."""
    text = (ROOT / "profiles/ward-to-scan.yaml").read_text()
    at = next(number for number, line in enumerate(text.splitlines(), 1) if "flow: 4 L/min" in line)
    put(page, {"ward.yaml": text.replace("flow: 4 L/min", "flow: 4").encode()})
    assert word(page) == "NOT PLANNED"
    driven.wait(page, "document.querySelector('#problems button') !== null")
    button = page.find_element(By.CSS_SELECTOR, "#problems button")
    assert button.text.startswith(f"ward.yaml:{at}:")
    assert f">{at}" in page.find_element(By.ID, "gutter").text
    button.click()
    line = page.execute_script(
        "const t = document.activeElement; return t.value.slice(0, t.selectionStart).split('\\n').length"
    )
    assert line == at
    page.execute_script(
        "profile.value = profile.value.replace(/flow: 4$/m, 'flow: 4 L/min').replace(/flow: 4(?=[ ,}])(?! L)/g, "
        "'flow: 4 L/min'); profile.dispatchEvent(new Event('input'))"
    )
    driven.wait(page, "document.querySelector('#verdict .word').textContent === 'GO'")


def test_pages_are_made_shown_and_saved(page: webdriver.Chrome) -> None:
    path = ROOT / "profiles/ward-to-scan.yaml"
    put(page, {path.name: path.read_bytes()})
    assert word(page) == "GO"
    page.find_element(By.ID, "make").click()
    driven.wait(page, "!document.getElementById('save-pages').hidden")
    link = page.find_element(By.ID, "save-pages")
    assert link.get_attribute("download") == "ward-to-scan.pdf"
    assert (link.get_attribute("href") or "").startswith("blob:")
    assert page.find_element(By.ID, "pack").get_attribute("src") == link.get_attribute("href")


def test_readings_typed_as_on_the_log_are_held_against_the_plan(page: webdriver.Chrome, made: Made) -> None:
    """What is said is what the command says of the same file of readings; a slip is told in lines that wrap."""
    path = ROOT / "profiles/ward-to-scan.yaml"
    put(page, {path.name: path.read_bytes()})
    assert word(page) == "GO"
    page.execute_script("part('after')")
    rows = page.find_elements(By.CSS_SELECTOR, "#readings tr")
    for row, texts in zip(rows, (("0 min", "A", "1500 psi", ""), ("12 min", "A", "1100 psi", "2")), strict=False):
        for field, text in zip(row.find_elements(By.TAG_NAME, "input"), texts, strict=True):
            field.send_keys(text)
    send = page.find_element(By.CSS_SELECTOR, "#readings-form button[type=submit]")
    send.click()
    driven.wait(page, "!['', 'Working.'].includes(document.querySelector('#readings-form pre').textContent)")
    told = page.find_element(By.CSS_SELECTOR, "#readings-form pre")
    readings = b"""# What the crew read on the way: readings, format 1.
readings: 1
log:
  - {time: "0 min", cylinder: "A", gauge: "1500 psi"}
  - {time: "12 min", cylinder: "A", gauge: "1100 psi", leg: 2}
"""
    files = {path.name: path.read_bytes(), "readings.yaml": readings}
    (outside,) = driven.outside(made.program, [(["compare", path.name, "readings.yaml"], files)])
    assert (
        str(told.get_property("textContent")).strip()
        == "\n".join(text for text in (outside["out"], outside["err"]) if text.strip()).strip()
    )
    rows[1].find_elements(By.TAG_NAME, "input")[0].send_keys(Keys.BACKSPACE * 4)
    assert told.get_property("textContent") == ""
    send.click()
    driven.wait(page, "document.querySelector('#readings-form pre').className === 'lines'")
    assert "without a unit" in told.text


def test_the_questions_by_keyboard_alone(page: webdriver.Chrome) -> None:
    """A trip inside the hospital, typed and sent with Enter: the profile that comes out is a go."""
    page.execute_script("ask.focus()")
    page.switch_to.active_element.send_keys(Keys.ENTER)
    answers = ["1", "Ward to scan", "cannula 4 L/min", "", "", "", "US-E 1500 psi", "", "", "", "", "", "", ""]
    for number, answer in enumerate(answers):
        driven.wait(page, "!questions.hidden && !answer.disabled || !editor.hidden")
        if page.find_element(By.ID, "editor").is_displayed():
            break
        field = page.switch_to.active_element
        assert field.get_attribute("id") == "answer", number
        field.send_keys(Keys.CONTROL, "a")
        field.send_keys(answer or field.get_attribute("value") or "7 min", Keys.ENTER)
        driven.wait(page, "!asking")
    assert page.find_element(By.ID, "editor").is_displayed()
    assert word(page) in {"GO", "NO-GO"}


def test_names_are_text_wherever_they_stand(page: webdriver.Chrome) -> None:
    """A trip and a file whose names are tags: shown as typed, nothing runs."""
    evil = "<img src=x onerror=window.hit=1><script>window.hit=1</script>"
    text = (ROOT / "profiles/ward-to-scan.yaml").read_text().replace("trip: Ward to scan and back", f"trip: {evil!r}")
    put(page, {"<b>x.yaml": text.encode()})
    word(page)
    tags = page.execute_script("return document.querySelectorAll('main img, main b').length")
    assert (page.execute_script("return window.hit ?? 0"), tags) == (0, 0)


def test_what_takes_too_long_is_stopped_and_the_next_is_answered(
    page: webdriver.Chrome, pytestconfig: pytest.Config
) -> None:
    if not pytestconfig.getoption("long"):
        pytest.skip("a start more, with --long")
    said = page.execute_async_script(
        "const done = arguments[0]; asked({what: 'run', words: ['catalog'], files: {}}, 1).then(() => done('answered'),"
        " (error) => done(error.message));"
    )
    assert said == "it took too long and was stopped"
    driven.wait(page, "state.textContent === 'Ready.' && worker !== null && waiting.size === 0")
    assert driven.run(page, ["lasts", "--help"], {})["code"] == 0


def test_no_connection_is_tried(page: webdriver.Chrome) -> None:
    """The browser's own record of what went over its network while a trip was planned and printed."""
    path = ROOT / "profiles/ward-to-scan.yaml"
    put(page, {path.name: path.read_bytes()})
    assert word(page) == "GO"
    page.find_element(By.ID, "make").click()
    driven.wait(page, "!document.getElementById('save-pages').hidden")
    asked = []
    for entry in page.get_log("performance"):  # type: ignore[no-untyped-call]
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            asked.append(message["params"]["request"]["url"])
    assert asked
    assert [url for url in asked if not url.startswith(("file:", "blob:", "data:", "chrome-extension:"))] == []
    policy = page.find_element(By.CSS_SELECTOR, "meta[http-equiv]").get_attribute("content") or ""
    assert "connect-src 'none'" in policy
    refused = page.execute_async_script(
        "const done = arguments[0]; fetch('http://127.0.0.1:9/').then(() => done('went'), (e) => done(e.name));"
    )
    assert refused == "TypeError"


NETWORKLESS = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[1])
from planner.pages.request import request_bytes
from tests.browser import driven
driver = driven.browser()
driven.opened(driver, Path(sys.argv[2]))
print(driven.run(driver, ["lasts", "--size", "US-E", "--gauge", "1900 psi", "--flow", "4 L/min"], {})["code"])
driver.quit()
"""


def test_it_works_where_there_is_no_network(made: Made, pytestconfig: pytest.Config) -> None:
    """In an empty network namespace: a loopback for the driver, and nothing else."""
    if not pytestconfig.getoption("long"):
        pytest.skip("a start more, with --long; that no connection is tried is seen each time")
    inside = 'ip link set lo up && exec "$0" -c "$1" "$2" "$3"'
    command = [
        "/usr/bin/env",
        "unshare",
        "--net",
        "sh",
        "-c",
        inside,
        sys.executable,
        NETWORKLESS,
        str(ROOT),
        str(made.page),
    ]
    apart = shutil.which("unshare")
    if apart is None or subprocess.run([apart, "--net", "ip", "link"], capture_output=True, check=False).returncode:
        pytest.skip("this machine lets nobody make an empty network")
    driven.browser().quit()  # skips where there is none
    ran = subprocess.run(command, capture_output=True, text=True, check=False, timeout=180)
    assert ran.stdout.strip() == "0", ran.stderr[-2000:]


@pytest.mark.parametrize("width", [360, 800, 1440])
def test_nothing_is_wider_than_the_screen(page: webdriver.Chrome, width: int) -> None:
    page.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride", {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False}
    )
    path = ROOT / "profiles/ward-to-scan.yaml"
    put(page, {path.name: path.read_bytes()})
    assert word(page) == "GO"
    for part in ("trip", "gauge", "shift", "after", "about"):
        page.execute_script("part(arguments[0])", part)
        wide = page.execute_script("return document.documentElement.scrollWidth")
        assert wide <= width, part
    page.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def test_letters_are_large_enough(page: webdriver.Chrome) -> None:
    """13 pt is 17.3 px; the licences alone are smaller."""
    small: Any = page.execute_script(
        """const found = []; for (const each of document.querySelectorAll('header *, main *')) {
        if (each.closest('details') || !each.checkVisibility() || !each.textContent.trim()) continue;
        const px = parseFloat(getComputedStyle(each).fontSize);
        if (px < 17.3) found.push(each.tagName + '#' + each.id); } return found;"""
    )
    assert small == []


AXE = ("axe-core", "4.14.1", "e6b0ce02b84d892e2e33e403485e7f3d6c29e2be6df65daf44d89ba564139745")
"""A general checker of pages for people who use a keyboard or a screen reader; its rules follow WCAG 2."""


def checker() -> str:
    """The checker's script. Skips where its package cannot be had."""
    name, version, sha256 = AXE
    package = driven.INPUTS / f"{name}-{version}.tgz"
    client = shutil.which("npm")
    if not package.exists() and client is not None:
        command = [client, "pack", "--silent", "--ignore-scripts", f"{name}@{version}"]
        subprocess.run([*command, "--pack-destination", str(driven.INPUTS)], capture_output=True, check=False)
    if not package.exists():
        pytest.skip("the checker's package cannot be had here")
    assert hashlib.sha256(package.read_bytes()).hexdigest() == sha256
    with tarfile.open(package) as archive:
        found = archive.extractfile("package/axe.min.js")
        assert found is not None
        return found.read().decode()


def test_a_general_checker_finds_nothing_against_keyboard_or_screen_reader(page: webdriver.Chrome) -> None:
    """Every part of the page, with a trip that is a go, one that is a no-go, a faulty one, and a question."""
    page.execute_script(checker())
    found = {}
    look = "const done = arguments[0]; axe.run(document).then((all) => done(all.violations.map((one) => one.id)));"
    for name in ("ward-to-scan", "high-flow-on-e-cylinders"):
        put(page, {f"{name}.yaml": (ROOT / f"profiles/{name}.yaml").read_bytes()})
        driven.wait(page, f"current === '{name}.yaml' && document.getElementById('summary').textContent !== ''")
        found[name] = page.execute_async_script(look)
    put(page, {"faulty.yaml": b"profile: 1\ntrip: x\n"})
    driven.wait(page, "document.querySelector('#problems button') !== null")
    found["faulty"] = page.execute_async_script(look)
    page.execute_script("answers = []; question()")
    driven.wait(page, "!questions.hidden")
    found["question"] = page.execute_async_script(look)
    for part in ("gauge", "shift", "after", "about"):
        page.execute_script("part(arguments[0])", part)
        found[part] = page.execute_async_script(look)
    assert {name: faults for name, faults in found.items() if faults} == {}


def test_without_what_it_needs_it_says_so_in_one_sentence(made: Made) -> None:
    driver = driven.browser()
    try:
        driver.execute_cdp_cmd(
            "Page.addScriptToEvaluateOnNewDocument", {"source": "delete globalThis.DecompressionStream;"}
        )
        driver.get(made.page.as_uri())
        driven.wait(driver, "state.className === 'wrong'")
        said = driver.find_element(By.ID, "state").text
        assert "too old to unpack the page" in said
        assert "litres = flow x minutes" in said
    finally:
        driver.quit()


def test_an_old_page_says_that_it_is_old(made: Made, tmp_path: Path) -> None:
    old = tmp_path / "old.html"
    old.write_text(made.page.read_text().replace('"valid_for_days": 36500', '"valid_for_days": -1'))
    driver = driven.browser()
    try:
        driver.get(old.as_uri())
        assert "Ask for a new one" in driver.find_element(By.ID, "age").text
    finally:
        driver.quit()
