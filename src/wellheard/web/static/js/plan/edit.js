// The outline: corners that move, walls that are split, and lengths that are typed.

import { boundsOf, distance, distanceTo, middle, nearestOn } from './geometry.js';
import { squared } from './snap.js';
import { make, say, set, short, Keyed } from './svg.js';
import { lengthWords, stepOf } from './words.js';
import { outwards } from './walls.js';

const NEAR = 8; // pulled level with a neighbour [px]
const WALL = 10; // of a pointer beside a wall [px]
const SIDE = 11; // of a corner's handle [px]
const PAUSE = 450; // after the last key [ms]

const CORNERS = 'space.outline.'; // paths of corners and walls, by number
const WALLS = 'space.walls.';

/** The outline in the hand. */
export class Outline {
  /** @param {import('./plan.js').Plan} sheet */
  constructor(sheet) {
    this.sheet = sheet;
    this.group = make('g', { class: 'outline', display: 'none' }, sheet.notes);
    this.walls = new Keyed(make('g', {}, this.group));
    this.corners = new Keyed(make('g', {}, this.group));
    this.ring = null; // while it differs from the plan
    this.taken = null; // {corner, from}
    this.pause = 0;
    this.field = null;
  }

  /** Begin or end editing. */
  toggle(on) {
    this.close();
    this.ring = null;
    set(this.group, { display: on ? null : 'none' });
    if (on) this.draw();
    else this.sheet.scenery.reshape(this.sheet.plan.outline, this.sheet.plan.patches);
    if (on) this.sheet.tell('Drag a corner, double-click a wall to add one, Delete removes it; press a length to type it.');
  }

  get #shape() {
    return this.ring ?? this.sheet.plan.outline;
  }

  /** Draw handles and lengths where the view has them. */
  draw() {
    if (this.sheet.state.mode !== 'outline') return;
    const ring = this.#shape;
    const { view, plan, unit } = this.sheet;
    this.corners.sync(
      ring.map((at, k) => ({ k, at })),
      ({ k }) => String(k),
      ({ k }, parent) => {
        const group = make('g', { class: 'corner', 'data-corner': k, role: 'button', tabindex: 0 }, parent);
        make('rect', { class: 'reach', x: -14, y: -14, width: 28, height: 28 }, group);
        make('rect', { class: 'handle', x: -SIDE / 2, y: -SIDE / 2, width: SIDE, height: SIDE }, group);
        return group;
      },
      (node, { k, at }) => {
        const [x, y] = view.toScreen(at);
        set(node, { transform: `translate(${short(x)} ${short(y)})`, 'aria-label': `corner ${k + 1} of ${ring.length}` });
      },
    );
    this.walls.sync(
      ring.map((from, k) => ({ k, from, to: ring[(k + 1) % ring.length] })),
      ({ k }) => String(k),
      ({ k }, parent) => {
        const group = make('g', { class: 'wall-length', 'data-wall': k, role: 'button', tabindex: 0 }, parent);
        make('rect', { height: 22, y: -11 }, group);
        make('text', { y: 4.5 }, group);
        return group;
      },
      (node, { k, from, to }) => {
        const words = this.ring ? lengthWords(distance(from, to), unit) : plan.walls[k]?.length_words ?? '';
        const [x, y] = this.#beside(from, to);
        const wide = words.length * 7 + 14;
        set(node, { transform: `translate(${short(x)} ${short(y)})`, 'aria-label': `${plan.walls[k]?.name ?? 'wall'}, ${words} long: press to type a length` });
        set(node.firstChild, { x: -wide / 2, width: wide });
        say(node.lastChild, words);
      },
    );
  }

  /** Return where the length of a wall stands: inside, beside its middle. [px] */
  #beside(from, to) {
    const out = outwards(this.#shape, from, to);
    const [x, y] = this.sheet.view.toScreen([(from[0] + to[0]) / 2, (from[1] + to[1]) / 2]);
    const away = 16 + 18 * Math.abs(out[0]);
    return [x - out[0] * away, y + out[1] * away];
  }

  /** Take up what is under the pointer; returns what that begins. */
  down(target) {
    this.close();
    const wall = target.closest('[data-wall]');
    if (wall) return { kind: 'length', wall: Number(wall.dataset.wall) };
    const corner = target.closest('[data-corner]');
    if (!corner) return { kind: 'pan' };
    corner.focus();
    this.sheet.desk.select([`${CORNERS}${corner.dataset.corner}`]);
    this.taken = { corner: Number(corner.dataset.corner) };
    return { kind: 'corner' };
  }

  /** Move the corner in the hand to a point. [m] */
  drag(point, free) {
    const { corner } = this.taken;
    const ring = this.#shape.map((at) => [...at]);
    const neighbours = [ring[(corner + ring.length - 1) % ring.length], ring[(corner + 1) % ring.length]];
    const rules = { step: stepOf(this.sheet.unit), near: NEAR / this.sheet.view.scale, free };
    ring[corner] = squared(point, neighbours, rules);
    this.#reshape(ring, corner);
  }

  #reshape(ring, corner) {
    this.ring = ring;
    this.sheet.scenery.reshape(ring, this.sheet.plan.patches);
    const count = ring.length;
    this.walls.nodes.forEach((node, k) => {
      const beside = Number(k) === corner || Number(k) === (corner + count - 1) % count;
      node.classList.toggle('changing', beside);
    });
    this.draw();
  }

  /** Let the corner go. */
  drop(moved) {
    const { taken, ring } = this;
    this.taken = null;
    if (moved && ring && taken) this.#commitCorner(taken.corner, ring[taken.corner]);
  }

  #commitCorner(corner, to) {
    const round = to.map((u) => Math.round(u * 1e6) / 1e6);
    this.#send({ do: 'corner-move', corner, to: round }, `move corner ${corner + 1}`).catch(() => {});
  }

  async #send(operation, what) {
    try {
      return await this.sheet.acts.commit([operation], what);
    } catch (trouble) {
      this.restore();
      throw trouble;
    }
  }

  /** Esc: the corner has its old place. */
  cancel() {
    this.taken = null;
    this.restore();
  }

  /** Show the outline of the plan again. */
  restore() {
    clearTimeout(this.pause);
    this.ring = null;
    this.walls.nodes.forEach((node) => node.classList.remove('changing'));
    this.sheet.scenery.reshape(this.sheet.plan.outline, this.sheet.plan.patches);
    this.draw();
  }

  /** A new plan is here; a corner in the hand stays there. */
  settle() {
    if (this.taken && this.ring?.length === this.sheet.plan.outline.length) this.#reshape(this.ring, this.taken.corner);
    else if (this.sheet.state.mode === 'outline') this.restore();
  }

  #ends(path) {
    const ring = this.#shape;
    const number = Number(path?.split('.').pop());
    if (path?.startsWith(CORNERS)) return ring[number] ? [ring[number]] : [];
    if (path?.startsWith(WALLS)) return ring[number] ? [ring[number], ring[(number + 1) % ring.length]] : [];
    return [];
  }

  /** Return the place of a corner, or the middle of a wall, by path. [m] */
  middle(path) {
    const ends = this.#ends(path);
    return ends.length ? middle(ends) : null;
  }

  /** Return the box of a corner or a wall on the sheet, by path. [px] */
  box(path) {
    const ends = this.#ends(path).map((at) => this.sheet.view.toScreen(at));
    if (!ends.length) return null;
    const [x0, y0, x1, y1] = boundsOf(ends);
    return { x: x0 - SIDE, y: y0 - SIDE, w: x1 - x0 + 2 * SIDE, h: y1 - y0 + 2 * SIDE };
  }

  /** Add a corner on the wall at a point, if there is one. [m] */
  split(point) {
    const ring = this.#shape;
    const reach = WALL / this.sheet.view.scale;
    const far = ring.map((from, k) => distanceTo(point, from, ring[(k + 1) % ring.length]));
    const wall = far.indexOf(Math.min(...far));
    if (far[wall] > reach) return;
    const { at, share } = nearestOn(point, ring[wall], ring[(wall + 1) % ring.length]);
    if (share > 0 && share < 1) this.#add(wall, at);
  }

  #add(wall, at) {
    const round = at.map((u) => Math.round(u * 1e6) / 1e6);
    this.#send({ do: 'corner-add', wall, at: round }, 'add a corner').catch(() => {});
  }

  /** What a key does in the outline; returns whether it did anything. */
  key(event, step) {
    const corner = event.target.closest('[data-corner]')?.dataset.corner;
    const wall = event.target.closest('[data-wall]')?.dataset.wall ?? corner;
    if (step && corner !== undefined) this.#nudge(Number(corner), step);
    else if (event.key === 'a' && wall !== undefined) {
      const ring = this.#shape;
      const [from, to] = [ring[wall], ring[(Number(wall) + 1) % ring.length]];
      this.#add(Number(wall), [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2]);
    } else if ((event.key === 'Delete' || event.key === 'Backspace') && corner !== undefined) {
      this.#send({ do: 'corner-remove', corner: Number(corner) }, `remove corner ${Number(corner) + 1}`).catch(() => {});
    } else if (event.key === 'Enter' && corner !== undefined) this.sheet.acts.open(`${CORNERS}${corner}`);
    else if ((event.key === 'Enter' || event.key === ' ') && event.target.closest('[data-wall]')) this.type(Number(wall));
    else return false;
    return true;
  }

  #nudge(corner, [dx, dy]) {
    const ring = this.#shape.map((at) => [...at]);
    ring[corner] = [ring[corner][0] + dx, ring[corner][1] + dy];
    this.#reshape(ring, corner);
    clearTimeout(this.pause);
    this.pause = setTimeout(() => this.#commitCorner(corner, ring[corner]), PAUSE);
  }

  /** Ask for the length of a wall, at the wall. */
  type(wall) {
    this.close();
    const { plan, view, root } = this.sheet;
    const ring = this.#shape;
    const [x, y] = this.#beside(ring[wall], ring[(wall + 1) % ring.length]);
    const field = document.createElement('form');
    field.className = 'plan-field';
    const input = document.createElement('input');
    const trouble = document.createElement('p');
    const name = plan.walls[wall]?.name ?? `wall ${wall + 1}`;
    input.value = plan.walls[wall]?.length_words ?? '';
    input.setAttribute('aria-label', `Length of ${name}`);
    input.autocomplete = 'off';
    trouble.setAttribute('role', 'alert');
    field.append(input, trouble);
    field.style.left = `${Math.min(Math.max(x - 60, 30), view.width - 250)}px`;
    field.style.top = `${Math.min(Math.max(y - 14, 30), view.height - 90)}px`;
    field.addEventListener('submit', (event) => {
      event.preventDefault();
      this.#typed(wall, name, input, trouble);
    });
    field.addEventListener('keydown', (event) => {
      event.stopPropagation();
      if (event.key !== 'Escape') return;
      this.close();
      this.walls.get(String(wall))?.focus();
    });
    root.append(field);
    this.field = field;
    input.focus();
    input.select();
  }

  async #typed(wall, name, input, trouble) {
    const typed = input.value.trim();
    if (!typed) {
      trouble.textContent = 'Type a length: 6.4 m, 640 cm, 21 ft or 21\' 6".';
      return;
    }
    input.removeAttribute('aria-invalid');
    trouble.textContent = '';
    try {
      await this.#send({ do: 'wall-length', wall, typed }, `set the length of ${name}`);
      this.close();
      this.walls.get(String(wall))?.focus();
    } catch (error) {
      input.setAttribute('aria-invalid', 'true');
      trouble.textContent = reasons(error);
      input.focus();
    }
  }

  /** Close the field of a length. */
  close() {
    this.field?.remove();
    this.field = null;
  }
}

/** Return what the server says against an edit: what was found and what is allowed. */
function reasons(error) {
  const problems = error?.problems ?? [];
  if (!problems.length) return error?.message || 'The server did not take it.';
  return problems.map(({ what, allowed }) => (allowed ? `${what}; ${allowed}` : what)).join('. ');
}
