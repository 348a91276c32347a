/** The wiring diagram: one picture of the server, over it a button for each box. */

import { html } from './build.js';
import { followedOf } from './follow.js';

const SCALE = [4.3, 5.5]; // below the first, words would be under 11 px [px/mm]

/** Pixels for a millimetre of a diagram, where so much width is there. */
export function scaleFor(width, there) {
  return Math.min(SCALE[1], Math.max(SCALE[0], there / width));
}

export class Diagram {
  #off = new AbortController();

  /**
   * @param {HTMLElement} root
   * @param {import('./desk.js').Desk} desk
   * @param {string} shownAs 'view' in the middle, 'side' in the place of the wiring
   */
  constructor(root, desk, shownAs = 'view') {
    this.desk = desk;
    this.root = root;
    this.wiring = followedOf(desk, 'wiring', { on: 'plan' });
    root.classList.add('diagram-part');
    this.picture = html('img', { alt: '' });
    this.boxes = html('div', { class: 'boxes', role: 'group', 'aria-label': 'Devices in the wiring diagram' });
    this.sheet = html('div', { class: 'diagram-sheet', hidden: true }, this.picture, this.boxes);
    this.words = html('p', { class: 'soft', role: 'status' });
    root.append(this.words, this.sheet);
    const { signal } = this.#off;
    this.within = shownAs === 'side'; // what stands above it says what there is nothing of
    const name = this.within ? 'wiring' : 'diagram';
    desk.addEventListener(shownAs, ({ detail }) => this.#shown(detail === name), { signal });
    this.wiring.addEventListener('answer', () => this.#paint(), { signal });
    for (const event of ['selection', 'hover']) desk.addEventListener(event, () => this.#choose(), { signal });
    globalThis.addEventListener('wellheard:theme', () => this.#paint(), { signal });
    this.boxes.addEventListener('click', (event) => this.#press(event), { signal });
    this.boxes.addEventListener('pointerover', (event) => desk.hover(pathOf(event)), { signal });
    this.boxes.addEventListener('pointerleave', () => desk.hover(null), { signal });
    this.watcher = new ResizeObserver(() => this.#place());
    this.watcher.observe(root);
  }

  /** Stop listening to the desk. */
  close() {
    this.#off.abort();
    this.watcher.disconnect();
    this.wiring.look(this, false);
  }

  #shown(on) {
    this.on = on;
    this.wiring.look(this, on);
    if (on) this.#paint();
  }

  #paint() {
    const { answer, why } = this.wiring;
    const boxes = answer?.diagram.boxes ?? [];
    if (!this.on) return;
    this.sheet.hidden = boxes.length === 0;
    const nothing = answer ? answer.sentence : why ? `There is no diagram: ${why}` : 'Drawing the diagram…';
    this.words.textContent = boxes.length > 0 || (answer && this.within) ? '' : nothing;
    if (boxes.length === 0) return;
    const theme = document.documentElement.classList.contains('slate') ? 'slate' : 'white';
    this.picture.setAttribute('src', this.desk.pictureOf('wiring.svg', { theme }));
    this.boxes.replaceChildren(...boxes.map((box) => boxOf(box)));
    this.#place();
    this.#choose();
  }

  #place() {
    const { diagram } = this.wiring.answer ?? {};
    const there = insideOf(this.root);
    if (!diagram || there <= 0 || this.sheet.hidden) return;
    const scale = scaleFor(diagram.width, there);
    size(this.sheet, { width: diagram.width * scale, height: diagram.height * scale });
    [...this.boxes.children].forEach((node, k) => {
      const { x, y, width, height } = diagram.boxes[k];
      size(node, { left: x * scale, top: y * scale, width: width * scale, height: height * scale });
    });
  }

  #press(event) {
    const path = pathOf(event);
    if (!path) return;
    if (event.shiftKey || event.ctrlKey || event.metaKey) this.desk.select([path], { add: true });
    else this.desk.point(path);
  }

  #choose() {
    for (const node of this.boxes.children) {
      const { path } = node.dataset;
      if (!path) continue;
      node.setAttribute('aria-pressed', String(this.desk.selection.has(path)));
      node.classList.toggle('hovered', this.desk.hovered === path);
    }
  }
}

/** A box; what is not in the document is nothing to choose. */
function boxOf({ path, words }) {
  if (!path) return html('span', { class: 'box', role: 'img', 'aria-label': `${words}: assumed` });
  return html('button', { type: 'button', class: 'box', 'data-path': path, 'aria-label': words, title: words });
}

function size(node, places) {
  for (const [name, value] of Object.entries(places)) node.style[name] = `${value.toFixed(1)}px`;
}

/** Width between the paddings of an element. */
function insideOf(node) {
  const { paddingLeft, paddingRight } = getComputedStyle(node);
  return node.clientWidth - parseFloat(paddingLeft) - parseFloat(paddingRight);
}

function pathOf(event) {
  return event.target.closest?.('button[data-path]')?.dataset.path ?? null;
}
