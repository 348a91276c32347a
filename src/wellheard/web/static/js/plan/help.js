// The list of keys, as a sheet over the plan.

import { KEYS } from './keys.js';

/**
 * Show the list of keys.
 * @param {HTMLElement} parent
 * @param {() => void} close called by its button
 * @returns {HTMLElement}
 */
export function helpSheet(parent, close) {
  const sheet = document.createElement('section');
  sheet.className = 'plan-keys';
  sheet.setAttribute('role', 'dialog');
  sheet.setAttribute('aria-label', 'Keys of the plan');
  const head = document.createElement('h2');
  head.textContent = 'Keys';
  const list = document.createElement('dl');
  for (const [keys, what] of KEYS) {
    const key = document.createElement('dt');
    const does = document.createElement('dd');
    key.textContent = keys;
    does.textContent = what;
    list.append(key, does);
  }
  const button = document.createElement('button');
  button.className = 'press';
  button.type = 'button';
  button.textContent = 'close';
  button.addEventListener('click', close);
  sheet.addEventListener('keydown', (event) => {
    if (event.key === 'Escape' || event.key === '?') close();
    event.stopPropagation();
  });
  sheet.append(head, list, button);
  parent.append(sheet);
  button.focus();
  return sheet;
}
