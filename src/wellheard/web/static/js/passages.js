/** Pieces of the dossier on a page: headings, paragraphs, labels with words, remarks, tables. */

import { html, stateMark } from './build.js';

/** Words with their lines kept. */
function lines(words) {
  return words.split('\n').flatMap((line, k) => (k ? [html('br'), line] : [line]));
}

/** Words in which a line may end after a dot, as in the name of a port. */
function parted(words) {
  return /^[\w-]+\.[\w-]+$/.test(words) ? words.split(/(?<=\.)/).flatMap((part, k) => (k ? [html('wbr'), part] : [part])) : [words];
}

/**
 * A table of words and figures.
 *
 * @param {{head: string[], right: boolean[], rows: string[][]}} passage
 * @param {object} options label for those who do not see it, name of its class, and `rowOf`: attributes
 *   of a row, and what stands in its first cell
 */
export function tableOf({ head, right, rows }, { label = null, name = null, rowOf = () => null } = {}) {
  const side = (k) => (right[k] ? 'num' : null);
  const heads = head.map((words, k) => html('th', { scope: 'col', class: side(k) }, ...lines(words)));
  const body = rows.map((row, number) => {
    const own = rowOf(row, number);
    const cells = row.map((words, k) => html('td', { class: side(k) }, ...(k === 0 && own ? [own.first] : parted(words))));
    return html('tr', own?.attributes ?? {}, ...cells);
  });
  return html(
    'table',
    { class: name, 'aria-label': label },
    html('thead', {}, html('tr', {}, ...heads)),
    html('tbody', {}, ...body),
  );
}

/** One passage as nodes. */
export function passageNodes(passage) {
  const { kind, rows, aside, small, states } = passage;
  if (kind === 'heading') {
    return [html('h4', {}, rows[0][0], aside ? html('span', { class: 'aside' }, aside) : null)];
  }
  if (kind === 'paragraph') return [html('p', { class: small ? 'note' : null }, rows[0][0])];
  if (kind === 'facts') {
    const facts = rows.flatMap(([label, words]) => [html('dt', {}, label), html('dd', {}, words)]);
    return [html('dl', {}, ...facts)];
  }
  if (kind === 'table') return [tableOf(passage)];
  const remarks = rows.map(([lead, words], k) =>
    html(
      'li',
      {},
      states[k] ? stateMark(states[k]) : null,
      html('span', {}, lead ? html('strong', {}, `${lead}. `) : null, words),
    ),
  );
  return [html('ul', { class: 'remarks' }, ...remarks)];
}
