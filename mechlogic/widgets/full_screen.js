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
