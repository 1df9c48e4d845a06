// Elements of SVG and HTML, made and changed in place so that focus is never lost.

const SVG = "http://www.w3.org/2000/svg";

/** A new element of SVG with attributes. */
export function drawn(kind, attributes = {}) {
  const element = document.createElementNS(SVG, kind);
  set(element, attributes);
  return element;
}

/** Set attributes; null removes one. */
export function set(element, attributes) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null) element.removeAttribute(name);
    else if (element.getAttribute(name) !== String(value)) element.setAttribute(name, value);
  }
  return element;
}

/** A new element of HTML with properties and children. */
export function made(kind, properties = {}, ...children) {
  const element = Object.assign(document.createElement(kind), properties);
  element.append(...children);
  return element;
}

/** Write a text into an element unless it stands there already. */
export function write(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/**
 * Make the children of a parent those of the keys, in their order: kept where there are any with
 * the key, made where there are not, removed where no key asks for them.
 */
export function keyed(parent, keys, make) {
  const old = new Map([...parent.children].map((child) => [child.dataset.key, child]));
  const wanted = new Set(keys.map(String));
  for (const [key, child] of old) if (!wanted.has(key)) child.remove();
  keys.forEach((key, place) => {
    let child = old.get(String(key));
    if (!child) {
      child = make(key);
      child.dataset.key = key;
    }
    if (parent.children[place] !== child) parent.insertBefore(child, parent.children[place] ?? null);
  });
  return [...parent.children];
}

/** Where a pointer is, in the units of an SVG. */
export function pointOf(svg, event) {
  const matrix = svg.getScreenCTM();
  if (!matrix) return [0, 0];
  const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix.inverse());
  return [point.x, point.y];
}

/** Units of an SVG in one pixel of the screen. */
export const unitOf = (svg) => 1 / (svg.getScreenCTM()?.a || 1);

/** Fill a text field unless somebody is writing in it. */
export function fill(input, value) {
  if (document.activeElement !== input && input.value !== String(value)) input.value = value;
}

/** The field of a part's length among the parts. */
export const lengthField = (name) => document.querySelector(`[data-length="${CSS.escape(name ?? "")}"]`);
