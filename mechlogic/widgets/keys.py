"""Keys that are pressed inside a screen of boxes and buttons stay there."""

from typing import Any

import anywidget
import traitlets


class OwnKeys(anywidget.AnyWidget):
    """Put among the children of a box: then no key pressed in it is a command to the notebook.

    Without it, whoever looks for "code bar" in a list by typing its first letters has the notebook
    add a cell for the b and, for two d's, delete one.  Enter in a line of text presses the main
    button beside it, as soon as Python has all that was typed.

    Attributes:
        asked: How often the browser asked whether Python has read everything.
        answered: How often Python said so.
    """

    asked = traitlets.Int(0).tag(sync=True)
    answered = traitlets.Int(0).tag(sync=True)

    @traitlets.observe("asked")
    def _answer(self, change: Any) -> None:
        self.answered = change["new"]

    _esm = """
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
          const screen = el.parentElement.closest(".jp-OutputArea-output") ?? el.parentElement;
          // The notebook asks the focused node itself, before any that is round it.
          screen.addEventListener("focusin", (event) =>
            event.target.setAttribute("data-lm-suppress-shortcuts", "true"));
          screen.addEventListener("keydown", (event) => {
            if (event.key !== "Enter" || !event.target.matches("input[type=text]")) return;
            const button = event.target.closest(".widget-hbox")?.querySelector(".mod-primary");
            if (button) press(button);
          }, true);  // before the box itself, which lets no key go on
        }
        claim();
      },
    };
    """
