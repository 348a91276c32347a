/** Small pieces of a page: elements with attributes and text, and the mark of a state. */

import { make } from './plan/svg.js';

const STATES = {
  kept: [
    ['rect', { class: 'sp', x: -8, y: -8, width: 16, height: 16 }],
    ['path', { class: 'so bold', d: 'M-4.4 .2L-1.2 3.6L4.6 -4' }],
  ],
  'at risk': [
    ['rect', { class: 'sp', x: -8, y: -8, width: 16, height: 16 }],
    ['path', { class: 'sf', d: 'M-8 8L8 -8V8Z' }],
  ],
  broken: [
    ['rect', { class: 'sf', x: -8.5, y: -8.5, width: 17, height: 17 }],
    ['path', { class: 'sx', d: 'M-4.4 -4.4L4.4 4.4M-4.4 4.4L4.4 -4.4' }],
  ],
  'not assessed': [['rect', { class: 'sp dot', x: -8, y: -8, width: 16, height: 16 }]],
};

/**
 * An element of the page. Text is never read as markup.
 *
 * @param {string} tag
 * @param {Record<string, string|number|boolean|null>} attributes null and false leave one out
 * @param {...(Node|string|null)} inside
 * @returns {HTMLElement}
 */
export function html(tag, attributes = {}, ...inside) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === true) element.setAttribute(name, '');
    else if (value !== null && value !== undefined && value !== false) {
      element.setAttribute(name, value);
    }
  }
  element.append(...inside.filter((one) => one !== null && one !== ''));
  return element;
}

/** An SVG picture that says nothing by itself: its word stands beside it. */
export function picture(width, height, viewBox, attributes = {}) {
  return make('svg', { width, height, viewBox, 'aria-hidden': 'true', ...attributes });
}

/**
 * The mark of a state; the worse, the more ink.
 *
 * @param {string} state kept, at risk, broken or not assessed
 * @param {number} size [px]
 */
export function stateMark(state, size = 14) {
  const mark = picture(size, size, '-10 -10 20 20', { class: 'statemark', 'data-state': state });
  for (const [tag, attributes] of STATES[state] ?? STATES['not assessed']) {
    make(tag, attributes, mark);
  }
  return mark;
}

/** Order of states, worst first; what is not assessed comes last. */
export function badness(state) {
  return ['broken', 'at risk', 'kept', 'not assessed'].indexOf(state);
}

/** Words that begin a sentence. */
export function capital(words) {
  return words.charAt(0).toUpperCase() + words.slice(1);
}

/** Whether a path names somebody who talks: a seat or a standing area. */
export function talks(path) {
  return /^people\.(seats|standing)\./.test(path ?? '');
}
