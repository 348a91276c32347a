// From metres of the plan to pixels of the sheet and back: x east, y north; the screen's y runs down.

/** Pixels per metre that a sheet can be zoomed to. */
export const CLOSEST = 1600;
export const FARTHEST = 3;

/** Where the plan lies on the sheet. */
export class View {
  constructor() {
    this.scale = 100; // [px/m]
    this.x = 0; // of the plan's origin [px]
    this.y = 0;
    this.width = 0; // of the sheet [px]
    this.height = 0;
  }

  /** Return the pixel of a point in metres. */
  toScreen([x, y]) {
    return [this.x + x * this.scale, this.y - y * this.scale];
  }

  /** Return the point in metres under a pixel. */
  toPlan([x, y]) {
    return [(x - this.x) / this.scale, (this.y - y) / this.scale];
  }

  /** Return the SVG transform of everything drawn in metres. */
  get transform() {
    return `matrix(${this.scale} 0 0 ${-this.scale} ${this.x} ${this.y})`;
  }

  /** Move the sheet by pixels. */
  pan(dx, dy) {
    this.x += dx;
    this.y += dy;
  }

  /**
   * Zoom; what is under the pixel stays under it.
   * @param {number} factor
   * @param {number[]} at [px]
   */
  zoom(factor, at) {
    const scale = Math.min(Math.max(this.scale * factor, FARTHEST), CLOSEST);
    const fixed = this.toPlan(at);
    this.scale = scale;
    this.x = at[0] - fixed[0] * scale;
    this.y = at[1] + fixed[1] * scale;
  }

  /**
   * Show all of a rectangle as large as fits between the margins.
   * @param {number[]} bounds x0, y0, x1, y1 [m]
   * @param {{left: number, top: number, right: number, bottom: number}} margins [px]
   */
  fit([x0, y0, x1, y1], margins) {
    const wide = Math.max(this.width - margins.left - margins.right, 40);
    const high = Math.max(this.height - margins.top - margins.bottom, 40);
    const scale = Math.min(wide / Math.max(x1 - x0, 0.1), high / Math.max(y1 - y0, 0.1));
    this.scale = Math.min(Math.max(scale, FARTHEST), CLOSEST);
    this.x = margins.left + wide / 2 - ((x0 + x1) / 2) * this.scale;
    this.y = margins.top + high / 2 + ((y0 + y1) / 2) * this.scale;
  }
}
