// Small hands for SVG: nodes are made once, kept by key, and only told what changed.

const NAMESPACE = 'http://www.w3.org/2000/svg';

/**
 * Make an SVG element.
 * @param {string} tag
 * @param {Record<string, string|number>} [attributes]
 * @param {Element|null} [parent] where it is appended
 * @returns {SVGElement}
 */
export function make(tag, attributes = {}, parent = null) {
  const element = document.createElementNS(NAMESPACE, tag);
  set(element, attributes);
  if (parent) parent.append(element);
  return element;
}

/**
 * Set attributes; one that already has the value is left alone, null removes it.
 * @param {Element} element
 * @param {Record<string, string|number|null>} attributes
 */
export function set(element, attributes) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined) element.removeAttribute(name);
    else if (element.getAttribute(name) !== String(value)) element.setAttribute(name, value);
  }
}

/** Set the words of an element; they are never read as markup. */
export function say(element, words) {
  if (element.textContent !== words) element.textContent = words;
}

/** Return a coordinate as SVG writes it, to a thousandth. */
export function short(value) {
  return String(Math.round(value * 1000) / 1000);
}

/**
 * Return the path data of a line through points, in the points' own unit.
 * @param {number[][]} points
 * @param {boolean} [closed]
 */
export function trace(points, closed = false) {
  const steps = points.map(([x, y], k) => `${k ? 'L' : 'M'}${short(x)} ${short(y)}`);
  return steps.join('') + (closed ? 'Z' : '');
}

/** Nodes of one parent, kept by key: what stays is updated in place, what is gone is removed. */
export class Keyed {
  /** @param {Element} parent */
  constructor(parent) {
    this.parent = parent;
    this.nodes = new Map();
  }

  /**
   * Bring the nodes in line with a list.
   * @param {Iterable<any>} entries
   * @param {(entry: any) => string} key
   * @param {(entry: any, parent: Element) => Element} create
   * @param {(node: Element, entry: any) => void} [update]
   */
  sync(entries, key, create, update = () => {}) {
    const left = new Set(this.nodes.keys());
    for (const entry of entries) {
      const name = key(entry);
      left.delete(name);
      let node = this.nodes.get(name);
      if (!node) {
        node = create(entry, this.parent);
        this.nodes.set(name, node);
      }
      update(node, entry);
    }
    for (const name of left) {
      this.nodes.get(name).remove();
      this.nodes.delete(name);
    }
  }

  get(name) {
    return this.nodes.get(name);
  }
}
