/** The shield of a screen: keys stay in it, and Enter in a line of text presses its main button.
 * A button is pressed once Python has all that was typed before: a box tells its letters late. */
export default {
  render({ model, el }) {
    let typed = 0, told = 0;  // how often something was typed, and how much of it Python has for certain
    let sure = null;  // the button that is pressed with everything told

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
      const now = typed;
      await heard();  // a box sends its first letter at once, the rest when that is answered
      await heard();
      told = now;
      const others = [...el.parentElement.querySelectorAll("button")];
      sure = button.isConnected ? button  // or the one that took its place meanwhile
        : others.find((other) => other.textContent === button.textContent);
      sure?.click();
      sure = null;
    }
    function claim() {
      if (!el.isConnected) { requestAnimationFrame(claim); return; }
      const screen = el.parentElement;
      screen.addEventListener("click", (event) => {
        const asked = event.target.closest("[data-asks]")?.dataset.asks;
        if (!asked) return;
        model.set("pressed", [asked, event.timeStamp]);  // the same twice is news, too
        model.save_changes();
      });
      screen.addEventListener("input", (event) => { typed += !event.target.matches("select"); }, true);
      screen.addEventListener("click", (event) => {
        const button = event.target.closest("button.widget-button");
        if (!button || typed === told || button === sure) return;
        event.stopImmediatePropagation();
        press(button);
      }, true);
      screen.addEventListener("keydown", (event) => {
        if (event.key !== "Enter" || !event.target.matches("input[type=text]")) return;
        const button = event.target.closest(".widget-hbox")?.querySelector(".mod-primary");
        if (button) press(button);
      }, true);  // before the box itself, which lets no key go on
    }
    claim();
  },
};
