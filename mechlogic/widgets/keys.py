"""Keys that are pressed inside a screen of boxes and buttons stay there."""

import anywidget


class OwnKeys(anywidget.AnyWidget):
    """Put among the children of a box: then no key pressed in it is a command to the notebook.

    Without it, whoever looks for "code bar" in a list by typing its first letters has the notebook
    add a cell for the b and, for two d's, delete one.  Enter in a line of text presses the main
    button beside it.
    """

    _esm = """
    export default {
      render({ el }) {
        function claim() {
          if (!el.isConnected) { requestAnimationFrame(claim); return; }
          const screen = el.parentElement.closest(".jp-OutputArea-output") ?? el.parentElement;
          // The notebook asks the focused node itself, before any that is round it.
          screen.addEventListener("focusin", (event) =>
            event.target.setAttribute("data-lm-suppress-shortcuts", "true"));
          screen.addEventListener("keydown", (event) => {
            if (event.key === "Enter" && event.target.matches("input[type=text]"))
              event.target.closest(".widget-hbox")?.querySelector(".mod-primary")?.click();
          }, true);  // before the box itself, which lets no key go on
        }
        claim();
      },
    };
    """
