// Lengths that the sheet itself has to say while a hand moves: the same words as the printed ones.

const FOOT = 0.3048; // [m]
const EIGHTHS = ['', '⅛', '¼', '⅜', '½', '⅝', '¾', '⅞'];

/** Return a step of the grid that a hand snaps to: 5 cm or an inch. [m] */
export function stepOf(unit) {
  return unit === 'ft' ? FOOT / 12 : 0.05;
}

/**
 * Return a length in words: metres to a centimetre, or feet, inches and eighths.
 * @param {number} metres
 * @param {'m'|'ft'} unit
 */
export function lengthWords(metres, unit) {
  const sign = metres < 0 ? '−' : '';
  const size = Math.abs(metres);
  if (unit !== 'ft') {
    const text = size.toFixed(2);
    return `${Number(text) ? sign : ''}${text}\u00a0m`;
  }
  const eighths = Math.round((size / FOOT) * 96);
  const feet = Math.floor(eighths / 96);
  const inches = Math.floor((eighths % 96) / 8);
  return `${eighths ? sign : ''}${feet}'-${inches}${EIGHTHS[eighths % 8]}"`;
}

/** Return a number with a true minus and fixed decimals. */
export function figure(value, decimals) {
  const text = Math.abs(value).toFixed(decimals);
  return value < 0 && Number(text) ? `−${text}` : text;
}

/** Return a place in words: its distances from the origin, east and north. */
export function placeWords([x, y], unit) {
  if (unit === 'ft') return `${lengthWords(x, 'ft')}, ${lengthWords(y, 'ft')}`;
  return `${figure(x, 2)}, ${figure(y, 2)}\u00a0m`;
}

/** Return "1 : 40", what the sheet is to the room where a CSS millimetre is a millimetre. */
export function scaleWords(pixelsPerMetre) {
  const ratio = 1000 / (pixelsPerMetre * (25.4 / 96));
  const digits = ratio < 100 ? ratio.toFixed(0) : String(Math.round(ratio / 10) * 10);
  return `1 : ${digits} on the screen`;
}
