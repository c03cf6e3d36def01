/**
 * The live picture of a machine.
 *
 * It knows nothing about mechanisms.  Python has worked out every table beforehand (see frames.py
 * for their shape); this module looks rows up, moves and restyles the named parts of a picture,
 * and reports what the reader does.  So it answers by itself, even while Python is busy, and even
 * on a page where there is no Python at all.
 *
 * Words: a *setting* is the number that the code bits make; a *world* is the table that holds in
 * the present circumstances; a *place* is the number of the position at which a part stands; a
 * *memory* is what parts remember of the characters before.  Two memories are followed, that of the
 * machine in the picture and that of a good one which was sent the same.  A *cycle* runs through
 * phases, and each part moves out in one of them; the *stage* is the phase that has been reached.
 */

/**
 * What the view is told.
 *
 * @typedef {[code: number, print: string, drive: "speed" | "hand"]} Print
 * @typedef {object} Data
 * @property {string} svg        the mechanism, as drawn by drawing/
 * @property {string} wheel      the type or the functions laid flat, as drawn by drawing/
 * @property {Record<string, string[]>} poses  for each part, a CSS transform for each place
 * @property {object} frames     the tables of frames.py
 * @property {number} [code]     the setting to begin with
 * @property {string} [picked]   the part to point out
 * @property {Print[]} [printed]  the paper so far
 * @property {string} [message]  something Python has to say, such as why a fault was refused
 * @property {{label: string, frames: object}[]} [choices]  faults to choose from without Python
 * @property {string} [motion]   how a cycle is shown at first, one of MOTIONS
 * @property {Replay} [play]     entries of a log, to be shown one after the other
 * @typedef {object} Replay
 * @property {number} memory     what the parts remember before the first of them
 * @property {number|null} good  the same for a good machine; null if it is not known
 * @property {[code: number, chance: number, byHand: boolean][]} cycles
 *
 * What the view tells.
 *
 * @typedef {object} Callbacks
 * @property {(code: number) => void} [onCode]       the bars are set anew
 * @property {(part: string) => void} [onPick]       a part is picked; "" when it is let go
 * @property {(printed: Print[]) => void} [onPrint]  the paper has changed
 * @property {(choice: number) => void} [onFault]    another of the choices is taken
 */

const NO_CELL = 0xffff;
const LONGEST_PASTE = 200;
const SMALLEST = 0.75, HIGHEST = 470; // a picture that is higher is made smaller, but not too small
const WIDEST_AT_THE_SIDE = 500; // px; what is wider lies below the picture
/** How a cycle is shown: for each way, how long a phase takes, in ms; 0 where none follows by itself. */
const MOTIONS = { "at once": 0, "play": 420, "slow motion": 1700, "step by step": 0 };
const AT_ONCE = "at once", STEPPED = "step by step";
const LONGEST_TALE = 190; // characters about one phase: two lines, as high as the page keeps free
const TALL = 1.2; // what is that much higher than wide has the words under the picture instead

/**
 * Build the view inside an element.
 *
 * @param {HTMLElement} el
 * @param {Data} data
 * @param {Callbacks} tell
 */
export function mount(el, data, tell = {}) {
  let tables = unpack(data.frames);
  const state = {
    code: data.code ?? 0,
    picked: data.picked ?? "",
    printed: [...(data.printed ?? [])],
    byHand: false,
    chance: 0,
    memory: tables.start, // what parts remember of the characters before
    good: tables.good_start, // the same for a good machine
    afterwards: null, // once sent: the two memories that the next character will find
    stage: null, // the phase that the cycle has reached, 0 before the first; null where none is shown
    told: false, // whether the words below the picture are about the phase, and not about a part
  };
  const RETURN = tables.phases.length, STRIKE = RETURN - 1;
  // The phases that this machine has; it always shows something, and always returns.
  const phases = tables.phases.map((_, i) => i + 1)
    .filter((phase) => phase >= STRIKE || tables.phase.includes(phase));
  const calm = matchMedia("(prefers-reduced-motion: reduce)");
  let motion = data.motion ?? (calm.matches ? AT_ONCE : "play");
  let timer = 0; // of the next phase; there is never more than one
  let waiting = []; // the cycles of a log that are still to be shown

  // -- the page, built once -----------------------------------------------------------------------

  const title = h("h3", { class: "mv-title" }, tables.title);
  const condition = h("p", { class: "mv-condition" });
  const bits = tables.bits.map(([label], i) =>
    h("button", { type: "button", class: "mv-bit", title: label, "data-bit": i + 1,
                  onclick: () => explore(state.code ^ (1 << i)) },
      h("span", { class: "mv-bit-name", "aria-hidden": "true" }, `b${i + 1}`),
      h("span", { class: "mv-slot", "aria-hidden": "true" }, h("span", { class: "mv-knob" })),
      h("span", { class: "mv-bit-value", "aria-hidden": "true" })));
  const buttons = tables.buttons.map(([name, label, code]) =>
    h("button", { type: "button", class: "mv-button mv-key", title: label, "aria-label": label,
                  onclick: () => press(code) }, name));
  const sendBox = h("input", { type: "text", class: "mv-send", autocomplete: "off",
                               autocapitalize: "off", spellcheck: "false", size: 3,
                               "aria-label": "Send: each character typed is printed at once",
                               oninput: sendTyped });
  const drive = [["at speed", false], ["by hand", true]].map(([label, byHand]) => {
    const radio = h("input", { type: "radio", name: "drive", onchange: () => {
      state.byHand = byHand;
      show();
    } });
    return h("label", {}, radio, h("span", {}, label));
  });
  const choices = data.choices && h("select", { "aria-label": "Fault", onchange: () => {
    const choice = choices.selectedIndex;
    changeTables(data.choices[choice].frames);
    tell.onFault?.(choice);
  } }, ...data.choices.map(({ label }) => h("option", {}, label)));
  const controls = h("form", { class: "mv-controls", onsubmit: (event) => {
    event.preventDefault();
    send(state.code);
  } },
    bits.length ? h("div", { class: "mv-bits", role: "group", "aria-label": "Code bits" },
      ...[...bits].reverse()) : null,
    tables.keys ? keyGroup("Keys") : null,
    h("label", { class: "mv-sender" }, h("span", {}, "Send"), sendBox),
    tables.keys ? null : h("button", { type: "submit", class: "mv-button mv-cycle",
                                       title: "One cycle with the bars as they are set" },
      tables.say.cycle),
    buttons.length && !tables.keys ? keyGroup("Function codes") : null,
    h("fieldset", { class: "mv-drive" }, h("legend", {}, "Drive"), ...drive),
    choices && h("label", { class: "mv-choices" }, h("span", {}, "Fault"), choices));

  const picture = h("figure", { class: "mv-picture", onclick: pickUnderPointer, onkeydown: walk });
  picture.innerHTML = data.svg; // drawn by Python, which escapes every label in it
  const wheel = h("figure", { class: "mv-wheel", onclick: setUnderPointer });
  wheel.innerHTML = data.wheel;
  for (const svg of [picture, wheel].map((figure) => figure.querySelector("svg"))) {
    const { width, height } = svg.viewBox.baseVal; // a small picture is not blown up
    svg.style.maxWidth = `${width * Math.min(1, Math.max(SMALLEST, HIGHEST / height))}px`;
  }

  const setting = h("p", { class: "mv-setting" });
  const tells = h("p", { class: "mv-tells" });
  const may = h("p");
  const other = h("button", { type: "button", class: "mv-button mv-small", onclick: showOther },
    "Show another outcome");
  const remembers = h("p", { class: "mv-remembers" });
  const partName = h("p", { class: "mv-part-name" });
  const partSays = h("p", { class: "mv-part-says" });
  const message = h("p", { class: "mv-message", role: "alert" });
  const ways = h("select", { "aria-label": "How a cycle is shown",
                             onchange: () => moveAs(ways.value, true) },
    ...Object.keys(MOTIONS).map((way) => h("option", {}, way)));
  const [back, forward] = [["◀", "One phase back", -1], ["▶", "One phase on", 1]].map(
    ([sign, label, by]) => h("button", {
      type: "button", class: "mv-button mv-small mv-step", title: label, "aria-label": label,
      onclick: () => step(by),
    }, sign));
  const cycle = h("div", { class: "mv-motion", role: "group", "aria-label": "Cycle" },
    ways, back, forward);
  const what = h("div", { class: "mv-what" },
    cycle,
    h("div", { "aria-live": "polite", "aria-atomic": "true" }, setting, tells, remembers, may),
    other);
  const part = h("div", { class: "mv-part", "aria-live": "polite", "aria-atomic": "true" },
    partName, partSays);

  const strip = h("ol", { class: "mv-strip", tabindex: "0", 
    "aria-label": `${tables.say.strip}, with what was sent below` });
  const clear = h("button", { type: "button", class: "mv-button mv-small", onclick: tearOff },
    "Tear off");
  const paper = h("div", { class: "mv-paper" }, h("span", { class: "mv-label" }, tables.say.strip), strip, clear);

  const lines = new Map();
  const list = h("details", { class: "mv-list" },
    h("summary", {}, "What each part does"), ...groupsOfParts());

  const howTo = tables.keys ? "Keys press the machine's own."
    : `Keys 1 to ${bits.length} set and clear the code bits.`;
  const sheet = wheel.querySelector("svg").viewBox.baseVal;
  const shape = sheet.width > WIDEST_AT_THE_SIDE ? " mv-wide"
    : sheet.height > TALL * sheet.width ? " mv-tall" : "";
  const root = h("section", {
    class: `mv-view${shape}`, tabindex: "0", role: "group", onkeydown: onKey,
    "aria-label": `${tables.title}. ${howTo}`,
    "data-lm-suppress-shortcuts": "true", // a notebook's own one-key commands stay out of here
  },
    h("header", { class: "mv-head" }, title, condition), controls,
    h("div", { class: "mv-stage" }, picture, h("div", { class: "mv-side" }, wheel, what)),
    part, paper, message, list);

  const groups = [...picture.querySelectorAll("[data-part]")].map((node) => ({
    node, name: node.dataset.part, ghost: null,
    poses: data.poses[node.dataset.pose ? `${node.dataset.part}#${node.dataset.pose}`
                                        : node.dataset.part] ?? [],
  }));
  const first = new Map(); // the group that stands for each part when walking with the keys
  for (const { node, name } of groups) {
    node.tabIndex = -1;
    if (first.has(name)) node.setAttribute("aria-hidden", "true");
    else first.set(name, node);
  }
  const stops = tables.parts.filter((name) => first.has(name));
  if (stops.length) first.get(stops[0]).tabIndex = 0;

  const cellAt = new Map(cells().map((cell) => [Number(cell.dataset.cell), cell]));

  say(message, data.message);
  el.append(root);
  layPaper();
  changeTables(data.frames);
  moveAs(motion);
  const calmer = () => moveAs(calm.matches ? AT_ONCE : "play");
  if (!data.motion) calm.addEventListener("change", calmer);
  if (data.play?.cycles) replay(data.play);

  // -- what the reader does -----------------------------------------------------------------------

  /** Set the bars to see what they do; no cycle is made, so no part remembers it. */
  function explore(code) {
    waiting = [];
    advance();
    state.code = code;
    halt();
    show();
    tell.onCode?.(code);
  }

  /** What the reader sends; a log that is being shown is over. */
  function send(code) {
    waiting = [];
    makeCycle(code);
  }

  /** Show entries of a log again, on new paper, from what was remembered before the first of them. */
  function replay({ memory, good, cycles }) {
    tearOff();
    Object.assign(state, { memory, good: good ?? tables.good_start, afterwards: null });
    waiting = [...cycles];
    makeNext();
  }

  function makeNext() {
    const [code, chance, byHand] = waiting.shift();
    Object.assign(state, { chance, byHand });
    makeCycle(code);
  }

  /** A whole cycle: set the bars and print; what remembers will remember it for the next one. */
  function makeCycle(code) {
    advance();
    state.code = code;
    state.afterwards = { memory: world().next[code], good: good().next[code] };
    const drive = state.byHand ? "hand" : "speed";
    const printed = [code, tables.texts[world().printed[code]], drive];
    state.printed.push(printed);
    strip.append(printedOnPaper(printed));
    strip.scrollLeft = strip.scrollWidth;
    begin();
    tell.onCode?.(code);
    tell.onPrint?.([...state.printed]);
  }

  // -- the cycle ----------------------------------------------------------------------------------

  /** Show the cycle of the character just sent; the one before, if it still runs, is over. */
  function begin() {
    reach(motion === AT_ONCE ? STRIKE : phases[0], motion !== AT_ONCE);
    if (MOTIONS[motion]) timer = setTimeout(goOn, MOTIONS[motion]);
    else if (motion === AT_ONCE && waiting.length) makeNext();
  }

  /** Go on by itself, to the next phase in which something is to be seen. */
  function goOn() {
    const next = phases.find((phase) => phase > state.stage
      && (phase >= STRIKE || moversIn(phase).length > 0));
    if (next === undefined) {
      if (waiting.length) makeNext();
      return;
    }
    reach(next, true);
    timer = setTimeout(goOn, MOTIONS[motion]);
  }

  /** One phase forward or back; a cycle that runs by itself stops there. */
  function step(by) {
    const next = nextStage(by);
    if (next !== undefined) reach(next, true);
    else if (by > 0 && waiting.length) makeNext();
  }

  function nextStage(by) {
    if (state.stage === null) return undefined;
    const stages = [0, ...phases];
    return stages[stages.indexOf(state.stage) + by];
  }

  function reach(stage, told) {
    clearTimeout(timer);
    Object.assign(state, { stage, told });
    show();
  }

  /** No cycle is shown any more: the parts stand where the bars put them. */
  function halt() {
    clearTimeout(timer);
    Object.assign(state, { stage: null, told: false });
  }

  /** Show cycles in another way; one that runs is over. */
  function moveAs(way, chosen = false) {
    motion = way;
    ways.value = way;
    if (chosen) calm.removeEventListener("change", calmer);
    if (!MOTIONS[way]) clearTimeout(timer);
    root.style.setProperty("--mv-phase", `${MOTIONS[way] * 0.7 || (way === STEPPED ? 400 : 200)}ms`);
    attribute(part, "aria-live", MOTIONS[way] ? "off" : "polite"); // else one would be cut short
    if (way !== AT_ONCE || state.stage === null) return;
    reach(STRIKE, false);
    if (waiting.length) makeNext();
  }

  /** The parts that move out in a phase, or should: where they are late the reader is to hear of it. */
  function moversIn(phase) {
    const [now, meant, { code }] = [world(), good(), state];
    return tables.parts.map((_, i) => i).filter((i) => tables.phase[i] === phase
      && (now.places[i][code] !== now.home[i] || now.places[i][code] !== meant.places[i][code]));
  }

  /** What happens in the phase that the cycle has reached, in the words of its parts. */
  function tale() {
    const [now, { code, stage }] = [world(), state];
    if (stage === 0) return "Before the cycle. The next phase sets the bars or keys.";
    if (stage === RETURN) return tables.texts[home().return[0]];
    const said = stage === STRIKE ? [tables.texts[now.tells[code]]] : [];
    const movers = moversIn(stage);
    // Where there is room for a few only: what goes wrong, then what comes last, for that names what
    // moves it.  A stable sort keeps the working order; so are the sentences then put.
    const ranked = [...movers].reverse().sort((i, j) => isOff(j) - isOff(i));
    const told = (some) => [...some.sort((i, j) => i - j).map((i) => tables.texts[now.says[i][code]]),
                            ...said].join(" ");
    let n = Math.min(1, movers.length);
    while (n < movers.length && told(ranked.slice(0, n + 1)).length <= LONGEST_TALE) n += 1;
    const more = movers.length - n;
    const also = more ? ` Also ${more} more part${more > 1 ? "s" : ""}.` : "";
    return told(ranked.slice(0, n)) + also || "Nothing moves.";
  }

  function isOff(i) {
    return Number(tables.faulty.includes(tables.parts[i])
      || world().places[i][state.code] !== good().places[i][state.code]);
  }

  /** The world between two cycles: before this one, or, once it has returned, after it. */
  function home() {
    return state.stage === RETURN ? world(state.chance, state.byHand, state.afterwards.memory)
      : world();
  }

  /** Where part number i stands at the present stage, in a world and the one that follows it. */
  function placeOf(i, now, then) {
    if (state.stage === null) return now.places[i][state.code];
    if (state.stage === RETURN) return then.home[i];
    return tables.phase[i] <= state.stage ? now.places[i][state.code] : now.home[i];
  }

  function press(code) {
    say(message, "");
    send(code);
  }

  function advance() {
    Object.assign(state, state.afterwards);
    state.afterwards = null;
  }

  /** Run through the paper again, to find what parts remember of it, and what was good. */
  function recall(each = () => {}) {
    Object.assign(state, { memory: tables.start, good: tables.good_start, afterwards: null });
    for (const printed of state.printed) {
      advance();
      const [code, , drive] = printed;
      each(printed);
      state.afterwards = { memory: world(0, drive === "hand").next[code], good: good().next[code] };
    }
    if (state.printed.at(-1)?.[0] !== state.code) advance();
    clearTimeout(timer);
    Object.assign(state, { stage: state.afterwards ? STRIKE : null, told: false });
  }

  function layPaper() {
    strip.replaceChildren();
    recall((printed) => strip.append(printedOnPaper(printed)));
  }

  function sendTyped() {
    const typed = [...sendBox.value].slice(0, LONGEST_PASTE);
    sendBox.value = "";
    say(message, "");
    for (const character of typed) {
      const code = codeOf(character);
      if (code === undefined) say(message, `This machine has no code for “${character}”.`);
      else if (code !== null) send(code);
    }
  }

  /** The setting for a character, if need be for its capital; null if a latch is in the way. */
  function codeOf(character) {
    const code = tables.send[character] ?? tables.send[character.toUpperCase()];
    if (code !== undefined || !(character in tables.shifted)) return code;
    const [shifted, memory] = tables.shifted[character];
    if (goodPrint(shifted, state.afterwards?.good ?? state.good) === character) return shifted;
    say(message, `“${character}”: ${tables.ways[memory]}`);
    return null;
  }

  function pick(name) {
    state.picked = name === state.picked ? "" : name;
    state.told = false;
    show();
    tell.onPick?.(state.picked);
  }

  function pickUnderPointer(event) {
    const name = event.target.closest("[data-part]")?.dataset.part;
    if (name) {
      stopAt(name);
      pick(name);
    }
  }

  /** A click on a cell sets the bars for it; from here, if they can, else from elsewhere. */
  function setUnderPointer(event) {
    const cell = event.target.closest("[data-cell]")?.dataset.cell;
    if (cell === undefined) return;
    advance();
    const here = tables.cells[state.good][cell];
    const elsewhere = tables.cells.findIndex((settings) => settings[cell] !== null);
    if (here === null && elsewhere < 0) return;
    say(message, here === null ? tables.ways[elsewhere] : "");
    explore(here ?? tables.cells[elsewhere][cell]);
  }

  /** Arrow keys walk through the parts in working order; Enter or Space picks one. */
  function walk(event) {
    const at = stops.indexOf(event.target.closest("[data-part]")?.dataset.part);
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (at < 0) return;
    if (step) stopAt(stops[(at + step + stops.length) % stops.length]).focus();
    else if (event.key === "Enter" || event.key === " ") pick(stops[at]);
    else return;
    event.preventDefault();
  }

  /** Of all parts just one is a stop for the Tab key, so that Tab soon leaves the picture. */
  function stopAt(name) {
    for (const node of first.values()) node.tabIndex = -1;
    const node = first.get(name);
    node.tabIndex = 0;
    return node;
  }

  function onKey(event) {
    event.stopPropagation();
    const bit = Number(event.key);
    const chord = event.ctrlKey || event.metaKey || event.altKey;
    const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (event.target === sendBox && by && !chord) step(by); // the box is always empty
    if (event.target === sendBox || chord) return;
    if (bit >= 1 && bit <= bits.length) {
      explore(state.code ^ (1 << (bit - 1)));
      event.preventDefault();
    } else if (tables.keys && event.key.trim().length === 1) {
      const code = codeOf(event.key);
      if (code !== undefined && code !== null) press(code);
    }
  }

  function showOther() {
    state.chance = otherChances()[0] ?? state.chance;
    show();
  }

  function tearOff() {
    state.printed = [];
    strip.replaceChildren();
    tell.onPrint?.([]);
  }

  // -- looking rows up ----------------------------------------------------------------------------

  function world(chance = state.chance, byHand = state.byHand, memory = state.memory) {
    return (byHand ? tables.hand : tables.speed)[memory * tables.chances + chance];
  }

  /** The world of a good machine that was sent the same. */
  function good(memory = state.good) {
    return tables.healthy[memory];
  }

  function goodPrint(code = state.code, memory = state.good) {
    return tables.texts[good(memory).printed[code]];
  }

  /** Chances that print something else, the next one first. */
  function otherChances() {
    const printed = (chance) => world(chance).printed[state.code];
    return Array.from({ length: tables.chances - 1 },
      (_, i) => (state.chance + 1 + i) % tables.chances,
    ).filter((chance) => printed(chance) !== printed(state.chance));
  }

  /** Take other tables, in place: what is on the paper stays, and so does what parts remember. */
  function changeTables(frames) {
    tables = unpack(frames);
    waiting = [];
    state.chance = 0;
    recall();
    if (tables.faulty.length) makeGhosts();
    const sound = tables.faults.length === 0;
    say(condition, sound ? "In good order" : tables.faults.join(" "));
    condition.classList.toggle("mv-bad", !sound);
    show();
  }

  // -- showing ------------------------------------------------------------------------------------

  /** Show the present state.  Only what differs from before is touched. */
  function show() {
    const { code } = state;
    const now = world();
    const meant = good();
    drive.forEach((label, i) => { label.firstChild.checked = state.byHand === Boolean(i); });
    bits.forEach((button, i) => {
      const set = Boolean(code >> i & 1);
      attribute(button, "aria-pressed", String(set));
      attribute(button, "aria-label", `b${i + 1}, ${tables.bits[i][0]}`);
      say(button.lastChild, set ? "1" : "0");
    });
    const [then, meantThen] = [home(), state.stage === RETURN ? good(state.afterwards.good) : meant];
    const stands = {};
    tables.parts.forEach((name, i) => {
      const place = placeOf(i, now, then), right = placeOf(i, meant, meantThen);
      const halfWay = tables.half_way.includes(name);
      stands[name] = {
        place, halfWay, elsewhere: place !== right || halfWay, good: right,
        away: place !== tables.rest[i], faulty: tables.faulty.includes(name),
        says: tables.texts[now.says[i][code]],
      };
    });
    for (const group of groups) if (stands[group.name]) move(group, stands[group.name]);
    for (const [name, line] of lines) tellLine(line, name, stands[name]);
    const reached = (phase) => state.stage === null || state.stage >= phase;
    const shown = reached(STRIKE);
    light([now.cell[code], tables.texts[now.printed[code]]], [meant.cell[code], goodPrint()],
      reached(tables.aimed), shown);
    strip.lastElementChild?.classList.toggle("mv-coming", !shown);
    strip.lastElementChild?.previousElementSibling?.classList.remove("mv-coming");
    const said = tables.settings[code];
    say(setting, state.stage !== RETURN ? said
      : `Home again, after this: ${said[0].toLowerCase()}${said.slice(1)}`);
    const wrong = now.printed[code] !== meant.printed[code];
    const told = tables.texts[now.tells[code]];
    say(tells, !shown ? "" : !wrong ? told
      : `${told.slice(0, -1)}; ${tables.texts[meant.instead[code]]}`);
    tells.classList.toggle("mv-bad", wrong);
    for (const [i, button] of buttons.entries()) {
      attribute(button, "aria-pressed", String(tables.keys && tables.buttons[i][2] === code));
    }
    say(may, shown ? tables.texts[now.may[code]] : "");
    other.hidden = !shown || otherChances().length === 0;
    say(remembers, tables.texts[now.remembers[code]]);
    const i = tables.parts.indexOf(state.picked);
    const phase = state.stage ? `${state.stage} ${tables.phases[state.stage - 1]}` : "0 Home";
    say(partName, state.told ? phase : i < 0 ? "No part picked" : tables.labels[i]);
    say(partSays, state.told ? tale() : i >= 0 ? stands[state.picked].says
      : "Click a part, or walk through them with the arrow keys and press Enter.");
    attribute(back, "aria-disabled", String(nextStage(-1) === undefined));
    attribute(forward, "aria-disabled", String(nextStage(1) === undefined && !waiting.length));
  }

  function move({ node, name, poses, ghost }, { place, halfWay, elsewhere, good, away, faulty }) {
    const pose = halfWay ? midway(poses[0], poses[1]) : poses[place] ?? "";
    if (node.style.transform !== pose) node.style.transform = pose;
    node.classList.toggle("set", away);
    node.classList.toggle("faulty", faulty);
    node.classList.toggle("elsewhere", elsewhere);
    node.classList.toggle("picked", name === state.picked);
    attribute(node, "aria-pressed", String(name === state.picked));
    if (ghost) {
      ghost.style.transform = poses[good] ?? "";
      ghost.classList.toggle("seen", elsewhere);
    }
  }

  /** Behind every part, once, a copy of it to show where it would stand in a good machine. */
  function makeGhosts() {
    for (const group of groups) {
      if (group.ghost) continue;
      const ghost = group.node.cloneNode(true);
      for (const node of [ghost, ...ghost.querySelectorAll("[id]")]) node.removeAttribute("id");
      for (const name of ["data-part", "tabindex", "role", "aria-label", "aria-pressed"]) {
        ghost.removeAttribute(name);
      }
      ghost.setAttribute("aria-hidden", "true");
      ghost.setAttribute("class", "ghost");
      group.node.before(ghost);
      group.ghost = ghost;
    }
  }

  /** Light the cell that is chosen, and those whose names are seen, several at once maybe. */
  function light([cell, printed], [goodCell, goodPrinted], aimed, shown) {
    const struck = shown && printed !== tables.nothing;
    const among = (text) => new Set(shown ? text.split("+").filter((name) => name.length > 1) : []);
    const [seen, meant] = [among(printed), among(goodPrinted)];
    for (const [at, node] of cellAt) {
      const here = aimed && at === cell || seen.has(node.dataset.glyph);
      const should = aimed && at === goodCell || meant.has(node.dataset.glyph);
      node.classList.toggle("facing", here);
      node.classList.toggle("struck", here && struck);
      node.classList.toggle("should-face", should && !here);
    }
  }

  function printedOnPaper([code, printed]) {
    const bad = printed !== goodPrint(code);
    const sent = tables.names[code];
    const glyph = { [tables.nothing]: " ", [tables.unreadable]: "▒" }[printed] ?? printed;
    const instead = tables.texts[good().instead[code]].slice(0, -1);
    const wrong = bad ? `; ${tables.say.wrong}, ${instead}` : "";
    const says = `sent ${sent}, ${tables.say.seen} ${printed}${wrong}`;
    const done = glyph.length > 1 ? "mv-glyph mv-done" : "mv-glyph";
    return h("li", { class: bad ? "mv-print mv-misprint" : "mv-print", title: says },
      h("span", { class: "mv-said" }, says),
      h("span", { class: done, "aria-hidden": "true" }, glyph),
      h("span", { class: "mv-sent", "aria-hidden": "true" }, sent));
  }

  function keyGroup(label) {
    return h("div", { class: "mv-keys", role: "group", "aria-label": label }, ...buttons);
  }

  /** @returns {HTMLElement[]} the parts as a list, assembly by assembly */
  function groupsOfParts() {
    return [...new Set(tables.groups)].map((group) => h("div", { class: "mv-group" },
      h("h4", {}, group || "parts"),
      h("ul", {}, ...tables.parts.filter((_, i) => tables.groups[i] === group).map(lineOf))));
  }

  function lineOf(name) {
    const line = {
      button: h("button", { type: "button", class: "mv-name", onclick: () => pick(name) },
        tables.labels[tables.parts.indexOf(name)]),
      says: h("span", { class: "mv-says" }),
      mark: h("span", { class: "mv-mark" }),
    };
    lines.set(name, line);
    return h("li", {}, line.button, h("span", {}, line.says, " ", line.mark));
  }

  function tellLine({ button, says, mark }, name, { says: sentence, elsewhere, faulty, away }) {
    say(says, sentence);
    say(mark, faulty ? "at fault" : elsewhere ? "not where a good one stands" : "");
    button.parentNode.classList.toggle("set", away);
    attribute(button, "aria-pressed", String(name === state.picked));
  }

  function cells() {
    return [...wheel.querySelectorAll("[data-glyph]")];
  }

  return {
    /**
     * Take news from Python, in place.
     *
     * @param {Partial<Data>} news
     */
    update(news) {
      if (news.frames) changeTables(news.frames);
      if (news.message !== undefined) say(message, news.message);
      if (news.printed && String(news.printed) !== String(state.printed)) {
        state.printed = [...news.printed];
        layPaper();
      }
      if (news.code !== undefined && news.code !== state.code) {
        advance();
        state.code = news.code;
        halt();
      }
      if (news.picked !== undefined) state.picked = news.picked;
      if (news.play?.cycles) replay(news.play);
      show();
    },
    destroy() {
      clearTimeout(timer);
      calm.removeEventListener("change", calmer);
      root.remove();
    },
  };
}

/** Change a text only if it is another, so that nobody is told the same thing twice. */
function say(node, text = "") {
  if (node.textContent !== text) node.textContent = text;
}

function attribute(node, name, value) {
  if (node.getAttribute(name) !== value) node.setAttribute(name, value);
}

/** The transform halfway between two of the same kind. */
function midway(one = "", two = "") {
  const numbers = two.match(/-?\d+(\.\d+)?/g) ?? [];
  let i = 0;
  return one.replace(/-?\d+(\.\d+)?/g, (number) => (Number(number) + Number(numbers[i++])) / 2);
}

/** The tables of frames.py with every column number replaced by the column itself. */
function unpack(frames) {
  const columns = frames.columns.map((text) => {
    const bytes = atob(text);
    const column = new Uint16Array(bytes.length / 2);
    for (let i = 0; i < column.length; i += 1) { // a plain loop: this is most of showing a fault
      column[i] = bytes.charCodeAt(2 * i) | bytes.charCodeAt(2 * i + 1) << 8;
    }
    return column;
  });
  const opened = (world) => Object.fromEntries(Object.entries(world).map(([name, number]) =>
    [name, Array.isArray(number) ? number.map((n) => columns[n]) : columns[number]]));
  return { ...frames, healthy: frames.healthy.map(opened), hand: frames.hand.map(opened),
           speed: frames.speed.map(opened) };
}

/** The widget: the same view, with Python as the other party. */
export default {
  render({ model, el }) {
    const taken = ["svg", "wheel", "poses", "frames", "code", "picked", "printed", "message",
      "play"];
    // The picture first: Python is told once the frame with the answer has been drawn.  Until then
    // the news stays out of the model, where the echo of older news would undo it.
    let [news, telling] = [null, false];
    const save = (name) => (value) => {
      if (!news) requestAnimationFrame(() => setTimeout(tellPython));
      news = { ...news, [name]: value };
    };
    function tellPython() {
      telling = true; // so that we are not told our own news
      model.set(news);
      [news, telling] = [null, false];
      model.save_changes();
    }
    const tell = { onCode: save("code"), onPick: save("picked"), onPrint: save("printed") };
    let drawn;
    const draw = () => {
      drawn = model.get("machines");
      return mount(el, Object.fromEntries(taken.map((name) => [name, model.get(name)])), tell);
    };
    let view = draw();
    const another = () => { // another machine stands there
      view.destroy();
      view = draw();
    };
    model.on("change:machines", another);
    const listeners = taken.slice(3).map((name) => {
      const listener = () => {
        if (telling || model.get("machines") !== drawn) return; // another machine is drawn whole
        delete news?.[name]; // what comes later holds
        view.update({ [name]: model.get(name) });
      };
      model.on(`change:${name}`, listener);
      return () => model.off(`change:${name}`, listener);
    });
    return () => {
      listeners.forEach((stop) => stop());
      model.off("change:machines", another);
      view.destroy();
    };
  },
};
