// Putting new things on the sheet: a ghost under the pointer or the cross of the arrow keys.

import { make, set, short } from './svg.js';
import { snap } from './snap.js';
import { stepOf } from './words.js';

const SYMBOLS = {
  seat: 'seat',
  standing: 'standing',
  table: 'table',
  display: 'display',
  'soft-seating': 'table',
  microphone: 'mic-ceiling',
  loudspeaker: 'speaker-ceiling',
  processor: 'processor',
  rack: 'rack',
  'table-box': 'processor',
  'wall-plate': 'processor',
  'air-outlet': 'air-outlet',
  projector: 'projector',
  luminaire: 'luminaire',
  'keep-out': 'keep-out',
  panel: 'panel',
  window: 'window',
  door: 'door',
  board: 'display',
  obstacle: 'column',
};
const CEILING = new Set(['mic-ceiling', 'array', 'speaker-ceiling', 'air-outlet']);
const GHOST = 27; // [px]

/** The hand that places. */
export class Placer {
  /** @param {import('./plan.js').Plan} sheet */
  constructor(sheet) {
    this.sheet = sheet;
  }

  /**
   * Begin to place things of a kind.
   * @param {string} kind of the operation "add"
   * @param {string} [product] catalogue id
   * @param {string} [symbol] drawn as the ghost
   */
  start(kind, product, symbol) {
    const { sheet } = this;
    const name = symbol ?? SYMBOLS[kind] ?? 'state-not-assessed';
    const [x0, y0, x1, y1] = sheet.plan.bounds;
    sheet.state.placing = { kind, product: product || null, symbol: name, at: [(x0 + x1) / 2, (y0 + y1) / 2] };
    sheet.setMode('place');
    const { ghost } = sheet.overlay;
    ghost.replaceChildren();
    sheet.symbols.draw(name, ghost, GHOST);
    make('path', { class: 'cross', d: 'M-24 0H-16M16 0H24M0 -24V-16M0 16V24' }, ghost);
    this.move(sheet.state.placing.at, false);
    sheet.focus.onSheet();
    sheet.tell('Click where it goes, or move the cross with the arrow keys and press Enter. Esc ends.');
  }

  /** Move the ghost to a point, snapped. [m] */
  move(point, free) {
    const { placing } = this.sheet.state;
    if (!placing) return;
    const rules = { tiles: this.sheet.plan.tiles, step: stepOf(this.sheet.unit), ceiling: CEILING.has(placing.symbol), free };
    placing.at = snap(point, rules);
    this.draw();
  }

  /** Move the ghost by metres, without snapping. */
  nudge([dx, dy]) {
    const { placing } = this.sheet.state;
    placing.at = [placing.at[0] + dx, placing.at[1] + dy];
    this.draw();
  }

  /** Draw the ghost where the view has it, with its distances from the walls. */
  draw() {
    const { sheet } = this;
    const { placing } = sheet.state;
    if (!placing) return;
    const [x, y] = sheet.view.toScreen(placing.at);
    set(sheet.overlay.ghost, { transform: `translate(${short(x)} ${short(y)})` });
    sheet.overlay.toWalls({ at: placing.at, ring: null, segment: null }, [0, 0], sheet.plan.outline, sheet.view, sheet.unit);
  }

  /** Put one down; `more` keeps placing. */
  put(more) {
    const { sheet } = this;
    const { placing } = sheet.state;
    if (!placing) return;
    const at = placing.at.map((u) => Math.round(u * 1e6) / 1e6);
    const operation = { do: 'add', kind: placing.kind, at };
    if (placing.product) operation.product = placing.product;
    if (!more) this.stop();
    sheet.acts.commit([operation], `add a ${placing.kind}`).then(
      (answer) => sheet.acts.choose(answer?.created ?? []),
      () => {},
    );
  }

  /** Place no more. */
  stop() {
    const { sheet } = this;
    if (!sheet.state.placing) return;
    sheet.state.placing = null;
    sheet.overlay.ghost.replaceChildren();
    sheet.overlay.toWalls(null);
    sheet.setMode('select');
    sheet.tell('');
  }
}
