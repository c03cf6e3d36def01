/**
 * Make an element.  Children that are strings become text, never markup.
 *
 * @param {string} tag
 * @param {Record<string, any>} attributes  those that begin with "on" are listeners
 * @param {...(Node|string|null|undefined)} children
 */
function h(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value);
  }
  node.append(...children.filter((child) => child !== null && child !== undefined));
  return node;
}

/**
 * Keep every key that is pressed in an output of a notebook: there `x` would cut a cell and `d d`
 * delete one.  The notebook asks the focused node itself, before any that is round it.
 */
function shieldKeys() {
  if (globalThis.mechlogicShield) return;
  globalThis.mechlogicShield = true;
  const claim = ({ target }) => {
    if (target.closest?.(".jp-OutputArea-output"))
      target.setAttribute("data-lm-suppress-shortcuts", "true");
  };
  document.addEventListener("focusin", claim, true);
  if (document.activeElement) claim({ target: document.activeElement });
}
shieldKeys();
