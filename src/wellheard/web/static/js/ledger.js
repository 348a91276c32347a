/** The seat ledger: one row a place, worst first, with its range on one scale. */

import { html, picture, stateMark } from './build.js';
import { make, say, set } from './plan/svg.js';

const WIDTH = 120; // of the scale [px]
const HEIGHT = 14; // [px]
const HALF_WORDS = 11; // of a figure on the scale [px]
const APART = 28; // between middles of figures on the scale [px]
const PAGE = 10; // rows
const BEYOND_SIGHT = 4; // rows that are kept right above and below what is in sight
const COLUMNS = [
  { key: 'state', words: 'State' },
  { key: 'id', words: 'Place' },
  { key: 'sti', words: 'STI out', align: 'right' },
  { key: 'band', words: '', spoken: 'band' },
  { key: 'range', words: '' },
  { key: 'chance', words: 'Chance', align: 'right' },
  { key: 'inbound', words: 'STI in', align: 'right' },
  { key: 'inbound_level', words: 'Level in', under: 'dBA', align: 'right' },
  { key: 'binds', words: 'Binds' },
];

/**
 * Where a value stands on the scale of the ledger.
 *
 * @param {{low: number, high: number}} scale
 * @param {number} value
 * @returns {number} from the left, within the scale [px]
 */
export function along(scale, value) {
  const share = (value - scale.low) / (scale.high - scale.low);
  return Math.round(WIDTH * Math.min(1, Math.max(0, share)) * 100) / 100;
}

/**
 * The bar of a range in its two parts: hollow where it misses the promise, filled where it meets it.
 *
 * @param {{low: number, high: number, promise: number|null}} scale
 * @param {{low: number, high: number}} range
 * @returns {{hollow: number[]|null, filled: number[]|null}} from and to [px]
 */
export function parts(scale, { low, high }) {
  const [from, to] = [along(scale, low), along(scale, high)];
  const promise = scale.promise ?? null;
  const edge = promise === null ? from : Math.min(to, Math.max(from, along(scale, promise)));
  return {
    hollow: edge > from ? [from, edge] : null,
    filled: to > edge ? [edge, to] : null,
  };
}

/** A row while the hand moves: figures follow, and what they do not say yet is left out. */
export function moving(row, live) {
  return { ...row, chance: '', low: null, high: null, ...live };
}

export class Ledger {
  #rows = new Map();
  #shown = [];
  #scale = null;
  #active = null;
  #live = null;
  #later = false; // figures of a moving hand are about to be shown
  #off = new AbortController();

  /**
   * @param {HTMLElement} root
   * @param {import('./desk.js').Desk} desk
   */
  constructor(root, desk) {
    this.desk = desk;
    this.sentence = html('h1', {}, 'Reading the room…');
    this.under = html('p', { class: 'soft under' });
    this.busy = html('p', { class: 'busy-line', role: 'status', 'aria-live': 'polite' });
    this.head = html('tr', { role: 'row' });
    this.body = html('tbody', { role: 'rowgroup' });
    this.notes = html('p', { class: 'note notes' });
    this.table = html(
      'table',
      { class: 'ledger', role: 'grid', 'aria-label': 'Places, worst first', 'aria-multiselectable': 'true' },
      html('thead', { role: 'rowgroup' }, this.head),
      this.body,
    );
    this.scroll = html('div', { class: 'ledger-scroll' }, this.table, this.notes);
    root.classList.add('ledger-part');
    root.append(this.sentence, html('div', { class: 'under-and-busy' }, this.under, this.busy), this.scroll);
    this.root = root;
    this.#listen();
    if (desk.figures) this.#paint();
    this.#sayBusy();
  }

  /** Stop listening to the desk. */
  close() {
    this.#off.abort();
  }

  #listen() {
    const { signal } = this.#off;
    const on = (name, told) => this.desk.addEventListener(name, told, { signal });
    on('figures', () => this.#paint());
    on('live', ({ detail }) => this.#follow(detail));
    on('drop', () => queueMicrotask(() => this.#letGo()));
    on('busy', () => this.#sayBusy());
    on('selection', () => this.#choose());
    on('hover', ({ detail }) => this.#mark(detail));
    this.scroll.addEventListener('scroll', () => this.#showLive(), { signal, passive: true });
    this.body.addEventListener('pointerover', (event) => this.desk.hover(pathOf(event)), { signal });
    this.body.addEventListener('pointerleave', () => this.desk.hover(null), { signal });
    this.body.addEventListener('focusin', (event) => this.#activate(pathOf(event)), { signal });
    this.body.addEventListener('click', (event) => this.#press(event), { signal });
    this.body.addEventListener('keydown', (event) => this.#key(event), { signal });
  }

  // What is shown --------------------------------------------------------------------------------

  #paint() {
    const { headline, ledger } = this.desk.figures;
    this.root.classList.remove('moving');
    this.#live = null;
    say(this.sentence, headline?.sentence ?? '');
    say(this.under, headline?.under ?? '');
    if (!ledger) return;
    this.#paintHead(ledger);
    this.#paintRows(ledger.rows);
    this.#paintNotes(ledger.rows);
    this.#choose();
  }

  #paintHead({ head, scale }) {
    this.#scale = scale;
    const columns = Array.isArray(head) ? head : [];
    const cells = COLUMNS.map((column) => {
      const { words, under = '', align } = { ...column, ...columns.find(({ key }) => key === column.key) };
      const cell = html('th', { scope: 'col', role: 'columnheader', class: `c-${column.key}${align === 'right' ? ' num' : ''}` });
      if (column.key === 'range' && scale) cell.append(hidden('10–90 % range'), scaleOf(scale));
      else if (words === '') cell.append(hidden(column.spoken ?? column.key));
      else cell.append(words, ...(under ? [html('br'), under] : []));
      return cell;
    });
    this.head.replaceChildren(...cells);
  }

  #paintRows(rows) {
    const left = new Set(this.#rows.keys());
    rows.forEach((row, index) => {
      left.delete(row.path);
      if (!this.#rows.has(row.path)) this.#rows.set(row.path, new Row(row.path));
      const { element } = this.#rows.get(row.path);
      this.#rows.get(row.path).show(row, this.#scale);
      if (this.body.children[index] !== element) {
        this.body.insertBefore(element, this.body.children[index] ?? null);
      }
    });
    for (const path of left) {
      this.#rows.get(path).element.remove();
      this.#rows.delete(path);
    }
    this.#shown = rows;
    set(this.table, { 'aria-rowcount': rows.length + 1 });
    if (!this.#rows.has(this.#active)) this.#activate(rows[0]?.path ?? null);
  }

  /** Reasons of dashes that every row shares stand once, under the table. */
  #paintNotes(rows) {
    const reasons = new Set(rows.map((row) => row.inbound_why).filter(Boolean));
    say(this.notes, [...reasons].map((reason) => `STI in: ${reason}.`).join(' '));
  }

  #follow(answer) {
    if (answer.rest && answer.ledger) {
      this.root.classList.remove('moving');
      this.#live = null;
      if (answer.headline) say(this.sentence, answer.headline.sentence);
      this.#scale = answer.ledger.scale ?? this.#scale;
      for (const row of answer.ledger.rows) this.#rows.get(row.path)?.show(row, this.#scale);
    } else {
      this.root.classList.add('moving');
      this.#followMoves(answer.rows ?? []);
    }
    say(this.busy, answer.waits || this.desk.busy);
    this.root.classList.toggle('saying', this.busy.textContent !== '');
  }

  /** Rows keep their places while the hand moves: only figures change, of the rows in sight. */
  #followMoves(rows) {
    this.#live = new Map(rows.map((row) => [row.path ?? row.id, row]));
    // The drawing leads: the map is painted first, figures in the frame after it.
    if (this.#later) return;
    this.#later = true;
    const show = () => {
      this.#later = false;
      this.#showLive();
    };
    if (globalThis.requestAnimationFrame) requestAnimationFrame(() => setTimeout(show, 0));
    else show();
  }

  #showLive() {
    if (this.#live === null) return;
    const { scrollTop, clientHeight } = this.scroll;
    const height = this.body.firstElementChild?.offsetHeight || 1;
    const first = Math.max(0, Math.floor(scrollTop / height) - BEYOND_SIGHT);
    const last = Math.ceil((scrollTop + clientHeight) / height) + BEYOND_SIGHT;
    for (const row of this.#shown.slice(first, last)) {
      const now = this.#live.get(row.path) ?? this.#live.get(row.id);
      if (now) this.#rows.get(row.path).show(moving(row, now), this.#scale);
    }
  }

  /** After the hand let go: what was left unchanged shows its own figures again. */
  #letGo() {
    if (!this.desk.unsettled && this.desk.figures) this.#paint();
    this.#sayBusy();
  }

  #sayBusy() {
    const { busy } = this.desk;
    say(this.busy, busy);
    this.root.classList.toggle('saying', busy !== '');
    this.root.classList.toggle('busy', busy !== '');
    set(this.table, { 'aria-busy': String(busy !== '') });
  }

  // What is pointed at ---------------------------------------------------------------------------

  #choose() {
    for (const [path, row] of this.#rows) {
      set(row.element, { 'aria-selected': String(this.desk.selection.has(path)) });
    }
    const [only] = this.desk.selection;
    if (this.desk.selection.size !== 1 || !this.#rows.has(only)) return;
    this.#activate(only);
    if (!this.body.contains(document.activeElement)) {
      this.#rows.get(only).element.scrollIntoView({ block: 'nearest' });
    }
  }

  #mark(path) {
    this.body.querySelector('.hovered')?.classList.remove('hovered');
    this.#rows.get(path)?.element.classList.add('hovered');
  }

  /** One row at a time can be reached by the tabulator; arrows go on from there. */
  #activate(path) {
    this.#rows.get(this.#active)?.element.setAttribute('tabindex', '-1');
    this.#active = path;
    this.#rows.get(path)?.element.setAttribute('tabindex', '0');
  }

  #press(event) {
    const path = pathOf(event);
    if (path === null) return;
    const add = event.ctrlKey || event.metaKey || event.shiftKey;
    this.desk.select([path], { add });
    if (!add) this.desk.openPath(path);
  }

  #key(event) {
    const path = pathOf(event);
    if (path === null || event.altKey || event.metaKey) return;
    const index = this.#shown.findIndex((row) => row.path === path);
    const last = this.#shown.length - 1;
    const goals = {
      ArrowDown: index + 1,
      ArrowUp: index - 1,
      PageDown: index + PAGE,
      PageUp: index - PAGE,
      Home: 0,
      End: last,
    };
    if (event.key in goals) {
      const goal = this.#shown[Math.min(last, Math.max(0, goals[event.key]))].path;
      this.#rows.get(goal).element.focus();
      this.desk.hover(goal);
    } else if (event.key === 'Enter') {
      this.desk.select([path]);
      this.desk.openPath(path);
    } else if (event.key === ' ') {
      this.desk.select([path], { add: true });
    } else {
      return;
    }
    event.preventDefault();
  }
}

/** One row; its cells are made once and told what changed. */
class Row {
  #state = null;
  #drawn = '';

  constructor(path) {
    this.element = html('tr', { role: 'row', 'data-path': path, tabindex: -1, 'aria-selected': 'false' });
    this.cells = {};
    for (const { key, align } of COLUMNS) {
      this.cells[key] = html('td', { role: 'gridcell', class: `c-${key}${align === 'right' ? ' num' : ''}` });
      this.element.append(this.cells[key]);
    }
    this.word = html('span', { class: 'w' });
    this.bar = picture(WIDTH, HEIGHT, `0 0 ${WIDTH} ${HEIGHT}`, { class: 'iv' });
    this.spoken = hidden('');
    this.cells.state.append(this.word);
    this.cells.range.append(this.spoken, this.bar);
  }

  show(row, scale) {
    const { cells } = this;
    this.#showState(row.state);
    for (const key of ['id', 'sti', 'band', 'chance', 'inbound', 'inbound_level']) say(cells[key], row[key] ?? '–');
    const unknown = row.state === 'not assessed' && row.why;
    say(cells.binds, unknown ? row.why : (row.binds ?? ''));
    set(cells.binds, { title: unknown ? row.why : null });
    for (const key of ['inbound', 'inbound_level']) {
      set(cells[key], { title: row.inbound_why || row.inbound_words || null });
    }
    set(cells.sti, { title: row.rating && row.rating !== '–' ? row.rating : null });
    set(cells.id, { title: row.arrangement ? `${row.id}, ${row.arrangement}` : null });
    this.#draw(row, scale);
  }

  #showState(state) {
    if (state === this.#state) return;
    this.#state = state;
    this.cells.state.replaceChildren(stateMark(state), this.word);
    say(this.word, state);
    this.element.dataset.state = state;
  }

  #draw(row, scale) {
    const key = scale ? [row.low, row.middle, row.high, scale.low, scale.high, scale.promise].join() : '';
    if (key === this.#drawn) return;
    this.#drawn = key;
    this.bar.replaceChildren();
    if (!scale) return;
    const y = HEIGHT / 2;
    make('path', { class: 'axis', d: `M0 ${y}H${WIDTH}` }, this.bar);
    if (row.low !== null && row.high !== null) this.#drawRange(row, scale, y);
    if (row.middle !== null && row.middle !== undefined) {
      const d = `M${along(scale, row.middle)} 2V12`;
      make('path', { class: 'gap', d }, this.bar);
      make('path', { class: 'middle', d }, this.bar);
    }
    if (scale.promise !== null) make('path', { class: 'promise', d: `M${along(scale, scale.promise)} 0V14` }, this.bar);
    say(this.spoken, spokenRange(row));
  }

  #drawRange(row, scale, y) {
    for (const [kind, ends] of Object.entries(parts(scale, row))) {
      if (ends === null) continue;
      const [from, to] = ends;
      make('rect', { class: kind, x: from, y: y - 2.5, width: to - from, height: 5 }, this.bar);
    }
  }
}

function spokenRange({ low, high }) {
  if (typeof low !== 'number' || typeof high !== 'number') return '';
  return `${low.toFixed(2)} to ${high.toFixed(2)}`;
}

/** The scale in the head: ticks, figures where there is room, the promise. */
function scaleOf(scale) {
  const drawn = picture(WIDTH, 22, `0 0 ${WIDTH} 22`, { class: 'scale' });
  const promise = scale.promise === null ? null : along(scale, scale.promise);
  const taken = [];
  const write = (words, x, kind = '') => {
    const middle = Math.min(WIDTH - HALF_WORDS, Math.max(HALF_WORDS, x));
    if (taken.some((other) => Math.abs(other - middle) < APART)) return;
    taken.push(middle);
    say(make('text', { class: kind, x: middle, y: 15, 'text-anchor': 'middle' }, drawn), words);
  };
  if (promise !== null) {
    make('path', { class: 'promise', d: `M${promise} 17V22` }, drawn);
    write(scale.promise_words ?? scale.promise.toFixed(2), promise, 'promise-words');
  }
  for (const [value, words] of scale.ticks) {
    const x = Math.min(WIDTH - 0.5, Math.max(0.5, along(scale, value)));
    make('path', { class: 'tick', d: `M${x} 18V22` }, drawn);
    if (words) write(words, x);
  }
  return drawn;
}

function hidden(words) {
  return html('span', { class: 'unseen' }, words);
}

function pathOf(event) {
  return event.target.closest?.('tr[data-path]')?.dataset.path ?? null;
}
