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
