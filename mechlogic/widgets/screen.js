/** The shield of a screen: keys stay in it, and Enter in a line of text presses its main button. */
export default {
  render({ model, el }) {
    /** Python has what was typed before: messages are answered in their order. */
    const heard = () => new Promise((resolve) => {
      const turn = model.get("asked") + 1;
      const answered = () => {
        if (model.get("answered") < turn) return;
        model.off("change:answered", answered);
        resolve();
      };
      model.on("change:answered", answered);
      model.set("asked", turn);
      model.save_changes();
    });
    async function press(button) {
      await heard();  // a box sends its first letter at once, the rest when that is answered
      await heard();
      button.click();
    }
    function claim() {
      if (!el.isConnected) { requestAnimationFrame(claim); return; }
      el.parentElement.addEventListener("keydown", (event) => {
        if (event.key !== "Enter" || !event.target.matches("input[type=text]")) return;
        const button = event.target.closest(".widget-hbox")?.querySelector(".mod-primary");
        if (button) press(button);
      }, true);  // before the box itself, which lets no key go on
    }
    claim();
  },
};
