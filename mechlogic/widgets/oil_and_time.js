/**
 * One part's motion against its moment.  Python draws the chart once and works out its marks; this
 * module sets their attributes in place and reports the sliders.  All texts are set as text.
 */

let count = 0;

export default {
  render({ model, el }) {
    const id = `ml-oil-${++count}-${Math.random().toString(36).slice(2)}`;
    const picture = h("div", { class: "ot-picture" });
    picture.innerHTML = model.get("svg"); // drawn and escaped by Python
    const svg = picture.querySelector("svg");
    svg.setAttribute("aria-labelledby", id);
    const says = h("p", { class: "ot-says", id, "aria-live": "polite" });
    const rows = model.get("sliders").map(({ name, label, min, max, step }) => {
      const output = h("output", { for: `${id}-${name}` });
      const input = h("input", { type: "range", id: `${id}-${name}`, min, max, step,
        oninput: () => {
          output.textContent = Number(input.value);
          model.set(name, Number(input.value));
          model.save_changes();
        } });
      const show = () => {
        input.value = model.get(name);
        output.textContent = Number(model.get(name));
      };
      return { name, show, node: h("div", { class: "ot-slider" },
        h("label", { for: `${id}-${name}` }, label), input, output) };
    });
    const root = h("section", { class: "ot-view mechlogic", "data-lm-suppress-shortcuts": "true",
                                onkeydown: (event) => event.stopPropagation() },
      ...rows.map((row) => row.node), picture, says);
    el.append(root);

    function show() {
      says.textContent = model.get("says");
      for (const [name, attributes] of Object.entries(model.get("marks"))) {
        const mark = svg.querySelector(`[data-mark="${name}"]`);
        for (const [key, value] of Object.entries(attributes)) {
          if (key === "text") mark.textContent = value;
          else mark.setAttribute(key, value);
        }
      }
    }

    model.on("change:marks", show);
    model.on("change:says", show);
    for (const row of rows) {
      model.on(`change:${row.name}`, row.show);
      row.show();
    }
    show();
    return () => {
      model.off("change:marks", show);
      model.off("change:says", show);
      for (const row of rows) model.off(`change:${row.name}`, row.show);
      root.remove();
    };
  },
};
