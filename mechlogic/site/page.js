/* A page of the site: what was drawn when it was built, until the Python of this page takes over. */
const page = JSON.parse(document.getElementById("page").textContent);
page.base = new URL(page.base, location).href;
const line = document.getElementById("python");
const slot = (number) => document.getElementById(`cell-${number}`);
const WIDGET = "application/vnd.jupyter.widget-view+json";

const modules = new Map();
/** A loader of the scripts that the widgets come in: each names itself and what it needs. */
window.define = (...given) => {
  const [name, needs, make] = given.length === 3 ? given : ["anywidget", ...given];
  modules.set(name, make(...needs.map((need) => modules.get(need) ?? { uri: page.base })));
};
window.define.amd = true;

function load(url) {
  return new Promise((done, failed) => {
    const script = Object.assign(document.createElement("script"), { src: url, onload: done, onerror: failed });
    document.head.append(script);
  });
}

/** The widgets' script compiles a check of saved pages, which is never used here; the page's policy
 *  lets nothing be compiled from text, so while it loads it gets a check that does nothing. */
async function withoutCompiling(loading) {
  const real = window.Function;
  window.Function = new Proxy(real, { construct: () => () => () => true });
  try { await loading(); } finally { window.Function = real; }
}

function say(words, busy = true) {
  line.textContent = words;
  line.classList.toggle("busy", busy);
}

async function showWidget(manager, id, box) {
  const model = await manager.get_model(id);
  await manager.display_view(await manager.create_view(model), box);
  return model;
}

/** Show one thing that a cell gives: a widget, a picture, a page or words. */
async function show(manager, data, box) {
  if (data[WIDGET]) { box.model = await showWidget(manager, data[WIDGET].model_id, box); return; }
  const last = box.lastElementChild;
  if (data.stream && last?.tagName === "PRE") { last.textContent += data.stream; return; }
  const html = data["text/html"], png = data["image/png"];
  const element = document.createElement(html ? "div" : png ? "img" : "pre");
  if (html) element.innerHTML = html;
  else if (png) Object.assign(element, { src: `data:image/png;base64,${png}`, alt: data["text/plain"] ?? "" });
  else element.textContent = data.stream ?? data["text/plain"];
  box.append(element);
}

const pictures = new Map();

/** A picture that the reader has begun to use goes on where it stood. */
function takeOver(id, model) {
  const old = pictures.get(id);
  if (!old || !model?.get("frames")) return;
  ["code", "picked", "printed"].forEach((name) => model.set(name, old.get(name)));
  model.save_changes();
}

/** What the builder drew: the pictures answer at once, questions wait for Python. */
async function showBuilt(manager) {
  await manager.set_state(await (await unpacked(page, `${page.name}.json`)).json());
  for (const box of document.querySelectorAll("[data-model]")) {
    const model = await showWidget(manager, box.dataset.model, box);
    box.inert = !model.get("frames");
    if (!box.inert) pictures.set(box.closest(".shown").id, model);
  }
}

class Comm {
  constructor(id, worker, callbacks) { Object.assign(this, { comm_id: id, target_name: "jupyter.widget", worker, callbacks }); }
  on_msg(heard) { this.heard = heard; }
  on_close(closed) { this.closed = closed; }
  close() { return ""; }
  send(data, callbacks, metadata, buffers = []) {
    const id = String(this.callbacks.size + 1);
    this.callbacks.set(id, callbacks);
    const message = JSON.stringify({ content: { comm_id: this.comm_id, data }, metadata });
    this.worker.postMessage({ kind: "hear", id, message, buffers });
    return id;
  }
}

/** Let what the page's Python shows take the place of what was built. */
function live(worker, manager) {
  const comms = new Map(), callbacks = new Map();
  const coming = (number) => {
    const box = slot(number);
    return box.querySelector(".coming") ?? box.appendChild(Object.assign(document.createElement("div"), { className: "coming" }));
  };
  const heard = ({ content, metadata, buffers }) => ({
    content, metadata, header: {}, parent_header: {}, buffers: buffers.map((one) => new DataView(one.buffer, one.byteOffset, one.byteLength)),
  });
  const takes = {
    step: ({ says }) => say(`Python is on its way: ${says}. Read on meanwhile; the pictures already answer.`),
    comm_open(message) {
      const { comm_id: id } = message.content;
      comms.set(id, new Comm(id, worker, callbacks));
      return manager.handle_comm_open(comms.get(id), heard(message));
    },
    comm_msg: (message) => comms.get(message.content.comm_id)?.heard?.(heard(message)),
    comm_close(message) {
      comms.get(message.content.comm_id)?.closed?.(heard(message));
      comms.delete(message.content.comm_id);
    },
    output: ({ cell, data }) => cell >= 0 ? show(manager, data, coming(cell)) : say(data["text/plain"], false),
    packed({ bytes }) {
      const day = new Date().toISOString().slice(0, 10);
      const href = URL.createObjectURL(new Blob([bytes], { type: "application/zip" }));
      Object.assign(document.createElement("a"), { href, download: `mechlogic ${day}.zip` }).click();
    },
    unpacked: () => location.reload(),
    ran({ cell, well }) {
      const fresh = coming(cell), box = slot(cell);
      if (!well) { // what was built stays, and the last line says why
        fresh.replaceChildren(fresh.lastElementChild);
        fresh.className = "note";
      }
      else {
        takeOver(box.id, fresh.model);
        box.replaceChildren(...fresh.childNodes);
      }
    },
    idle({ id }) { callbacks.get(id)?.iopub?.status?.({ content: { execution_state: "idle" } }); },
    ready() {
      say("", false);
      document.getElementById("work").hidden = false;
      document.body.dataset.ready = "yes";
      keepOffline();
    },
    failed: ({ says }) => say(`Python could not go on: ${says}. Load this page again.`, false),
  };
  document.getElementById("save").onclick = () => worker.postMessage({ kind: "pack" });
  document.getElementById("load").onchange = async ({ target }) => {
    const bytes = new Uint8Array(await target.files[0].arrayBuffer());
    if (confirm("Files of the same name here are replaced. Load it?")) worker.postMessage({ kind: "unpack", bytes });
  };
  return (message) => takes[message.kind](message);
}

/** Keep all of the site in this browser, so that it opens without a network. */
function keepOffline() {
  navigator.serviceWorker?.register(new URL("offline.js", page.base)).catch(() => {});
}

/** Show what was built; gives the function that takes messages from then on. */
async function built(worker) {
  const scripts = ["widgets.js", "anywidget.js"].map((name) => scriptUrl(page, name));
  await withoutCompiling(async () => { for (const script of scripts) await load(await script); });
  const { HTMLManager } = modules.get("@jupyter-widgets/html-manager");
  const manager = () => new HTMLManager({ loader: async (name) => modules.get(name) });
  await showBuilt(manager());
  document.body.dataset.built = "yes";
  return live(worker, manager());
}

async function begin() {
  if (!page.cells.length) { keepOffline(); return; }
  say("The pictures are on their way.");
  const worker = new Worker(await scriptUrl(page, "worker.js"), { type: "module" });
  const shown = built(worker); // Python starts meanwhile; what it says waits for the pictures
  let last = shown;
  worker.onmessage = ({ data }) => {
    last = last.then(async () => (await shown)(data)).catch((error) => console.error(error));
  };
  worker.postMessage({ kind: "start", page });
  await shown;
}

begin().catch((error) => {
  console.error(error);
  say(`This page could not be brought to life (${error.message}). Load it again; an old browser needs a newer version.`, false);
});
