/* Python, beside the page: it runs the cells, hears the widgets, and keeps the reader's files. */
const FOLDER = "/home/pyodide/course";
let page, python, kernel, files, last = Promise.resolve();

const tell = (message) => self.postMessage(message);
const asked = (request) => new Promise((done, failed) => {
  request.onsuccess = () => done(request.result);
  request.onerror = () => failed(request.error);
});

/** The reader's own files, in the browser's storage. */
async function store(mode) {
  const opening = indexedDB.open("mechlogic", 1);
  opening.onupgradeneeded = () => opening.result.createObjectStore("files");
  return (await asked(opening)).transaction("files", mode, { durability: "strict" }).objectStore("files");
}

/** Keep what has changed; the other pages of the site are told which files. */
async function keep() {
  const changed = files.changed().toJs();
  if (!changed.length) return;
  const kept = await store("readwrite");
  const requests = changed.map(([path, bytes]) => asked(bytes ? kept.put(bytes, path) : kept.delete(path)));
  await Promise.all(requests);
  others.postMessage(changed.map(([path]) => path));
}

/** Take over what was kept: all of it, or some files that another page has changed. */
async function fetchKept(paths) {
  const kept = await store("readonly");
  const names = paths ?? await asked(kept.getAllKeys());
  const contents = await Promise.all(names.map((name) => asked(kept.get(name))));
  names.forEach((name, k) => contents[k] && files.put(name, python.toPy(contents[k])));
}

const others = new BroadcastChannel("mechlogic files");
others.onmessage = ({ data }) => inTurn(() => files && fetchKept(data));

async function packages() {
  const bytes = async (name) => new Uint8Array(await (await unpacked(page, name)).arrayBuffer());
  const zips = await Promise.all(["python.zip", ...page.zips].map(bytes));
  const extractDir = python.runPython("import site; site.getsitepackages()[0]");
  zips.forEach((zip) => python.unpackArchive(zip, "zip", { extractDir }));
  if (page.extras.length) await python.loadPackage(page.extras);
}

const jobs = {
  async start(data) {
    page = data.page;
    const real = self.fetch;
    self.fetch = (address, ...more) => String(address).endsWith("pyodide.asm.wasm")
      ? unpacked(page, "pyodide.asm.wasm", "application/wasm") : real(address, ...more);
    tell({ kind: "step", says: "fetching Python" });
    const [loader, module, library, lock] = await Promise.all([
      scriptUrl(page, "pyodide.mjs"),
      scriptUrl(page, "pyodide.asm.mjs"),
      unpacked(page, "python_stdlib.zip").then((answer) => answer.blob()),
      unpacked(page, "pyodide-lock.json").then((answer) => answer.text()),
    ]);
    tell({ kind: "step", says: "starting Python" });
    const { loadPyodide } = await import(loader);
    python = await loadPyodide({
      indexURL: new URL("files/", page.base).href,
      stdLibURL: URL.createObjectURL(library),
      lockFileContents: lock,
      createPyodideModule: (await import(module)).default,
    });
    tell({ kind: "step", says: "loading mechlogic" });
    await packages();
    const { begin } = python.pyimport("mechlogic.site.page_kernel");
    [kernel, files] = begin(FOLDER, (text, buffers) => tell({ ...JSON.parse(text), buffers: buffers.toJs() }));
    await fetchKept();
    for (const [number, source] of page.cells.entries()) {
      tell({ kind: "step", says: `part ${number + 1} of ${page.cells.length}` });
      tell({ kind: "ran", cell: number, well: kernel.run(number, source) });
      await new Promise((done) => { setTimeout(done); });
    }
    await keep();
    tell({ kind: "ready" });
  },
  async pack() {
    const names = await asked((await store("readonly")).getAllKeys());
    tell({ kind: "packed", bytes: files.packed(python.toPy(names)).toJs() });
  },
  async unpack({ bytes }) {
    files.unpack(python.toPy(bytes));
    await keep();
    tell({ kind: "unpacked" });
  },
  async hear({ id, message, buffers }) {
    try { kernel.hear(message, python.toPy(buffers)); } finally { tell({ kind: "idle", id }); }
    await keep();
  },
};

function inTurn(job) {
  last = last.then(job).catch((error) => tell({ kind: "failed", says: String(error.message ?? error) }));
}
self.onmessage = ({ data }) => inTurn(() => jobs[data.kind](data));
