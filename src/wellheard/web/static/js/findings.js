/** Findings: what is wrong, what to do, and where; what is not assessed comes last. */

import { badness, capital, html, stateMark } from './build.js';
import { followedOf } from './follow.js';

const AFTER = 1500; // the room rests before changes are tried [ms]

/** Findings with what is broken first and what is not assessed last; otherwise as they come. */
export function ordered(rows) {
  return [...rows].sort((one, other) => badness(one.state) - badness(other.state));
}

export class FindingList {
  #off = new AbortController();

  /**
   * @param {HTMLElement} root
   * @param {import('./desk.js').Desk} desk
   */
  constructor(root, desk) {
    this.desk = desk;
    this.root = root;
    this.list = html('ul', { class: 'finds', 'aria-label': 'Findings' });
    this.empty = html('p', { class: 'soft nothing-found', hidden: true });
    root.classList.add('findings-part');
    this.trying = html('p', { class: 'note finds-trying', role: 'status' });
    root.append(this.list, this.empty, this.trying);
    this.changes = followedOf(desk, 'remedies', { on: 'figures', afterMs: AFTER });
    const { signal } = this.#off;
    const on = (name, told) => desk.addEventListener(name, told, { signal });
    on('figures', () => this.#paint());
    on('plan', () => this.#offer());
    on('edit', () => this.#offer());
    on('side', ({ detail }) => this.changes.look(this, detail === 'findings'));
    this.changes.addEventListener('answer', () => this.#offer(), { signal });
    on('busy', () => this.#sayBusy());
    on('selection', () => this.#choose());
    on('hover', ({ detail }) => this.#mark(detail));
    this.list.addEventListener('pointerover', (event) => desk.hover(placeOf(event)), { signal });
    this.list.addEventListener('pointerleave', () => desk.hover(null), { signal });
    this.changes.look(this, (desk.side ?? 'findings') === 'findings');
    if (desk.figures) this.#paint();
    this.#sayBusy();
  }

  /** Stop listening to the desk. */
  close() {
    this.#off.abort();
    this.changes.look(this, false);
  }

  #paint() {
    const rows = ordered(this.desk.figures.findings?.rows ?? []);
    const numbers = new Map((this.desk.figures.findings?.rows ?? []).map((row, i) => [row, i + 1]));
    this.list.replaceChildren(...rows.map((row) => this.#entry(row, numbers.get(row))));
    this.empty.hidden = rows.length > 0;
    this.empty.textContent = 'Nothing found: every rule is kept.';
    this.#offer();
    this.#choose();
  }

  /** Put changes that were tried for this very version to their findings; others go. */
  #offer() {
    const { answer, why, current } = this.changes;
    const tried = current && answer.state === 'tried' ? answer.rows : [];
    for (const entry of this.list.children) {
      const { code, field, message } = entry.dataset;
      const change = tried.find((one) => one.code === code && one.field === field && one.message === message);
      entry.querySelector('.changes').replaceChildren(...(change ? this.#change(change) : []));
    }
    this.trying.textContent = why ? `No changes could be tried: ${why}` : current ? progress(answer) : '';
  }

  #change(change) {
    const make = html('button', { type: 'button', class: 'word' }, 'Make this change');
    make.addEventListener('click', () => this.#make(change));
    const worse = change.worsens.length > 0 ? html('p', { class: 'worse' }, `Worse with it: ${change.worsens.join(' ')}`) : null;
    return [
      html('p', { class: 'change' }, make, change.says),
      html('p', { class: 'soft' }, [change.achieves, change.note].filter(Boolean).join(' ')),
      worse,
    ].filter(Boolean);
  }

  /** Commit what was tried, on the version that it was tried on or not at all. */
  #make({ operations, says }) {
    if (!this.changes.current) return;
    this.desk.commit(operations, says.replace(/\.$/, ''), { exact: true });
  }

  #entry(row, number) {
    const { state, at, message, remedy, source, code } = row;
    // the number that stands on the plan, where the finding has a place
    const mark = row.shown_at ? html('span', { class: 'nr' }, String(number)) : null;
    const note = row.severity === 'note' && state === 'at risk'; // told, and no state of the promise
    const words = html(
      'div',
      {},
      html('p', {}, html('strong', {}, `${capital(note ? 'note' : state)}.`), ' ', message),
      remedy ? html('p', { class: 'soft' }, remedy) : null,
      html('p', { class: 'note' }, source ? `${code}: ${source}` : code),
      html('div', { class: 'changes' }),
    );
    const acts = html('div', { class: 'acts' }, this.#act(row));
    return html('li', { 'data-at': at || null, 'data-code': code, 'data-field': row.field ?? '', 'data-message': message }, html('span', {}, note ? null : stateMark(state, 16), mark), words, acts);
  }

  #act(row) {
    if (row.at || row.shown_at) {
      return this.#button('show', row, () => this.desk.point(row.at, row.shown_at ?? null));
    }
    if (!this.#fieldOfRoom(row.field)) return null;
    return this.#button('open', row, () => {
      this.desk.field = row.field; // the panel goes to it
      this.desk.dispatchEvent(new CustomEvent('open', { detail: 'room' }));
    });
  }

  #button(word, row, pressed) {
    const button = html('button', { type: 'button', class: 'word', 'aria-label': `${word}: ${row.message}` }, word);
    button.addEventListener('click', pressed);
    return button;
  }

  #fieldOfRoom(field) {
    return Boolean(field) && (this.desk.plan?.aspects?.room ?? []).some(({ path }) => path === field);
  }

  #sayBusy() {
    this.root.classList.toggle('busy', this.desk.busy !== '');
  }

  #choose() {
    for (const entry of this.list.children) {
      entry.classList.toggle('chosen', this.desk.selection.has(entry.dataset.at));
    }
  }

  #mark(path) {
    for (const entry of this.list.children) {
      entry.classList.toggle('hovered', path !== null && entry.dataset.at === path);
    }
  }
}

/** What is said while changes are tried, and where that failed. */
function progress({ state, words, rows }) {
  if (state === 'trying') return `Looking for changes that mend these – ${words}`;
  if (state === 'failed') return `No changes could be tried: ${words}`;
  return rows.length > 0 ? '' : 'No change that was tried mends any of these.';
}

function placeOf(event) {
  return event.target.closest?.('li')?.dataset.at ?? null;
}
