/** The wiring beside the plan: diagram, cable schedule, bill; its cables are drawn on the plan. */

import { html } from './build.js';
import { Diagram } from './diagram.js';
import { followedOf } from './follow.js';
import { passageNodes, tableOf } from './passages.js';
import { isChosen } from './plan/lines.js';

export class WiringPart {
  #off = new AbortController();

  /**
   * @param {HTMLElement} root
   * @param {import('./desk.js').Desk} desk
   */
  constructor(root, desk) {
    this.desk = desk;
    this.wiring = followedOf(desk, 'wiring', { on: 'plan' });
    root.classList.add('wiring-part');
    this.sentence = html('p', { role: 'status' }, 'Reading the wiring…');
    const diagram = html('div', {});
    this.body = html('div', {});
    root.append(this.sentence, diagram, this.body);
    this.diagram = new Diagram(diagram, desk, 'side');
    const { signal } = this.#off;
    desk.addEventListener('side', ({ detail }) => this.#shown(detail === 'wiring'), { signal });
    desk.addEventListener('selection', () => this.#choose(), { signal });
    this.wiring.addEventListener('answer', () => this.#paint(), { signal });
    this.body.addEventListener('click', (event) => this.#press(event), { signal });
  }

  /** Stop listening to the desk. */
  close() {
    this.#off.abort();
    this.diagram.close();
    this.wiring.look(this, false);
  }

  #shown(on) {
    this.on = on;
    this.wiring.look(this, on);
    this.#draw();
    if (on) this.#paint();
  }

  /** Cables lie on the plan as long as one looks at the wiring. */
  #draw() {
    const routes = this.on ? this.wiring.answer?.routes ?? [] : null;
    this.desk.dispatchEvent(new CustomEvent('cables', { detail: routes }));
  }

  #paint() {
    const { answer, why } = this.wiring;
    if (!this.on) return;
    this.#draw();
    if (answer === null) {
      if (!why) return;
      this.sentence.textContent = `The wiring cannot be read: ${why}`;
      this.body.replaceChildren();
      return;
    }
    this.sentence.textContent = answer.sentence;
    const schedule = answer.cables ? [html('h3', {}, 'Cables'), this.#schedule(answer)] : [];
    const [lead, ...bill] = answer.bill;
    const total = html('h3', {}, 'Bill', html('span', { class: 'aside' }, answer.total));
    this.body.replaceChildren(
      ...schedule,
      ...answer.said.flatMap(passageNodes),
      ...(lead ? [total, ...bill.flatMap(passageNodes), html('p', { class: 'note' }, lead.rows[0][0])] : []),
    );
    this.#choose();
  }

  #schedule({ cables, paths }) {
    const rowOf = ([number], k) => {
      const [path, ...ends] = paths[k];
      const attributes = { 'data-path': path, 'data-ends': ends.join(' ') };
      const name = `show cable ${number} on the plan`;
      return { attributes, first: html('button', { type: 'button', class: 'word', 'aria-label': name }, number) };
    };
    return tableOf(cables, { label: 'Cable schedule', name: 'schedule', rowOf });
  }

  #press(event) {
    const row = event.target.closest?.('button')?.closest('tr[data-path]');
    if (!row) return;
    this.desk.select(endsOf(row));
    const route = this.wiring.answer?.routes.find(({ path }) => path === row.dataset.path);
    if (route) this.desk.point(null, route.points[0]);
  }

  #choose() {
    for (const row of this.body.querySelectorAll('tr[data-path]')) {
      row.classList.toggle('chosen', isChosen(endsOf(row), this.desk.selection));
    }
  }
}

function endsOf(row) {
  return row.dataset.ends.split(' ').filter(Boolean);
}
