/** The side panel: every property of one item, or of the room, to read and to change. */

import { html, stateMark } from './build.js';
import { problemWords } from './outbox.js';

const NOTHING = 'Choose something on the plan, or open the room.';
const COPY_BY = 0.5; // towards the middle of the room [m]
const LISTS = [
  'seats', 'standing', 'furniture', 'displays', 'devices', 'overhead', 'sources', 'equipment',
  'patches', 'obstacles', 'partitions', 'walls',
];
const UNTOUCHED = /^(room$|space\.(walls|outline)\.)/; // neither copied nor removed as a whole
const TURNABLE = /^(people\.seats|devices|furniture|noise\.sources)\./;

/** The entry of the plan that a path names, or null. */
export function entryOf(plan, path) {
  for (const list of LISTS) {
    const found = (plan?.[list] ?? []).find((entry) => entry.path === path);
    if (found) return found;
  }
  return null;
}

/**
 * The operation that a changed field makes: a choice is set, everything else goes as it was typed.
 *
 * @param {{path: string, kind: string}} row
 * @param {string} value as the field has it
 */
export function operationOf(row, value) {
  if (row.kind === 'finish' || row.kind === 'product') return { path: row.path, set: value };
  return { path: row.path, typed: value };
}

/** Problems that belong to a field: those of its path or of what it is a part of, or else all. */
export function problemsAt(path, problems) {
  const near = problems.filter(({ where }) => where && (path.startsWith(where) || where.startsWith(path)));
  return near.length > 0 ? near : problems;
}

export class Panel {
  #off = new AbortController();
  #fields = new Map();
  #shape = '';

  /**
   * @param {HTMLElement} root
   * @param {import('./desk.js').Desk} desk
   */
  constructor(root, desk) {
    this.desk = desk;
    this.root = root;
    this.path = null;
    this.head = html('header', { class: 'panel-head' });
    this.rows = html('div', { class: 'panel-rows' });
    this.acts = html('div', { class: 'panel-acts' });
    this.words = html('p', { class: 'wrong', role: 'alert', hidden: true });
    root.classList.add('panel-part');
    root.append(this.head, this.words, this.rows, this.acts);
    const { signal } = this.#off;
    const on = (name, told) => desk.addEventListener(name, told, { signal });
    on('open', ({ detail }) => this.show(detail));
    on('selection', () => this.#follow());
    on('plan', () => this.#paint());
    on('figures', () => this.#paintHead());
    this.#follow();
  }

  /** Stop listening to the desk. */
  close() {
    this.#off.abort();
  }

  /** Show an item, or 'room'. */
  show(path) {
    this.#flush();
    this.path = path;
    this.#paint();
    const field = this.#fields.get(this.desk.field);
    this.desk.field = null;
    if (!field) return;
    field.element.scrollIntoView({ block: 'center' });
    field.input.focus();
  }

  #follow() {
    const chosen = [...this.desk.selection];
    if (chosen.length === 0 && this.path === 'room') return;
    this.#flush();
    this.path = chosen.length === 1 ? chosen[0] : null;
    this.#paint();
  }

  /** What was typed and not confirmed is not lost when something else is chosen. */
  #flush() {
    for (const field of this.#fields.values()) field.commit();
  }

  #paint() {
    const known = this.desk.plan?.aspects?.[this.path] ?? null;
    this.#say('');
    this.#paintHead();
    this.#paintRows(known ?? []);
    this.#paintActs(known !== null);
  }

  // Title ----------------------------------------------------------------------------------------

  #paintHead() {
    const { selection, plan } = this.desk;
    if (this.path === null) {
      const words = selection.size > 1 ? `${selection.size} things are chosen.` : NOTHING;
      this.head.replaceChildren(html('p', { class: 'soft' }, words));
      return;
    }
    const [title, under] = titleOf(plan, this.path);
    const mark = this.desk.figures?.marks?.[this.path];
    const state = mark ? html('span', { class: 'panel-state' }, stateMark(mark.state), mark.state, ' ', html('strong', {}, mark.figure ?? '')) : null;
    this.head.replaceChildren(html('h3', {}, title), under ? html('span', { class: 'soft' }, under) : '', state ?? '');
  }

  // Rows -----------------------------------------------------------------------------------------

  #paintRows(rows) {
    const shape = `${this.path}|${rows.map(shapeOf).join('|')}`;
    if (shape !== this.#shape) {
      this.#shape = shape;
      this.#build(rows);
    }
    for (const row of rows) this.#fields.get(row.path).update(row);
  }

  #build(rows) {
    this.#fields.clear();
    let group = null;
    const built = [];
    for (const row of rows) {
      if (row.group && row.group !== group) built.push(html('h4', {}, row.group));
      group = row.group ?? null;
      const field = new Field(row, (changed, value) => this.#change(changed, value));
      this.#fields.set(row.path, field);
      built.push(field.element);
    }
    this.rows.replaceChildren(...built);
  }

  async #change(row, value) {
    const field = this.#fields.get(row.path);
    const [title] = titleOf(this.desk.plan, this.path);
    const of = this.path === 'room' ? '' : ` of ${title}`;
    try {
      await this.desk.commit([operationOf(row, value)], `${row.word.toLowerCase()}${of}`);
      field?.accept();
    } catch (unsaved) {
      field?.refuse(unsaved);
    }
  }

  // Buttons --------------------------------------------------------------------------------------

  #paintActs(known) {
    const paths = this.path === null ? [...this.desk.selection] : [this.path];
    const whole = paths.length > 0 && paths.every((path) => !UNTOUCHED.test(path));
    if (!whole || (this.path !== null && !known)) {
      this.acts.replaceChildren();
      return;
    }
    const devices = paths.map((path) => entryOf(this.desk.plan, path)).filter((entry) => entry && 'locked' in entry);
    const all = paths.length === 1 ? (titleOf(this.desk.plan, paths[0])[0] ?? '') : `${paths.length} things`;
    const acts = [];
    if (devices.length === paths.length) {
      const lock = devices.some(({ locked }) => !locked);
      const word = lock ? 'lock' : 'unlock';
      const set = devices.map(({ path }) => ({ path: `${path}.locked`, set: lock }));
      acts.push(this.#act(word, () => this.#commit(set, `${word} ${all}`)));
    }
    if (paths.every((path) => TURNABLE.test(path))) {
      acts.push(this.#act('turn 15°', () => this.#commit([{ do: 'turn', items: paths, by_deg: 15 }], `turn ${all}`)));
    }
    acts.push(
      this.#act('duplicate', async () => {
        const done = await this.#commit([{ do: 'copy', items: paths, by: this.#inwards(paths) }], `duplicate ${all}`);
        if (done?.created?.length) this.#choose(done.created);
      }),
      this.#act('remove', () => this.#commit([{ do: 'remove', items: paths }], `remove ${all}`)),
    );
    this.acts.replaceChildren(...acts, this.#seatsRound(paths) ?? '');
  }

  /** A table offers to be sat round. */
  #seatsRound(paths) {
    const table = paths.length === 1 ? entryOf(this.desk.plan, paths[0]) : null;
    if (table?.kind !== 'table') return null;
    const count = html('input', { type: 'number', min: 1, max: 60, value: 8, class: 'field', 'aria-label': 'how many seats' });
    const button = this.#act('seat them', () => {
      const operation = { do: 'seats-around', table: table.id, count: Number(count.value) };
      this.#commit([operation], `${count.value} seats round ${table.id}`);
    });
    return html('span', { class: 'panel-round' }, count, ' seats round it: ', button);
  }

  /** What was made is chosen as soon as it is drawn. */
  #choose(paths) {
    const there = () => paths.every((path) => path in (this.desk.plan?.aspects ?? {}));
    if (there()) this.desk.select(paths);
    else this.desk.addEventListener('plan', () => there() && this.desk.select(paths), { once: true, signal: this.#off.signal });
  }

  async #commit(operations, what) {
    this.#say('');
    try {
      return await this.desk.commit(operations, what);
    } catch (unsaved) {
      this.#say(unsaved.message);
      return null;
    }
  }

  #inwards(paths) {
    const { bounds } = this.desk.plan;
    const entry = entryOf(this.desk.plan, paths[0]);
    const at = entry?.at ?? middle(entry?.outline ?? []);
    if (!at || !bounds) return [COPY_BY, 0];
    const centre = (bounds[0] + bounds[2]) / 2;
    return [at[0] > centre ? -COPY_BY : COPY_BY, 0];
  }

  #act(word, pressed) {
    const button = html('button', { type: 'button', class: 'word' }, word);
    button.addEventListener('click', pressed);
    return button;
  }

  #say(words) {
    this.words.textContent = words;
    this.words.hidden = words === '';
  }
}

/** One property: its word, what it is, how it is known, and what was wrong with the last change. */
class Field {
  #row;
  #sent = null; // on its way to the server
  #accepted = null; // saved, not drawn yet
  #refused = null;
  #numbers = Field.#next();
  static #count = 0;

  static #next() {
    Field.#count += 1;
    return Field.#count;
  }

  constructor(row, changed) {
    this.#row = row;
    this.changed = changed;
    const id = `field-${this.#numbers}`;
    this.input = inputOf(row, id);
    this.told = html('span', { class: 'note told-word' });
    this.error = html('p', { class: 'wrong', id: `${id}-wrong`, hidden: true });
    this.element = html(
      'div',
      { class: `panel-row kind-${row.kind}` },
      html('label', { for: id }, row.word),
      html('span', { class: 'panel-value' }, this.input, this.told),
      suggestions(row, id),
      this.error,
    );
    this.input.addEventListener('keydown', (event) => this.#key(event));
    this.input.addEventListener('change', () => this.commit());
    this.input.addEventListener('blur', () => this.commit());
  }

  /** What the field says now. */
  get value() {
    if (this.#row.kind === 'toggle') return this.input.checked ? 'yes' : 'no';
    return this.input.value.trim();
  }

  /** Take what the document says, unless something else is being typed here. */
  update(row) {
    const typing = document.activeElement === this.input && this.value !== this.#row.value;
    const wrong = !this.error.hidden;
    const kept = this.#sent !== null || wrong || (typing && this.#accepted !== this.value);
    this.#row = row;
    const italic = row.told === 'told' || row.told === 'assumed';
    this.element.classList.toggle('italic', italic);
    this.told.textContent = row.told ?? '';
    if (!kept) this.#show(row.value);
  }

  /** Send the change, if there is one. */
  commit() {
    const { value } = this;
    if (value === this.#row.value || value === this.#sent || value === this.#refused) return;
    if (value === this.#accepted) return; // on its way into the plan
    this.#clear();
    this.#sent = value;
    this.#accepted = null;
    this.changed(this.#row, value);
  }

  /** The server has what was sent: what it made of it is shown with the next plan. */
  accept() {
    this.#accepted = this.#sent;
    this.#sent = null;
  }

  /** Say at the field what was wrong; what was typed stays, to be put right. */
  refuse({ problems, message }) {
    this.#refused = this.#sent;
    this.#sent = null;
    const told = problemsAt(this.#row.path, problems).map(problemWords).filter(Boolean);
    this.error.textContent = told.length ? told.join('; ') : message;
    this.error.hidden = false;
    this.input.setAttribute('aria-invalid', 'true');
    this.input.setAttribute('aria-describedby', this.error.id);
  }

  #show(value) {
    this.#accepted = null;
    if (this.#row.kind === 'toggle') this.input.checked = value === 'yes';
    else if (this.input.value !== value) this.input.value = value;
  }

  #clear() {
    this.#refused = null;
    this.error.hidden = true;
    this.error.textContent = '';
    this.input.removeAttribute('aria-invalid');
    this.input.removeAttribute('aria-describedby');
  }

  #key(event) {
    if (event.key === 'Enter') {
      event.preventDefault();
      this.commit();
    } else if (event.key === 'Escape' && (this.value !== this.#row.value || !this.error.hidden)) {
      event.stopPropagation();
      this.#clear();
      this.#show(this.#row.value);
    }
  }
}

function inputOf(row, id) {
  if (row.kind === 'toggle') return html('input', { type: 'checkbox', id });
  const suggests = row.kind === 'facing';
  if (row.choices && !suggests) {
    const options = row.choices.map(choiceOf);
    if (!options.some(({ value }) => value === row.value)) {
      options.unshift({ value: row.value, words: row.value || '–' });
    }
    return html('select', { id, class: 'field' }, ...options.map(({ value, words }) => html('option', { value }, words)));
  }
  return html('input', {
    type: 'text',
    id,
    class: 'field',
    autocomplete: 'off',
    spellcheck: 'false',
    list: suggests && row.choices ? `${id}-choices` : null,
  });
}

function suggestions(row, id) {
  if (row.kind !== 'facing' || !row.choices) return null;
  const options = row.choices.map(choiceOf).map(({ value, words }) => html('option', { value }, words));
  return html('datalist', { id: `${id}-choices` }, ...options);
}

function choiceOf(choice) {
  return typeof choice === 'string' ? { value: choice, words: choice } : choice;
}

/** What a row must keep so that its field can stay: a field with the cursor in it is not replaced. */
function shapeOf({ path, word, kind, choices, group }) {
  return [path, word, kind, group ?? '', ...(choices ?? []).map((choice) => choiceOf(choice).value)].join('\u0001');
}

/** Name and second name of an item. */
function titleOf(plan, path) {
  if (path === 'room') return [plan?.title ?? 'Room', 'the room'];
  const corner = /^space\.outline\.(\d+)$/.exec(path ?? '');
  if (corner) return [`corner ${Number(corner[1]) + 1}`, ''];
  const entry = entryOf(plan, path);
  if (entry === null) return [(path ?? '').split('.').at(-1), ''];
  if (path.startsWith('space.walls.')) return [`wall ${entry.name}`, entry.finish ?? ''];
  if (entry.label) return [entry.label, [entry.product, entry.locked ? 'locked' : ''].filter(Boolean).join(', ')];
  return [entry.words || entry.id || path.split('.').at(-1), entry.kind ?? ''];
}

function middle(outline) {
  if (outline.length === 0) return null;
  return [0, 1].map((axis) => outline.reduce((sum, corner) => sum + corner[axis], 0) / outline.length);
}
