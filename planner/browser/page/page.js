"use strict";
// The page: hands what is typed or opened to the program in its worker, and shows what the program says.
// No arithmetic and no rounding here, and every text is put in as text.
const $ = (id) => document.getElementById(id);
const LONGEST_MS = 60000;
const facts = JSON.parse($("facts").textContent);
const files = new Map(); // everything that was opened or typed, by name; bytes
let current = "";
let saved = true;
let readings = null; // a file of readings that was opened, as [name, bytes]

// --- the worker -----------------------------------------------------------------------------------------------------

let worker = null;
let waiting = new Map();
let number = 0;

function say(text) { $("state").textContent = text; }

function sentence(reason) {
  return `This page cannot plan here: ${reason}. Use another browser, or the request form, or work it out by hand: ` +
    "litres = flow x minutes, with the reserve of your protocol.";
}

function missing() {
  if (typeof WebAssembly !== "object") return "this browser has WebAssembly switched off";
  if (typeof DecompressionStream !== "function") return "this browser is too old to unpack the page";
  if (typeof Worker !== "function") return "this browser runs no workers";
  return "";
}

async function begin() {
  const reason = missing();
  if (reason) { say(sentence(reason)); $("state").className = "wrong"; return; }
  const parts = {};
  for (const part of document.querySelectorAll("script[id^=part-]")) parts[part.id.slice(5)] = part.textContent;
  try {
    const bytes = Uint8Array.from(atob(parts.worker), (letter) => letter.charCodeAt(0));
    const text = await new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"))).text();
    worker = new Worker(URL.createObjectURL(new Blob([text], { type: "text/javascript" })));
    worker.onmessage = ({ data }) => settle(data);
    worker.onerror = (event) => { event.preventDefault(); again(event.message || "its worker ended"); };
    await asked({ what: "start", parts });
    say("Ready.");
    document.documentElement.dataset.ready = "yes";
  } catch (error) {
    say(sentence(String(error.message ?? error)));
    $("state").className = "wrong";
  }
}

function settle(data) {
  const found = waiting.get(data.number);
  if (!found) return;
  waiting.delete(data.number);
  clearTimeout(found.timer);
  if (data.failed === undefined) { found.done(data.done); return; }
  found.fail(new Error(data.failed));
  if (ready()) again(data.failed); // a program that ended like this may not answer any more
}

function ready() { return document.documentElement.dataset.ready === "yes"; }

// Ends the worker; where it ran before, another one is started, so that the next question is answered.
function again(reason) {
  const ran = ready();
  end(reason);
  delete document.documentElement.dataset.ready;
  if (ran) { say("Starting again."); begin(); }
}

function end(reason) {
  worker?.terminate();
  worker = null;
  for (const found of waiting.values()) { clearTimeout(found.timer); found.fail(new Error(reason)); }
  waiting = new Map();
}

// Asks the worker; one that does not answer in time is stopped, and the next question starts another.
function asked(request, longest = LONGEST_MS) {
  return new Promise((done, fail) => {
    number += 1;
    if (!worker) { fail(new Error("the program is not running here")); return; }
    const timer = setTimeout(() => again("it took too long and was stopped"), longest);
    waiting.set(number, { done, fail, timer });
    worker.postMessage({ ...request, number });
  });
}

function run(words, more = {}, issued_s = undefined) {
  return asked({ what: "run", words, files: { ...Object.fromEntries(files), ...more }, issued_s });
}

// --- showing --------------------------------------------------------------------------------------------------------

function show(element, text) { element.textContent = text; element.hidden = !text; }

function link(anchor, name, bytes, type) {
  if (anchor.href) URL.revokeObjectURL(anchor.href);
  anchor.href = URL.createObjectURL(new Blob([bytes], { type }));
  anchor.download = name;
  anchor.hidden = false;
  return anchor.href;
}

const WORDS = { go: "GO", "no-go": "NO-GO", "go-by-decision": "GO BY DECISION" };

function verdict(word, lines = []) {
  const box = $("verdict");
  box.replaceChildren();
  box.className = word === "GO" ? "" : "stop";
  for (const [index, text] of [word, ...lines].entries()) {
    const line = document.createElement("p");
    if (index === 0) line.className = "word";
    line.textContent = text;
    box.append(line);
  }
}

function problems(lines) {
  const list = $("problems");
  list.replaceChildren();
  const marked = new Set();
  for (const line of lines) {
    const place = /^(.*?):(\d+):(\d+) {2}/.exec(line);
    const entry = document.createElement("li");
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = line;
    if (place && place[1] === current) {
      marked.add(Number(place[2]));
      const also = / Also at ([\d:, ]+)\.$/.exec(line);
      for (const [, other] of also ? also[1].matchAll(/(\d+):/g) : []) marked.add(Number(other));
      button.addEventListener("click", () => goTo(Number(place[2]), Number(place[3])));
    }
    entry.append(button);
    list.append(entry);
  }
  gutter(marked);
}

// Reasons and cautions as the program words them, the stops first. Its notes, and each what-if that fails and need not
// hold, stand in the plan in words: a caution that is always there is not read.
function remarks(findings) {
  const list = $("findings");
  list.replaceChildren();
  for (const { level, message, fix } of findings.filter((each) => each.level === "stop" || (each.level === "caution" && each.code !== "what_if_fails"))) {
    const entry = document.createElement("li");
    const kind = document.createElement("strong");
    kind.textContent = level === "stop" ? "Stop: " : "Caution: ";
    entry.append(kind, fix ? `${message} Fix: ${fix}` : message);
    list.append(entry);
  }
}

function gutter(marked = new Set()) {
  const count = $("profile").value.split("\n").length;
  $("gutter").textContent = Array.from({ length: count }, (_, index) => `${marked.has(index + 1) ? ">" : " "}${index + 1}`).join("\n");
  $("gutter").scrollTop = $("profile").scrollTop;
}

function goTo(line, column) {
  const text = $("profile");
  const before = text.value.split("\n").slice(0, line - 1).join("\n").length + (line > 1);
  text.focus();
  text.setSelectionRange(before + column - 1, before + column - 1);
}

// --- the trip -------------------------------------------------------------------------------------------------------

let timer = 0;
let round = 0;
const WORKING = "NOT PLANNED YET";

// What was said of the trip as it stood before says nothing of it as it stands now: it goes at once.
function unsaid(word = WORKING, lines = [current]) {
  round += 1;
  if ($("verdict").firstElementChild.textContent !== word) verdict(word, lines);
  hidePages();
  problems([]);
  remarks([]);
  show($("summary"), "");
}

function changed() {
  if (!current) return;
  unsaid();
  files.set(current, new TextEncoder().encode($("profile").value));
  saved = false;
  link($("save-profile"), current, files.get(current), "application/yaml");
  clearTimeout(timer);
  timer = setTimeout(plan, 400);
}

async function plan() {
  unsaid();
  const mine = round;
  const form = current.endsWith(".pdf");
  let done;
  try { done = await run(["plan", current, "--format", "text,json", ...(form ? ["--return", "--output", "pages"] : [])]); } catch (error) {
    if (mine === round) verdict("NOT PLANNED", [String(error.message)]);
    return;
  }
  if (mine !== round) return;
  if (done.out.trim()) {
    const result = JSON.parse(done.out);
    // A go by readings that are too old is none yet: the first line of the plan in words says so.
    const [notValid] = /NOT VALID UNTIL [^.]+ READ AGAIN/.exec(done.err.replace(/\s+/g, " ")) ?? [];
    const word = WORDS[result.verdict] ?? result.verdict;
    verdict(notValid ? `${word}: NOT VALID YET` : word, notValid ? [notValid, result.trip] : [result.trip]);
    remarks(result.findings);
    show($("summary"), done.err);
    $("pages").hidden = false;
    $("write").hidden = !form;
    return;
  }
  const marked = Object.keys(done.files).find((each) => each.endsWith(".pdf"));
  if (marked) link($("save-marked"), marked.split("/").pop(), done.files[marked], "application/pdf");
  const lines = done.err.split("\n").filter((line) => line && !line.startsWith("Written: "));
  verdict("NOT PLANNED", lines.slice(-1));
  problems(lines.slice(0, -1));
}

function hidePages() {
  $("pages").hidden = true;
  for (const id of ["pack", "save-pages", "print-pages", "save-marked", "write", "made"]) $(id).hidden = true;
}

// A request form that has no problems becomes a profile, which can be changed here.
async function writeProfile() {
  const name = current.replace(/\.pdf$/, ".yaml");
  const done = await run(["new", "--from", current, "--output", name]);
  if (!done.files[name]) { show($("made"), done.err); return; }
  files.set(name, done.files[name]);
  saved = false;
  openFile(name);
}

async function makePages() {
  const words = ["plan", current, "--format", "pdf", "--paper", $("paper").value, "--pages", $("which").value];
  if ($("fillable").checked) words.push("--fillable");
  words.push("--output", "pages");
  show($("made"), "Making the pages.");
  const done = await run(words);
  const name = Object.keys(done.files).find((each) => each.endsWith(".pdf"));
  if (!name) { show($("made"), done.err); return; }
  const address = link($("save-pages"), name.split("/").pop(), done.files[name], "application/pdf");
  $("pack").src = address;
  $("pack").hidden = false;
  $("print-pages").hidden = false;
  show($("made"), "The pages are made. Read them before they are used.");
}

async function opened(list) {
  for (const file of list) files.set(file.name, new Uint8Array(await file.arrayBuffer()));
  fileLists();
  const trip = [...list].map((file) => file.name).find(isTrip) ?? [...list][0]?.name;
  if (trip) openFile(trip);
}

function isTrip(name) {
  return name.endsWith(".pdf") || /^legs\s*:/m.test(new TextDecoder().decode(files.get(name)));
}

function openFile(name) {
  current = name;
  $("editor").hidden = false;
  $("questions").hidden = true;
  fileLists();
  const form = name.endsWith(".pdf");
  $("profile").value = form ? "" : new TextDecoder().decode(files.get(name));
  for (const each of document.querySelectorAll(".typed")) each.hidden = form;
  link($("save-profile"), name, files.get(name), "application/octet-stream");
  gutter();
  plan();
}

function options(select, names, chosen, first) {
  select.replaceChildren();
  for (const name of [...(first === undefined ? [] : [first]), ...names]) {
    const option = document.createElement("option");
    option.value = name === first ? "" : name;
    option.textContent = name;
    option.selected = name === chosen;
    select.append(option);
  }
}

function fileLists() {
  const names = [...files.keys()];
  options($("which-file"), names, current);
  options($("shift-store"), names.filter((name) => /^store\s*:/m.test(new TextDecoder().decode(files.get(name)))), "", "none");
  const box = $("shift-trips");
  const off = new Set([...box.querySelectorAll("input")].filter((each) => !each.checked).map((each) => each.value));
  box.querySelectorAll("label").forEach((each) => each.remove());
  for (const name of names.filter(isTrip)) {
    const label = document.createElement("label");
    const tick = document.createElement("input");
    tick.type = "checkbox";
    tick.value = name;
    tick.checked = !off.has(name);
    label.append(tick, ` ${name}`);
    box.append(label);
  }
}

// --- the questions --------------------------------------------------------------------------------------------------

let answers = [];
let now = null;
let asking = false;

async function question() {
  asking = true;
  const said = await asked({ what: "ask", answers }).finally(() => { asking = false; });
  $("remarks").replaceChildren(...said.remarks.map((text) => Object.assign(document.createElement("p"), { textContent: text })));
  show($("refused"), said.refused);
  answers = answers.slice(0, said.taken);
  if (said.profile !== undefined) {
    files.set(said.name, new TextEncoder().encode(said.profile));
    saved = false;
    openFile(said.name);
    $("profile").focus();
    return;
  }
  now = said;
  $("start").hidden = true;
  $("questions").hidden = false;
  $("question").textContent = said.text;
  $("options").replaceChildren(...said.options.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
  $("answer").value = said.refused ? $("answer").value : (said.default ?? "");
  $("help-text").textContent = "";
  $("answer").focus();
  $("answer").select();
}

// --- verbs with a form ----------------------------------------------------------------------------------------------

async function told(form, words, more) {
  const place = form.querySelector("pre");
  place.textContent = "Working.";
  try {
    const done = await run(words, more);
    place.textContent = [done.out, done.err].filter((text) => text.trim()).join("\n");
    place.className = done.code === 1 || done.code === 2 ? "lines" : ""; // problems, a long line each
    return done;
  } catch (error) {
    place.textContent = `Not worked out: ${error.message}.`;
    return null;
  }
}

function bedside(form) {
  const words = [form.dataset.verb];
  for (const field of form.querySelectorAll("input")) {
    if (field.value.trim()) words.push(`--${field.name}`, field.value.trim());
  }
  return told(form, words);
}

async function addUp(form) {
  const trips = [...form.querySelectorAll("#shift-trips input:checked")].map((each) => each.value);
  if (!trips.length) { form.querySelector("pre").textContent = "Open the profiles of the shift first."; return; }
  const words = ["shift", ...trips, "--output", "pages", "--format", "text,pdf"];
  if ($("shift-store").value) words.push("--store", $("shift-store").value);
  if ($("turnaround").value.trim()) words.push("--turnaround", $("turnaround").value.trim());
  if ($("refilled").checked) words.push("--refilled");
  const done = await told(form, words);
  const name = done && Object.keys(done.files).find((each) => each.endsWith(".pdf"));
  if (name) link($("save-shift"), "shift.pdf", done.files[name], "application/pdf");
}

const HEADS = ["time", "cylinder", "gauge", "leg"];

function row() {
  const line = document.createElement("tr");
  const labels = [...document.querySelectorAll("#readings-form th")].map((head) => head.textContent);
  for (const [index, name] of HEADS.entries()) {
    const field = document.createElement("input");
    field.name = name;
    field.setAttribute("aria-label", `${labels[index]}, row ${$("readings").rows.length + 1}`);
    const cell = document.createElement("td");
    cell.dataset.label = labels[index];
    cell.append(field);
    line.append(cell);
  }
  $("readings").append(line);
}

function quoted(text) { return JSON.stringify(text); }

function written() {
  const lines = ["# What the crew read on the way: readings, format 1.", "readings: 1", "log:"];
  for (const line of $("readings").rows) {
    const pairs = [...line.querySelectorAll("input")].filter((field) => field.value.trim())
      .map((field) => `${field.name}: ${field.name === "leg" ? field.value.trim() : quoted(field.value.trim())}`);
    if (pairs.length) lines.push(`  - {${pairs.join(", ")}}`);
  }
  return `${lines.join("\n")}\n`;
}

async function hold(form) {
  const place = form.querySelector("pre");
  if (!current) { place.textContent = "Open the trip first, under Trip."; return; }
  const [name, bytes] = readings ?? ["readings.yaml", new TextEncoder().encode(written())];
  await told(form, ["compare", current, name], { [name]: bytes });
  link($("save-readings"), name, bytes, "application/octet-stream");
}

// --- what is pressed ------------------------------------------------------------------------------------------------

function part(name) {
  for (const section of document.querySelectorAll("main > section")) section.hidden = section.id !== name;
  for (const button of document.querySelectorAll("nav button")) button.setAttribute("aria-pressed", String(button.dataset.part === name));
}

function age() {
  const days = Math.floor((Date.now() - Date.parse(facts.date)) / 86400000);
  if (days > facts.valid_for_days) {
    show($("age"), `This page was made on ${facts.date} and is older than the ${facts.valid_for_days} days that it is good for. Ask for a new one.`);
    $("age").className = "wrong";
  }
}

const submits = { "readings-form": hold, "shift-form": addUp };

document.querySelectorAll("nav button").forEach((button) => button.addEventListener("click", () => part(button.dataset.part)));
document.querySelectorAll("form").forEach((form) => form.addEventListener("submit", (event) => {
  event.preventDefault();
  if (form.dataset.verb) bedside(form);
  else if (form.id === "questions") { answers.push($("answer").value); question(); } else submits[form.id](form);
}));
// An answer belongs to what was typed when it was asked for.
document.querySelectorAll("form.card").forEach((form) => form.addEventListener("input", () => {
  form.querySelector("pre").textContent = "";
  for (const anchor of form.querySelectorAll("a[download]")) anchor.hidden = true;
}));
$("ask").addEventListener("click", () => {
  unsaid("No trip yet", []); // of the trip that was open nothing stays above the questions for another
  $("editor").hidden = true;
  answers = [];
  question();
});
$("back").addEventListener("click", () => { answers.pop(); question(); });
$("help").addEventListener("click", () => { $("help-text").textContent = now.help; });
$("leave").addEventListener("click", () => {
  $("questions").hidden = true;
  $("start").hidden = false;
  if (current) openFile(current);
});
for (const [id, work] of [["make", makePages], ["write", writeProfile]]) {
  $(id).addEventListener("click", () => work().catch((error) => show($("made"), `Not done: ${error.message}.`)));
}
$("print-pages").addEventListener("click", () => $("pack").contentWindow.print());
$("profile").addEventListener("input", () => { gutter(); changed(); });
$("profile").addEventListener("scroll", () => { $("gutter").scrollTop = $("profile").scrollTop; });
$("which-file").addEventListener("change", (event) => openFile(event.target.value));
$("save-profile").addEventListener("click", () => { saved = true; });
$("more").addEventListener("click", row);
for (const id of ["open", "open-shift"]) $(id).addEventListener("change", (event) => opened(event.target.files));
$("open-readings").addEventListener("change", async (event) => {
  const [file] = event.target.files;
  if (file) readings = [file.name, new Uint8Array(await file.arrayBuffer())];
});
document.addEventListener("dragover", (event) => event.preventDefault());
document.addEventListener("drop", (event) => { event.preventDefault(); opened(event.dataTransfer.files); });
window.addEventListener("beforeunload", (event) => { if (!saved) event.preventDefault(); });
for (let index = 0; index < 4; index += 1) row();
age();
begin();
