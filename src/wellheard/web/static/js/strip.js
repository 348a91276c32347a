/** The path strip: one path of a voice as a line of stations, with every figure's working behind it. */

import { capital, html, picture, talks } from './build.js';
import { make, say } from './plan/svg.js';

const INVITATION = 'Choose a seat in the ledger or on the plan to follow its voice to the far end and back.';
const LEAST_TO_VIEW = 8; // [px]

export class Strip {
  #off = new AbortController();
  #open = null;
  #asked = false;
  #numbers = 0;

  /**
   * @param {HTMLElement} root
   * @param {import('./desk.js').Desk} desk
   */
  constructor(root, desk) {
    this.desk = desk;
    this.root = root;
    this.title = html('h2');
    this.ways = html('div', { class: 'ways', role: 'group', 'aria-label': 'Path that is followed' });
    this.note = html('p', { class: 'note strip-note', hidden: true });
    this.words = html('p', { class: 'soft strip-words' });
    this.table = html('table', { class: 'strip' });
    root.classList.add('strip-part');
    root.append(
      html('div', { class: 'strip-head' }, this.title, this.ways),
      this.words,
      html('div', { class: 'strip-scroll' }, this.table),
      this.note,
    );
    const { signal } = this.#off;
    const on = (name, told) => desk.addEventListener(name, told, { signal });
    on('path', () => this.#paint());
    on('figures', () => this.#first());
    on('selection', () => this.#follow());
    on('busy', () => this.#sayBusy());
    document.addEventListener('keydown', (event) => this.#key(event), { signal });
    document.addEventListener('pointerdown', (event) => this.#outside(event), { signal });
    addEventListener('resize', () => this.#closeWorking(false), { signal });
    this.#paint();
    if (desk.figures) this.#first();
  }

  /** Stop listening. */
  close() {
    this.#closeWorking(false);
    this.#off.abort();
  }

  /** Nothing chosen yet: the worst place that is assessed. */
  #first() {
    if (this.desk.path !== null || this.desk.pathWords !== '' || this.#asked) return;
    const worst = (this.desk.figures.ledger?.rows ?? []).find(({ state }) => state !== 'not assessed');
    if (!worst) return;
    this.#ask(worst.path);
  }

  /** A single seat or standing area that is chosen anywhere is followed. */
  #follow() {
    const [only] = this.desk.selection;
    if (this.desk.selection.size !== 1 || !talks(only)) return;
    this.#ask(only);
  }

  #ask(path) {
    this.#asked = true;
    if (this.desk.path === null) say(this.words, 'Following the voice…');
    this.desk.openPath(path);
  }

  #paint() {
    const { path, pathWords } = this.desk;
    this.#closeWorking(this.#open !== null);
    const there = path !== null && Array.isArray(path.stations);
    this.title.replaceChildren(path?.title ?? 'Voice path');
    if (path?.under) this.title.append(html('span', {}, path.under));
    if (path?.end) this.title.append(endWords(path.end));
    this.#paintWays(path?.ways ?? []);
    say(this.note, path?.note ?? '');
    this.note.hidden = !path?.note;
    say(this.words, there ? '' : pathWords || INVITATION);
    this.words.hidden = there;
    this.table.hidden = !there;
    if (there) this.#paintTable(path);
    else this.table.replaceChildren();
  }

  /** One word for each path; the one followed is pressed, one that is not there says why. */
  #paintWays(ways) {
    const had = this.ways.contains(document.activeElement) ? document.activeElement.dataset.way : null;
    const buttons = ways.map(({ key, word, why = '' }) => {
      const pressed = key === (this.desk.path?.way ?? this.desk.way);
      const button = html(
        'button',
        { type: 'button', class: why ? 'word missing' : 'word', 'data-way': key, 'aria-pressed': String(pressed), title: why ? `– ${why}` : null },
        why ? `${word} –` : word,
        why ? html('span', { class: 'unseen' }, ` not assessed: ${why}`) : null,
      );
      button.addEventListener('click', () => this.desk.follow(key));
      return button;
    });
    this.ways.replaceChildren(...buttons);
    this.ways.hidden = buttons.length === 0;
    if (had) this.ways.querySelector(`[data-way="${had}"]`)?.focus();
  }

  #paintTable(path) {
    const heads = path.stations.map((station, index) => this.#station(path, station, index));
    const head = html('tr', {}, html('td', { class: 'corner' }), ...heads);
    const rows = path.rows.map((row) =>
      html(
        'tr',
        {},
        html('th', { scope: 'row' }, html('strong', {}, row.name), row.word ? html('span', { class: 'note' }, row.word) : null),
        ...row.cells.map((cell, index) => html('td', {}, this.#figure(path, row, cell, index))),
      ),
    );
    this.table.setAttribute('aria-label', `${path.title}: ${path.under ?? ''}`);
    this.table.replaceChildren(html('thead', {}, head), html('tbody', {}, ...rows));
  }

  #station(path, station, index) {
    const { stations, between, binds } = path;
    const last = stations.length - 1;
    const dot = picture(16, 16, '-8 -8 16 16', { class: 'dot' });
    make('circle', { r: 6, class: index === binds ? 'st bind' : 'st' }, dot);
    const place = index === 0 ? ' first' : index === last ? ' last' : '';
    return html(
      'th',
      { scope: 'col', class: `station${place}` },
      html('span', { class: 'name' }, this.#stationName(path, station)),
      index < last ? html('span', { class: 'between' }, between[index] ?? '') : null,
      html('span', { class: 'line' }, dot),
      html('span', { class: 'note' }, station.under ?? ''),
      index === binds ? html('span', { class: 'unseen' }, ' binds') : null,
    );
  }

  /** The name of a station; everything that is worked out there is behind it. */
  #stationName({ working = {} }, { name, workings = [] }) {
    const all = workings.map((key) => working[key]).filter(Boolean);
    if (all.length === 0) return name;
    const button = html('button', { type: 'button', 'aria-expanded': 'false', 'aria-label': `${name}: show what is worked out there` }, name);
    button.addEventListener('click', () => this.#toggle(button, (id) => stationSheet(id, name, all)));
    return button;
  }

  #figure({ working = {}, stations }, row, cell, index) {
    const { figure, unit = '', working: key, why = '' } = cell ?? { figure: '–' };
    const parts = [html('span', { class: 'f' }, figure), html('span', { class: 'u' }, unit)];
    const station = stations[index]?.name ?? '';
    const opened = key && working[key] ? working[key] : why ? { quantity: row.name, why } : null;
    if (opened === null) return html('span', { class: 'fig' }, ...parts);
    const spoken = `${row.name}, ${station}: ${figure} ${unit}`.trim();
    const button = html(
      'button',
      { type: 'button', class: 'fig', 'aria-expanded': 'false', 'aria-label': `${spoken}, show its working`, title: why || null },
      ...parts,
    );
    button.addEventListener('click', () => this.#toggle(button, (id) => workingSheet(id, opened, station)));
    return button;
  }

  // The working of one figure --------------------------------------------------------------------

  #toggle(button, make) {
    const same = this.#open?.button === button;
    this.#closeWorking(same);
    if (same) return;
    this.#numbers += 1;
    const id = `working-${this.#numbers}`;
    const sheet = make(id);
    sheet.querySelector('.close').addEventListener('click', () => this.#closeWorking(true));
    button.setAttribute('aria-expanded', 'true');
    button.setAttribute('aria-controls', id);
    this.root.append(sheet);
    this.#open = { button, sheet };
    settleNear(sheet, button);
    sheet.focus();
  }

  #closeWorking(focus) {
    if (this.#open === null) return;
    const { button, sheet } = this.#open;
    this.#open = null;
    sheet.remove();
    button.setAttribute('aria-expanded', 'false');
    button.removeAttribute('aria-controls');
    if (focus && button.isConnected) button.focus();
  }

  #key(event) {
    if (event.key !== 'Escape' || this.#open === null) return;
    event.stopPropagation();
    this.#closeWorking(true);
  }

  #outside(event) {
    if (this.#open === null) return;
    const { button, sheet } = this.#open;
    if (!sheet.contains(event.target) && !button.contains(event.target)) this.#closeWorking(false);
  }

  #sayBusy() {
    this.root.classList.toggle('busy', this.desk.busy !== '');
  }
}

/** The words at the far end, with the quantity and its figure in Medium. */
function endWords(words) {
  const [, before, figure, after] = /^(.*?)(STI [\d.]+)(.*)$/.exec(words) ?? [null, words, '', ''];
  return html('span', { class: 'end' }, before, figure ? html('strong', {}, figure) : null, after);
}

/** The sheet of one figure. */
function workingSheet(id, working, station) {
  const { quantity = '' } = working;
  return sheetOf(id, quantity, station, resultOf(working, 'p', 'result'), ...workingParts(working));
}

/** The sheet of a station: all that is worked out there, each to be opened. */
function stationSheet(id, name, all) {
  const entries = all.map((working) =>
    html(
      'details',
      {},
      html('summary', {}, html('span', {}, capital(working.quantity)), resultOf(working, 'strong', '')),
      ...workingParts(working),
    ),
  );
  const sheet = sheetOf(id, name, `${all.length} steps`, ...entries);
  sheet.classList.add('wide');
  return sheet;
}

function sheetOf(id, title, under, ...inside) {
  return html(
    'section',
    { id, class: 'working', role: 'dialog', 'aria-label': `Working of ${title}`, tabindex: -1 },
    html('button', { type: 'button', class: 'word close' }, 'close'),
    html('h3', {}, capital(title), under ? html('span', { class: 'soft' }, under) : ''),
    ...inside,
  );
}

function resultOf({ value = '', unit = '' }, tag, kind) {
  return value === '' ? null : html(tag, { class: kind || null }, unit === '°' ? `${value}°` : [value, unit].filter(Boolean).join('\u00a0'));
}

/** Formula, octaves, inputs, source and limits; or why there is none of it. */
function workingParts({ why = '', formula = '', unit = '', bands = [], inputs = [], source = '', limits = '' }) {
  const rows = inputs.map(([name, given, more = '']) =>
    html('tr', {}, html('th', { scope: 'row' }, name), html('td', { class: 'num' }, [given, more].filter(Boolean).join('\u00a0'))),
  );
  return [
    why ? html('p', {}, `Not assessed: ${why}.`) : null,
    formula ? html('p', { class: 'formula' }, formula) : null,
    bands.length ? octaves(bands, unit) : null,
    rows.length ? html('table', {}, html('tbody', {}, ...rows)) : null,
    source ? html('p', { class: 'note' }, html('strong', {}, 'Source'), ' ', source) : null,
    limits ? html('p', { class: 'note' }, html('strong', {}, 'Limits'), ' ', limits) : null,
  ];
}

function octaves(bands, unit) {
  const cells = (tag, at) => bands.map((band) => html(tag, { class: 'num' }, band[at]));
  return html(
    'table',
    { class: 'octaves' },
    html('thead', {}, html('tr', {}, html('th', { scope: 'col' }, 'Hz'), ...cells('th', 0))),
    html('tbody', {}, html('tr', {}, html('th', { scope: 'row' }, unit), ...cells('td', 1))),
  );
}

/** Beside the figure, above it where there is room, never outside the window. */
function settleNear(sheet, button) {
  const at = button.getBoundingClientRect();
  const { width, height } = sheet.getBoundingClientRect();
  const left = Math.min(innerWidth - width - LEAST_TO_VIEW, Math.max(LEAST_TO_VIEW, at.left));
  const above = at.top - height - LEAST_TO_VIEW;
  const top = above >= LEAST_TO_VIEW ? above : Math.min(at.bottom + LEAST_TO_VIEW, innerHeight - height - LEAST_TO_VIEW);
  sheet.style.left = `${left}px`;
  sheet.style.top = `${Math.max(LEAST_TO_VIEW, top)}px`;
}
