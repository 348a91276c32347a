/** The way back beside the plan: what is played, echo by microphone, the loop of a lift, delays. */

import { html, stateMark } from './build.js';

const CELLS = ['return_loss', 'needed', 'to_add', 'can_add', 'by', 'tail_needed', 'tail', 'canceller'];

/** What stands in a cell of the echo table; figures that are lacking say why. */
export function cellOf(row, key) {
  const words = row[key] ?? '–';
  return { words, why: words === '–' ? row.why || null : null };
}

export class WayBack {
  #off = new AbortController();

  /**
   * @param {HTMLElement} root
   * @param {import('./desk.js').Desk} desk
   */
  constructor(root, desk) {
    this.desk = desk;
    this.root = root;
    root.classList.add('back-part');
    const { signal } = this.#off;
    desk.addEventListener('figures', () => this.#paint(), { signal });
    desk.addEventListener('busy', () => this.#sayBusy(), { signal });
    desk.addEventListener('selection', () => this.#choose(), { signal });
    root.addEventListener('click', (event) => this.#press(event), { signal });
    if (desk.figures) this.#paint();
    this.#sayBusy();
  }

  /** Stop listening to the desk. */
  close() {
    this.#off.abort();
  }

  #paint() {
    const back = this.desk.figures.back ?? { why: 'there are no figures of it' };
    const parts = back.why
      ? [html('p', { class: 'soft' }, `Playback, echo and lift are not assessed: ${back.why}.`)]
      : [html('p', {}, back.playback), html('h4', {}, 'Echo'), html('p', {}, back.echo_words), echoTable(back), ...loop(back.loop)];
    this.root.replaceChildren(...parts, ...delays(back.delays ?? []));
    this.#choose();
  }

  #press(event) {
    const path = event.target.closest?.('button[data-path]')?.dataset.path;
    if (path) this.desk.point(path);
  }

  #choose() {
    for (const row of this.root.querySelectorAll('tr[data-path]')) {
      row.classList.toggle('chosen', this.desk.selection.has(row.dataset.path));
    }
  }

  #sayBusy() {
    this.root.classList.toggle('busy', this.desk.busy !== '');
  }
}

function side(align) {
  return align === 'right' ? 'num' : null;
}

function echoTable({ head, echo }) {
  const align = Object.fromEntries(head.map((column) => [column.key, column.align]));
  const heads = head.map(({ words, under, align: at }) =>
    html('th', { scope: 'col', class: side(at) }, words, under ? html('br') : '', under),
  );
  const rows = echo.map((row) =>
    html(
      'tr',
      { 'data-path': row.path, 'data-state': row.state },
      html('td', { class: 'c-state' }, stateMark(row.state), html('span', { class: 'w' }, row.state)),
      html('td', {}, html('button', { type: 'button', class: 'word', 'data-path': row.path, 'aria-label': `show ${row.id} on the plan` }, row.id)),
      ...CELLS.map((key) => {
        const { words, why } = cellOf(row, key);
        return html('td', { class: side(align[key]), title: why }, words);
      }),
    ),
  );
  return html(
    'table',
    { class: 'echo', 'aria-label': 'Echo by microphone, worst first' },
    html('thead', {}, html('tr', {}, ...heads)),
    html('tbody', {}, ...rows),
  );
}

function loop(found) {
  if (!found) return [];
  return [
    html('h4', {}, 'Lift'),
    html('p', { class: 'loop' }, stateMark(found.state), html('span', {}, found.words)),
    html('p', { class: 'note' }, found.note),
  ];
}

function delays(rows) {
  if (rows.length === 0) return [];
  const lines = rows.map(({ word, ms, parts }) =>
    html('tr', {}, html('th', { scope: 'row' }, word), html('td', { class: 'num' }, ms), html('td', { class: 'note' }, parts)),
  );
  return [
    html('h4', {}, 'Delay, ms'),
    html('table', { class: 'delays', 'aria-label': 'Delays' }, html('tbody', {}, ...lines)),
  ];
}
