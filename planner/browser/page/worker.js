// The worker: starts the interpreter from the parts that the page hands over, and runs one request after another.
// No arithmetic and no rounding here: every figure is the program's own text.
const texts = new Map();

async function unpacked(text) {
  const letters = atob(text);
  const bytes = new Uint8Array(letters.length);
  for (let index = 0; index < letters.length; index += 1) bytes[index] = letters.charCodeAt(index);
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

async function module(name) {
  const address = URL.createObjectURL(new Blob([await unpacked(texts.get(name))], { type: "text/javascript" }));
  return import(address);
}

const served = {
  "pyodide.asm.wasm": ["interpreter-wasm", "application/wasm"],
  "python_stdlib.zip": ["library", "application/zip"],
  "highs.wasm": ["solver-wasm", "application/wasm"],
};

// The interpreter asks for its parts by address. They come out of this file; any other address is refused.
self.fetch = async (address) => {
  const found = served[String(address.url ?? address).split("/").pop()];
  if (!found) throw new TypeError("nothing is fetched: this page makes no connection");
  return new Response(await unpacked(texts.get(found[0])), { headers: { "content-type": found[1] } });
};

// The interpreter tries this to find out what kind of worker it is in; it imports modules, as this worker can.
self.importScripts = () => { throw new TypeError("no scripts are loaded: this page makes no connection"); };

// A line of JSON lists name and length of every file; the files follow one after another.
function laidOut(data, top) {
  const end = data.indexOf(10);
  const made = new Set();
  let at = end + 1;
  for (const [name, length] of JSON.parse(new TextDecoder().decode(data.subarray(0, end)))) {
    const path = `${top}/${name}`;
    const folder = path.slice(0, path.lastIndexOf("/"));
    if (!made.has(folder)) interpreter.FS.mkdirTree(folder);
    made.add(folder);
    interpreter.FS.writeFile(path, data.subarray(at, at + length));
    at += length;
  }
}

let interpreter;
let desk;
let solver;

async function start() {
  const { loadPyodide } = await module("runtime");
  const { default: createPyodideModule } = await module("interpreter");
  interpreter = await loadPyodide({
    indexURL: "https://inside.invalid/",
    lockFileContents: new TextDecoder().decode(await unpacked(texts.get("lock"))),
    createPyodideModule,
    env: { HOME: "/home", PYTHONINSPECT: "" },
  });
  laidOut(await unpacked(texts.get("program")), "/program");
  interpreter.runPython("import sys; sys.path.insert(0, '/program'); sys.dont_write_bytecode = True");
  desk = interpreter.pyimport("planner.browser.desk");
}

// The solver is needed where a trip chooses from a store, and is started then.
async function withSolver(files) {
  if (solver || !Object.values(files).some((data) => new TextDecoder().decode(data).includes("store"))) return;
  const { default: make } = await module("solver");
  solver = await make({ locateFile: (name) => `https://inside.invalid/${name}` });
  self.solver = solver;
}

async function answered(request) {
  const given = interpreter.toPy(request.files ?? {});
  try {
    if (request.what === "ask") {
      const said = desk.ask(request.answers);
      return said.toJs({ dict_converter: Object.fromEntries });
    }
    await withSolver(request.files ?? {});
    const done = desk.run(request.words, given, request.issued_s);
    return done.toJs({ dict_converter: Object.fromEntries });
  } finally {
    given.destroy?.();
  }
}

let queue = Promise.resolve();
self.onmessage = ({ data }) => {
  queue = queue.then(async () => {
    try {
      if (data.what === "start") {
        for (const [name, text] of Object.entries(data.parts)) texts.set(name, text);
        await start();
        self.postMessage({ number: data.number, done: {} });
      } else {
        self.postMessage({ number: data.number, done: await answered(data) });
      }
    } catch (error) {
      self.postMessage({ number: data.number, failed: String(error?.message ?? error) });
    }
  });
};
