"""A button that gives the whole screen to the box it stands in."""

import anywidget
import traitlets


class FullScreen(anywidget.AnyWidget):
    """Put among the children of a box: its button gives that box the screen, and takes it back.

    Attributes:
        around: The CSS class of the box.
    """

    around = traitlets.Unicode("ml-bench").tag(sync=True)

    _esm = """
    export default {
      render({ model, el }) {
        const button = document.createElement("button");
        button.className = "jupyter-button lm-Widget jupyter-widgets";
        button.style.width = "auto";
        const box = () => el.closest("." + model.get("around"));
        const say = () => {
          button.textContent = document.fullscreenElement ? "Leave full screen" : "Full screen";
        };
        button.onclick = () =>
          document.fullscreenElement ? document.exitFullscreen() : box().requestFullscreen();
        document.addEventListener("fullscreenchange", say);
        say();
        el.append(button);
        return () => document.removeEventListener("fullscreenchange", say);
      },
    };
    """
