/** Samples as the bytes of a WAV file, each as it came: 32-bit floating numbers. */

const FLOATING = 3;
const HEADER = 58;

/**
 * A WAV file.
 *
 * @param {Float32Array[][]} blocks one after the other, each with an array for every channel
 * @param {number} rate [Hz]
 * @returns {Uint8Array}
 */
export function wav(blocks, rate) {
  const channels = blocks[0]?.length ?? 1;
  const frames = blocks.reduce((sum, block) => sum + block[0].length, 0);
  const bytes = new Uint8Array(HEADER + 4 * frames * channels);
  header(new DataView(bytes.buffer), frames, channels, rate);
  const view = new DataView(bytes.buffer);
  let at = HEADER;
  for (const block of blocks) {
    for (let i = 0; i < block[0].length; i += 1) {
      for (let c = 0; c < channels; c += 1) {
        view.setFloat32(at, block[c][i], true);
        at += 4;
      }
    }
  }
  return bytes;
}

/** RIFF, a format of floating samples, how many there are, and where they begin. */
function header(view, frames, channels, rate) {
  const word = (at, text) => {
    for (let i = 0; i < 4; i += 1) view.setUint8(at + i, text.charCodeAt(i));
  };
  const frame = 4 * channels;
  word(0, 'RIFF');
  view.setUint32(4, HEADER - 8 + frames * frame, true);
  word(8, 'WAVE');
  word(12, 'fmt ');
  view.setUint32(16, 18, true);
  view.setUint16(20, FLOATING, true);
  view.setUint16(22, channels, true);
  view.setUint32(24, rate, true);
  view.setUint32(28, rate * frame, true);
  view.setUint16(32, frame, true);
  view.setUint16(34, 32, true);
  view.setUint16(36, 0, true);
  word(38, 'fact');
  view.setUint32(42, 4, true);
  view.setUint32(46, frames, true);
  word(50, 'data');
  view.setUint32(54, frames * frame, true);
}
