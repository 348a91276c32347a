/** What a browser does to a microphone, as it says itself. */

/** What is asked for: the sound as it is, in every channel that the device has. */
export const UNTOUCHED = {
  echoCancellation: false,
  noiseSuppression: false,
  autoGainControl: false,
  voiceIsolation: false,
  channelCount: { ideal: 2 },
};

/** What has to be off, and is known to be off, before anything is recorded. */
const PROCESSING = {
  echoCancellation: 'echo cancellation',
  noiseSuppression: 'noise suppression',
  autoGainControl: 'automatic gain control',
};

/** What few browsers know of; where they do, it has to be off too. */
const RARE = { voiceIsolation: 'voice isolation' };

const INSTEAD =
  'Choose another microphone or another browser, or record with wellheard record.';

/**
 * Why a microphone cannot be measured with; '' where it can.
 *
 * @param {object} settings as the track of the microphone says them, after it was opened
 */
export function refusal(settings) {
  const all = { ...PROCESSING, ...RARE };
  const on = Object.keys(all).filter(
    (name) => settings[name] !== undefined && settings[name] !== false,
  );
  if (on.length) {
    const what = on.map((name) => all[name]).join(' and ');
    const is = on.length > 1 ? 'are' : 'is';
    return `Not recorded: ${what} ${is} on, though the browser was asked for the bare sound; what it would record says nothing about the room. ${INSTEAD}`;
  }
  const unknown = Object.keys(PROCESSING).filter((name) => settings[name] === undefined);
  if (unknown.length) {
    const what = unknown.map((name) => PROCESSING[name]).join(' and ');
    return `Not recorded: this browser does not say whether ${what} is off. ${INSTEAD}`;
  }
  return '';
}

/** What was read back, for the reader and for the note of the recording. */
export function readBack(settings) {
  const off = Object.keys(PROCESSING).filter((name) => settings[name] === false);
  return `read back from the browser: ${off.map((name) => PROCESSING[name]).join(', ')} off`;
}
