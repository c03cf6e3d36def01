/**
 * A question in a notebook: the reader answers, Python checks.  The right answer is not in the
 * page until Python sends it.  All texts are set as text, never as markup.
 */

let count = 0;

export default {
  render({ model, el }) {
    const id = `ml-question-${++count}-${Math.random().toString(36).slice(2)}`;
    const prompt = h("p", { class: "mq-prompt", id }, model.get("prompt"));
    const options = model.get("options");
    const answer = options.length
      ? h("div", { class: "mq-options", role: "radiogroup", "aria-labelledby": id },
        ...options.map((option) => h("label", {},
          h("input", { type: "radio", name: id, value: option }), h("span", {}, option))))
      : h("input", { type: "text", class: "mq-text", "aria-labelledby": id,
                     autocomplete: "off", spellcheck: "false" });
    const hint = h("button", { type: "button", onclick: () => model.send({ ask: "hint" }) });
    const reveal = h("button", { type: "button", onclick: () => model.send({ ask: "reveal" }) },
      "Show the answer");
    const before = h("p", { class: "mq-before" }, "✓ answered at an earlier sitting");
    const trouble = h("p", { class: "mq-trouble" });
    const verdict = h("p", { class: "mq-verdict" });
    const hints = h("ul", { class: "mq-hints" });
    const because = h("p", { class: "mq-because" });
    const form = h("form", { class: "mq-form", onsubmit: (event) => {
      event.preventDefault();
      const chosen = options.length ? form.querySelector("input:checked")?.value : answer.value;
      model.send({ ask: "check", answer: chosen ?? "" });
    } }, answer, h("div", { class: "mq-buttons" },
      h("button", { type: "submit", class: "mq-check" }, "Check"), hint, reveal));
    const root = h("section", { class: "mq-question", "data-lm-suppress-shortcuts": "true",
                                onfocusin: ({ target }) =>
                                  target.setAttribute("data-lm-suppress-shortcuts", "true"),
                                onkeydown: (event) => event.stopPropagation() },
      prompt, before, form,
      h("div", { class: "mq-result", "aria-live": "polite" }, verdict, hints, because, trouble));
    el.append(root);

    function show() {
      const [shown, left] = [model.get("hints"), model.get("hints_left")];
      root.dataset.state = model.get("state");
      verdict.textContent = model.get("verdict");
      because.textContent = model.get("because");
      before.hidden = !model.get("answered_before");
      trouble.textContent = model.get("trouble");
      while (hints.children.length > shown.length) hints.lastChild.remove();
      shown.slice(hints.children.length).forEach((text) => hints.append(h("li", {}, text)));
      hint.textContent = shown.length ? "Another hint" : "Hint";
      const explained = because.textContent !== "";
      hint.hidden = left === 0 || explained;
      reveal.hidden = left > 0 || explained || model.get("state") !== "wrong";
    }

    const names = ["state", "verdict", "because", "hints", "hints_left", "answered_before",
                   "trouble"];
    for (const name of names) model.on(`change:${name}`, show);
    show();
    return () => {
      for (const name of names) model.off(`change:${name}`, show);
      root.remove();
    };
  },
};
