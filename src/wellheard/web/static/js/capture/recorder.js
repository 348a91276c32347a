/** The microphone of this machine, opened without processing and recorded from. */

import { UNTOUCHED, refusal } from './settings.js';

const WORKLET = '/static/js/capture/worklet.js';

/** From here on a sample is at full scale: the largest of 16 bits is 32767/32768. */
const FULL = 0.9999;

/** Said in place of a recording. */
export class Refused extends Error {}

/**
 * One microphone, open.
 *
 * It tells of every block by `told(block)`, with the loudest sample of each channel; it keeps the
 * samples only between `begin` and `end`.
 */
export class Recorder {
  /**
   * Open a microphone; rejected with `Refused` where it is processed, is not allowed or not there.
   *
   * @param {object} options
   * @param {string} options.device its id; '' is the usual one
   * @param {Function} options.told called for every block
   * @param {Function} options.lost called with a sentence when it goes away by itself
   */
  static async open({ device = '', told, lost }) {
    if (!navigator.mediaDevices?.getUserMedia || !globalThis.AudioWorkletNode) {
      throw new Refused('This browser cannot record; record with wellheard record instead.');
    }
    const one = new Recorder(told, lost);
    try {
      await one.start(device);
    } catch (error) {
      await one.close();
      throw error instanceof Refused ? error : new Refused(sentence(error));
    }
    return one;
  }

  constructor(told, lost) {
    this.told = told;
    this.lost = lost;
    this.kept = null;
    this.stream = null;
    this.context = null;
    this.playing = null;
  }

  async start(device) {
    const audio = device ? { ...UNTOUCHED, deviceId: { exact: device } } : UNTOUCHED;
    this.stream = await navigator.mediaDevices.getUserMedia({ audio });
    [this.track] = this.stream.getAudioTracks();
    this.check();
    this.track.addEventListener('ended', () => this.gone('The microphone is gone'));
    this.track.addEventListener('mute', () => this.gone('The microphone was muted'));
    const { sampleRate, channelCount } = this.track.getSettings();
    // At the rate of the device nothing has to be resampled; not every browser tells it.
    this.context = new AudioContext(sampleRate ? { sampleRate } : {});
    await this.context.audioWorklet.addModule(WORKLET);
    this.channels = channelCount ?? 1;
    const node = new AudioWorkletNode(this.context, 'wellheard-capture', {
      channelCount: this.channels,
      channelCountMode: 'explicit',
      channelInterpretation: 'discrete', // channels are never mixed
    });
    node.port.onmessage = ({ data }) => this.heard(data);
    this.context.createMediaStreamSource(this.stream).connect(node);
    node.connect(this.context.destination); // silent: it writes nothing to its output
    await this.context.resume();
  }

  /** What the browser does to the microphone must be nothing, at the beginning and at the end. */
  check() {
    const why = refusal(this.track.getSettings());
    if (why) throw new Refused(why);
  }

  get settings() {
    return this.track.getSettings();
  }

  get label() {
    return this.track.label;
  }

  get rate() {
    return this.context.sampleRate;
  }

  /** Keep what is heard from now on. */
  begin() {
    this.kept = { blocks: [], frames: 0, next: null, loudest: 0, full: 0, gap: false };
  }

  /** What was kept; rejected where the browser left something out or processed it meanwhile. */
  end() {
    const { kept } = this;
    this.kept = null;
    this.silence();
    this.check();
    if (!kept || kept.frames === 0) {
      throw new Refused('Nothing came from the microphone; see that it is on, and try again.');
    }
    if (kept.gap) {
      throw new Refused(
        'The browser lost some of the sound; close other pages and programs, and record again.',
      );
    }
    return kept;
  }

  /**
   * Play a signal through the output of this browser.
   *
   * @param {ArrayBuffer} file a WAV file
   * @param {number} share of its amplitude that is played, 0–1
   * @param {number} lead time before it begins [s]
   * @returns {Promise<number>} how long it lasts with the lead [s]
   */
  async play(file, share, lead) {
    const buffer = await this.context.decodeAudioData(file);
    this.silence();
    const source = new AudioBufferSourceNode(this.context, { buffer });
    const gain = new GainNode(this.context, { gain: share });
    source.connect(gain).connect(this.context.destination);
    source.start(this.context.currentTime + lead);
    this.playing = source;
    return lead + buffer.duration;
  }

  /** Stop what is played. */
  silence() {
    this.playing?.stop();
    this.playing = null;
  }

  heard({ from, channels }) {
    const peaks = channels.map(loudest);
    const { kept } = this;
    if (kept) {
      if (kept.next !== null && kept.next !== from) kept.gap = true;
      kept.next = from + channels[0].length;
      kept.blocks.push(channels);
      kept.frames += channels[0].length;
      kept.loudest = Math.max(kept.loudest, ...peaks);
      for (const samples of channels) kept.full += atFullScale(samples);
    }
    this.told({ peaks, seconds: kept ? kept.frames / this.rate : 0 });
  }

  gone(what) {
    this.kept = null;
    this.silence();
    this.lost(`${what}; what was being recorded is not kept. Open it again.`);
  }

  async close() {
    this.silence();
    this.told = () => {};
    this.lost = () => {};
    for (const track of this.stream?.getTracks() ?? []) track.stop();
    if (this.context && this.context.state !== 'closed') await this.context.close();
  }
}

/** Microphones that may be chosen from; their names are known once one has been allowed. */
export async function microphones() {
  const all = await navigator.mediaDevices.enumerateDevices();
  return all.filter((one) => one.kind === 'audioinput' && one.deviceId);
}

function loudest(samples) {
  let most = 0;
  for (const sample of samples) most = Math.max(most, Math.abs(sample));
  return most;
}

function atFullScale(samples) {
  let count = 0;
  for (const sample of samples) if (Math.abs(sample) >= FULL) count += 1;
  return count;
}

function sentence(error) {
  if (error.name === 'NotAllowedError') {
    return 'The browser does not let this page use the microphone; allow it beside the address, and try again.';
  }
  if (error.name === 'NotFoundError' || error.name === 'OverconstrainedError') {
    return 'No such microphone is there; plug one in, or choose another.';
  }
  if (error.name === 'NotReadableError') {
    return 'Another program holds the microphone; close that, and try again.';
  }
  return `The microphone could not be opened (${error.message}); try again.`;
}
