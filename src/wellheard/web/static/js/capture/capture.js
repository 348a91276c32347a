/** A recording made or chosen on the page, and sent to be part of a session. */

import { html } from '../build.js';
import { Recorder, Refused, microphones } from './recorder.js';
import { send } from './sender.js';
import { readBack } from './settings.js';
import { wav } from './wav.js';

/** How often the level is said anew. [ms] */
const SAID_EVERY = 250;

/**
 * The part of the page that records.
 *
 * `plan` is what the server has worked out: `levels`, pairs of a sample and its level in words,
 * rising; `seconds` by kind; `plays` the kinds with a signal; `lead`, `tail` around it [s]; `quiet`
 * the share of the amplitude of a trial; `largest` [byte]; `seconds.most`.
 */
export class Capture {
  constructor(element, { room, session, plan, kept }) {
    this.element = element;
    this.address = `/api/rooms/${encodeURIComponent(room)}/sessions/${encodeURIComponent(session)}`;
    this.plan = plan;
    this.kept = kept;
    this.recorder = null;
    this.taken = null;
    this.running = false;
    this.sending = null;
    this.saidAt = 0;
    this.build();
    this.form = document.querySelector('.prove-form');
    this.follow = () => this.kindChanged();
    this.form?.addEventListener('change', this.follow);
    this.kindChanged();
    this.show();
  }

  build() {
    this.file = html('input', { type: 'file', class: 'unseen', accept: '.wav,.flac' });
    this.file.addEventListener('change', () => this.chosen());
    this.openButton = this.button('open the microphone', () => this.open(), 'press');
    this.ways = html(
      'div',
      { class: 'capture-ways' },
      html('label', { class: 'press' }, html('span', {}, 'choose a WAV or FLAC file …'), this.file),
      html('span', { class: 'soft' }, 'or'),
      this.openButton,
    );
    this.device = html('select', { class: 'field', 'aria-label': 'Microphone' });
    this.device.addEventListener('change', () => this.open(this.device.value));
    this.about = html('p', { class: 'note capture-about' });
    this.level = html('p', { class: 'capture-level' });
    this.seconds = html('input', { class: 'field num', 'aria-label': 'Seconds', inputmode: 'decimal' });
    this.plays = html('input', { type: 'checkbox', class: 'capture-plays' });
    this.safe = html('input', { type: 'checkbox', class: 'capture-safe' });
    for (const box of [this.plays, this.safe]) box.addEventListener('change', () => this.show());
    this.playsLine = html('label', { class: 'tick' }, this.plays, html('span', {}, ''));
    this.safeLine = html(
      'label',
      { class: 'tick' },
      this.safe,
      html('span', {}, 'nobody is near a loudspeaker, everybody in the room knows, and the level is turned down'),
    );
    this.secondsLine = html('label', { class: 'tick' }, this.seconds, html('span', {}, 'seconds'));
    this.go = this.button('record', () => this.record(), 'press');
    this.quiet = this.button('try it quietly', () => this.tryQuietly());
    this.stop = this.button('stop', () => this.stopped?.());
    this.shut = this.button('close the microphone', () => this.close());
    this.acts = html('div', { class: 'capture-acts' }, this.go, this.quiet, this.stop, this.shut);
    this.live = html(
      'div',
      { class: 'capture-live' },
      html('p', {}, this.device),
      this.about,
      this.level,
      html('div', { class: 'capture-how' }, this.secondsLine, this.playsLine, this.safeLine),
      this.acts,
    );
    this.word = html('p', { class: 'capture-word', role: 'status' });
    this.keep = this.button('keep it', () => this.keepIt(), 'press');
    this.drop = this.button('throw it away', () => this.thrown());
    this.result = html('div', { class: 'capture-acts' }, this.keep, this.drop);
    this.cancel = this.button('cancel', () => this.sending?.abort());
    this.wrong = html('p', { class: 'wrong', role: 'alert', hidden: true });
    this.element.replaceChildren(
      this.ways, this.word, this.live, this.result, this.cancel, this.wrong,
    );
  }

  button(word, act, kind = 'word') {
    const made = html('button', { type: 'button', class: kind }, word);
    made.addEventListener('click', act);
    return made;
  }

  /** What the form says this recording is of. */
  get kind() {
    const fills = this.form?.elements.fills?.selectedOptions?.[0];
    return fills?.dataset.kind || this.form?.elements.kind?.value || 'sweep';
  }

  kindChanged() {
    const { kind, plan } = this;
    const signal = plan.plays[kind];
    if (this.form) {
      this.form.dataset.kind = kind;
      this.form.dataset.fills = this.form.elements.fills?.value ? 'yes' : 'no';
    }
    this.playsLine.lastChild.textContent = signal ? `play ${signal} through this machine meanwhile` : '';
    if (!signal) this.plays.checked = false;
    this.seconds.value = String(plan.seconds[kind] ?? plan.seconds.noise);
    this.show();
  }

  /** What can be done now, and nothing else. */
  show() {
    const open = this.recorder !== null;
    const busy = this.running;
    const sending = this.sending !== null;
    const done = this.taken !== null;
    this.ways.hidden = open || done || sending;
    this.live.hidden = !open || done || sending;
    this.element.classList.toggle('recording', busy);
    this.device.disabled = busy;
    this.playsLine.hidden = busy || !this.plan.plays[this.kind];
    this.safeLine.hidden = busy || !this.plays.checked;
    this.secondsLine.hidden = busy || this.plays.checked;
    this.go.hidden = busy;
    this.quiet.hidden = busy || !this.plays.checked;
    this.go.disabled = this.plays.checked && !this.safe.checked;
    this.quiet.disabled = !this.safe.checked;
    this.stop.hidden = !busy;
    this.shut.hidden = busy;
    this.result.hidden = !done || sending;
    this.cancel.hidden = !sending;
  }

  say(text) {
    this.word.textContent = text;
  }

  refuse(text) {
    this.wrong.textContent = text;
    this.wrong.hidden = text === '';
  }

  // The microphone --------------------------------------------------------------------------------

  async open(device = '') {
    this.refuse('');
    this.say('');
    await this.recorder?.close();
    this.recorder = null;
    this.openButton.disabled = true;
    try {
      this.recorder = await Recorder.open({
        device,
        told: (block) => this.heard(block),
        lost: (why) => this.lost(why),
      });
      await this.list();
    } catch (error) {
      this.refuse(error instanceof Refused ? error.message : `${error}`);
    } finally {
      this.openButton.disabled = false;
    }
    this.show();
  }

  async list() {
    const { settings, rate, channels, label } = this.recorder;
    const all = await microphones();
    this.device.replaceChildren(
      ...all.map((one) =>
        html('option', { value: one.deviceId, selected: one.deviceId === settings.deviceId }, one.label || 'a microphone'),
      ),
    );
    const many = channels === 1 ? '1 channel' : `${channels} channels`;
    this.about.textContent = `${label}: ${many}, ${rate} Hz; ${readBack(settings)}. What the microphone itself or the system does no browser can tell: switch sound enhancements off there.`;
  }

  heard({ peaks, seconds }) {
    const now = performance.now();
    this.peaks = peaks.map((peak, i) => Math.max(peak, this.peaks?.[i] ?? 0));
    if (now - this.saidAt < SAID_EVERY) return;
    this.saidAt = now;
    const said = this.peaks.map((peak) => this.levelOf(peak)).join(' and ');
    this.peaks = null;
    const since = seconds ? `${seconds.toFixed(0)} s · ` : '';
    this.level.textContent = `${since}loudest just now ${said} re full scale`;
    const { kept } = this.recorder ?? {};
    if (kept?.full) this.refuse(clipped(kept.full));
  }

  levelOf(peak) {
    const { levels } = this.plan;
    let word = `below ${levels[0][1]}`;
    for (const [sample, level] of levels) if (peak >= sample) word = level;
    return word;
  }

  lost(why) {
    this.stopped?.(true);
    this.recorder?.close();
    this.recorder = null;
    this.refuse(why);
    this.show();
  }

  async close() {
    this.stopped?.(true);
    await this.recorder?.close();
    this.recorder = null;
    this.form?.removeEventListener('change', this.follow);
    if (this.element.isConnected) {
      this.form?.addEventListener('change', this.follow);
      this.show();
    }
  }

  // Recording -------------------------------------------------------------------------------------

  /** Run until the time is over or somebody stops it; whether it came to its end. */
  async run(word, { play, share = 1 }) {
    this.refuse('');
    this.say('');
    let limit;
    try {
      limit = await this.timeOf(play, share);
    } catch (error) {
      this.refuse(error.message);
      this.recorder?.silence();
      return false;
    }
    this.running = true;
    this.say(word);
    this.show();
    const givenUp = await new Promise((done) => {
      const timer = setTimeout(() => done(false), limit * 1000);
      this.stopped = (up = false) => {
        clearTimeout(timer);
        done(up);
      };
    });
    this.stopped = null;
    this.running = false;
    this.say('');
    this.recorder?.silence();
    return !givenUp;
  }

  async timeOf(play, share) {
    if (!play) {
      const typed = Number(this.seconds.value.replace(',', '.'));
      if (!(typed >= 0.5 && typed <= this.plan.seconds.most)) {
        throw new Error(`${this.seconds.value || 'nothing'}: how long to record; 0.5 to ${this.plan.seconds.most} seconds`);
      }
      return typed;
    }
    const address = `${this.address}/signal.wav?kind=${this.kind}&rate=${this.recorder.rate}`;
    const answer = await fetch(address, { credentials: 'same-origin', cache: 'no-store' });
    if (!answer.ok) {
      const said = await answer.json().catch(() => null);
      throw new Error(said?.message ?? 'The signal could not be had; try again.');
    }
    const { lead, tail } = this.plan;
    return (await this.recorder.play(await answer.arrayBuffer(), share, lead)) + tail;
  }

  async record() {
    const { recorder } = this;
    recorder.begin();
    const whole = await this.run('Recording: everything in the room is kept.', {
      play: this.plays.checked,
    });
    if (this.recorder === recorder) {
      try {
        const kept = recorder.end();
        if (whole) await this.made(kept);
      } catch (error) {
        if (whole) this.refuse(error.message);
      }
    }
    this.show();
  }

  async made(kept) {
    const { rate, label, settings } = this.recorder;
    this.taken = {
      bytes: wav(kept.blocks, rate),
      note: `Recorded in a browser with ${label}; ${readBack(settings)}`,
    };
    const seconds = (kept.frames / rate).toFixed(1);
    this.say(`${seconds} s recorded, loudest ${this.levelOf(kept.loudest)} re full scale; nothing is kept yet.`);
    this.refuse(kept.full ? clipped(kept.full) : '');
    await this.recorder.close(); // nobody listens any longer than he has to
    this.recorder = null;
  }

  async tryQuietly() {
    await this.run('A trial: nothing is kept.', { play: true, share: this.plan.quiet });
    this.show();
  }

  thrown() {
    this.taken = null;
    this.say('');
    this.refuse('');
    this.show();
  }

  // Keeping ---------------------------------------------------------------------------------------

  async chosen() {
    const [file] = this.file.files;
    this.file.value = '';
    if (!file) return;
    this.refuse('');
    if (file.size > this.plan.largest) {
      const most = (this.plan.largest / 1e6).toFixed(0);
      this.refuse(`${(file.size / 1e6).toFixed(0)} MB; at most ${most} MB: record less, or put the file into the folder of the session`);
      return;
    }
    this.taken = { bytes: new Uint8Array(await file.arrayBuffer()), note: '' };
    this.say(file.name);
    await this.keepIt();
  }

  async keepIt() {
    const { taken } = this;
    const typed = Object.fromEntries(
      [...new FormData(this.form)].filter(([, value]) => typeof value === 'string'),
    );
    const about = { ...typed, note: [typed.note, taken.note].filter(Boolean).join(' ') };
    this.refuse('');
    this.sending = new AbortController();
    this.show();
    const whole = (taken.bytes.length / 1e6).toFixed(1);
    try {
      const answer = await send(this.address, taken.bytes, about, {
        signal: this.sending.signal,
        told: (bytes) => this.say(`sending ${(bytes / 1e6).toFixed(1)} of ${whole} MB`),
      });
      this.taken = null;
      this.say('');
      this.kept(answer);
    } catch (error) {
      this.say('It is still here and not kept yet.');
      this.refuse(error.message);
    }
    this.sending = null;
    this.show();
  }
}

function clipped(full) {
  return `Clipped: ${full} samples at full scale. Turn the input down and record again.`;
}
