/** What may lie before an entry, in the words of the log's file. */
const GAPS = [["", "not noted"], ["at once", "typed at once"], ["pause", "a pause"], ["yes", "machine stopped"]];

/**
 * The log as it is written. Keys are taken here, at once; Python is told in order, a batch at a time,
 * and says when a batch is safe. What is not safe yet is kept in the browser.
 *
 * @param {HTMLElement} el
 * @param {(batch: {client: string, seq: number, ops: object[]}) => void} send
 * @param {{load: () => string|null, save: (text: string) => void}} kept  for what is on its way
 * @returns {{show: (state: any) => void, safe: (acked: {client: string, seq: number}) => void,
 *   file: (name: string, data: Blob) => void}}
 */
function logSheet(el, send, kept) {
  const client = `${Date.now()}-${Math.random()}`;
  let ops = [], onItsWay = null, seq = 0, state = { lines: [] }, chosen = 0, waiting = 0;
  const field = (label, placeholder) =>
    h("input", { type: "text", "aria-label": label, placeholder, autocomplete: "off", spellcheck: "false" });
  const tick = (label) => h("input", { type: "checkbox", "aria-label": label });
  const choices = (label, values, now) => h("select", { "aria-label": label }, ...values.map(([value, words]) => {
    const option = h("option", { value }, words);
    option.selected = value === now;
    return option;
  }));
  const press = (words, does, more = {}) => h("button", { type: "button", onclick: does, ...more }, words);
  const sent = field("Sent", "A, CR, 4/1"), printed = field("Printed", "A, nothing");
  const byHand = tick("turned by hand"), gap = choices("Before it", GAPS, "");
  const undo = press("Undo", () => ask({ do: "undo" })), redo = press("Redo", () => ask({ do: "redo" }));
  const list = h("ol", { class: "ls-lines", "aria-label": "the log" });
  const says = h("p", { class: "ls-says", role: "status", "aria-live": "polite" });
  const panel = h("div", { class: "ls-panel" });
  const many = h("textarea", { rows: 4, "aria-label": "Lines to add", placeholder: "what was sent, and below it what was printed; or two columns" });
  const paste = () => { if (many.value.trim()) ask({ do: "paste", text: many.value }); many.value = ""; };
  const pad = h("div", { class: "ls-pad", role: "group", "aria-label": "Keys for sent, then printed" });
  el.append(
    h("div", { class: "ls-row ls-entry" },
      h("label", { class: "ls-sent" }, "Sent ", sent), h("label", {}, "Printed ", printed),
      h("label", {}, byHand, " turned by hand"), h("label", {}, "Before it ", gap),
      press("Add entry", () => add(), { class: "ls-main" }), pad),
    says, list, panel,
    h("div", { class: "ls-row" }, undo, redo,
      press("Empty log", () => ask({ do: "clear" })),
      press("Save log", () => ask({ do: "save_log" })), press("Save case", () => ask({ do: "save_case" })),
      press("Save a print-out", () => ask({ do: "print_out" })),
      h("details", {}, h("summary", {}, "Paste many lines"), many, press("Add these lines", paste))),
  );

  function add() {
    if (!sent.value && !printed.value) { sent.focus(); return; }
    if (!printed.value && document.activeElement === sent) { printed.focus(); return; }
    write();
    sent.focus();
  }
  function write() {
    ask({ do: "write", sent: sent.value, printed: printed.value, driven: byHand.checked ? "hand" : "speed", gap: gap.value });
    sent.value = printed.value = "";
    if (gap.value === "yes") gap.value = "";
  }
  /** Keys for a thumb: the first was sent, the next was printed, and that is an entry. */
  function layPad() {
    const key = (words, does, label = words) => press(words, does, { "aria-label": label });
    const take = (name) => {
      if (!sent.value) { sent.value = name; return; }
      printed.value = name;
      write();
    };
    const seen = (name) => sent.value && take(name);
    const groups = state.keys.map((names) => h("div", {}, ...names.map((name) => key(name, () => take(name)))));
    const shown = [...groups, h("div", { class: "ls-words" },
      key("✓ right", () => seen(sent.value), "It printed what was sent"), key("nothing", () => seen("nothing")),
      key("unreadable", () => seen("unreadable")), key("⌫", () => { if (sent.value) sent.value = printed.value = ""; else if (state.undo) ask({ do: "undo" }); }, "Clear, or undo the last entry"))];
    const turn = (to) => shown.forEach((one) => { one.hidden = !to.includes(one); });
    const words = shown.at(-1);
    pad.append(...shown, h("div", { class: "ls-words" },
      ...groups.map((group, k) => key(`${state.keys[k].slice(0, 2).join(" ")} …`, () => turn([group, words]), `Keys ${state.keys[k][0]} …`)),
      key("hide keys", () => turn([]))));
    turn([groups[0], words]);
  }
  for (const box of [sent, printed]) {
    box.addEventListener("keydown", (event) => {
      if (event.key === "Enter") { event.preventDefault(); add(); }
    });
    box.addEventListener("paste", (event) => {
      const text = event.clipboardData.getData("text");
      if (/[\n\t]/.test(text.trim())) { event.preventDefault(); ask({ do: "paste", text }); }
    });
  }

  function ask(op) {
    ops.push(op);
    pass();
    draw();
  }
  function pass() {
    keep();
    if (onItsWay || !ops.length) return;
    onItsWay = { client, seq: ++seq, ops };
    ops = [];
    clearTimeout(waiting);
    waiting = setTimeout(() => {
      says.textContent = "Python has not answered yet. If it was restarted, run all cells: your log is safe, and what you have typed here is kept.";
    }, 8000);
    send(onItsWay);
  }
  function keep() {
    const left = [...(onItsWay?.ops ?? []), ...ops];
    kept.save(left.length ? JSON.stringify(left) : "");
  }

  function draw() {
    const coming = [...(onItsWay?.ops ?? []), ...ops].filter((op) => op.do === "write");
    const hidden = state.first ? [h("li", { class: "ls-more" }, press(`${state.first} lines before these`, () => ask({ do: "show_all" })))] : [];
    list.replaceChildren(...hidden, ...state.lines.map(row), ...coming.map((op) =>
      h("li", { class: "ls-coming" }, `${op.sent} → ${op.printed || "…"}`)));
    list.scrollTop = list.scrollHeight;
    undo.disabled = !state.undo; undo.title = state.undo ? `take back: ${state.undo}` : "nothing to take back";
    redo.disabled = !state.redo; redo.title = state.redo ? `do again: ${state.redo}` : "nothing to do again";
  }
  function row(line) {
    const marks = [line.driven === "hand" ? "by hand" : "", { pause: "after a pause", yes: "stopped before" }[line.gap], line.oil === "unknown" ? "" : line.oil,
      line.clipped ? `${line.clipped} missing` : "", line.note ? "note" : ""].filter(Boolean).join(", ");
    const told = `entry ${line.n}: ${line.sent} sent, ${line.printed} printed`;
    const kind = line.question ? "ls-asked" : line.wrong ? "ls-wrong" : "";
    return h("li", { class: kind },
      press(`${line.n}. ${line.sent} → ${line.printed}${line.wrong ? " ✗" : ""}${marks ? ` (${marks})` : ""}`, () => open(line),
        { class: "ls-line", "aria-label": marks ? `${told}, ${marks}` : told }),
      line.question ? h("span", { class: "ls-question" }, ` ${line.question.says} `,
        ...line.question.choices.map(([text, words]) =>
          press(words, () => ask({ do: "answer", number: line.n, column: line.question.column, text })))) : null);
  }
  function open(line) {
    chosen = line.n;
    const boxes = { sent: field("Sent in this line", ""), printed: field("Printed in this line", ""), note: field("Note", "note") };
    for (const name in boxes) boxes[name].value = line[name];
    const choice = (name, label, values) => choices(label, values, line[name]);
    boxes.oil = choice("oil", "Oil", [["unknown", "cold or warm?"], ["cold", "cold"], ["warm", "warm"]]);
    boxes.clipped = choice("clipped", "Side that is missing", [["", "whole"], ...["top", "bottom", "left", "right"].map((side) => [side, `${side} missing`])]);
    boxes.driven = choice("driven", "Driven", [["speed", "at speed"], ["hand", "turned by hand"]]);
    boxes.gap = choice("gap", "Before it", GAPS);
    const values = () => Object.fromEntries(Object.entries(boxes).map(([name, box]) => [name, box.value]));
    const close = () => { panel.replaceChildren(); sent.focus(); };
    const act = (op) => { ask({ number: line.n, ...op }); close(); };
    panel.replaceChildren(h("fieldset", {
      onkeydown: (event) => {
        if (event.key === "Enter" && event.target.matches("input")) { event.preventDefault(); act({ do: "change", changes: values() }); }
        if (event.key === "Escape") close();
      } }, h("legend", {}, `Line ${line.n}`), ...Object.values(boxes),
    press("Change", () => act({ do: "change", changes: values() }), { class: "ls-main" }),
    press("Remove", () => act({ do: "remove" })),
    press("Insert before", () => act({ do: "insert", sent: boxes.sent.value, printed: boxes.printed.value })),
    press("Move up", () => act({ do: "move", to: line.n - 1 })), press("Move down", () => act({ do: "move", to: line.n + 1 })),
    press("Close", close)));
    boxes.printed.focus();
    boxes.printed.select();
  }

  try { ops = JSON.parse(kept.load() || "[]"); } catch { ops = []; }
  pass();
  return {
    show(next) {
      state = next;
      says.textContent = state.says ?? "";
      if (!pad.firstChild) layPad();
      draw();
    },
    safe(acked) {
      if (!onItsWay || acked.client !== client || acked.seq < onItsWay.seq) return;
      clearTimeout(waiting);
      onItsWay = null;
      pass();
      draw();
    },
    file(name, data) {
      const link = h("a", { href: URL.createObjectURL(data), download: name });
      link.click();
      setTimeout(() => URL.revokeObjectURL(link.href), 60000);
    },
  };
}

export default {
  render({ model, el }) {
    const key = () => `mechlogic on its way: ${model.get("state").key}`;
    const sheet = logSheet(el, (batch) => model.send(batch), {
      load: () => localStorage.getItem(key()),
      save: (text) => text ? localStorage.setItem(key(), text) : localStorage.removeItem(key()),
    });
    const show = () => sheet.show(model.get("state"));
    const safe = () => sheet.safe(model.get("acked"));
    const file = (message, buffers) => {
      if (message.file) sheet.file(message.file, new Blob([buffers[0]]));
    };
    model.on("change:state", show);
    model.on("change:acked", safe);
    model.on("msg:custom", file);
    show();
    return () => { model.off("change:state", show); model.off("change:acked", safe); model.off("msg:custom", file); };
  },
};
