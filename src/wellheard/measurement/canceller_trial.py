"""What an echo canceller did, from what the far end sent and what came back to it.

::

    far end ──┬────► loudspeaker ─ ─ room ─ ─► microphone ──► canceller ──┬──► far end
              far                                                        near

Both are recorded together, or of one clock. Return loss is the level of the first over that of the
second, after the delay between them, while only the far end talks.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np

from wellheard.acoustics.echo import WIDEBAND
from wellheard.acoustics.waveform import fast_length
from wellheard.arrays import Array, Mask
from wellheard.measurement import canceller_words as words
from wellheard.measurement.clipping import Indices, runs
from wellheard.measurement.results import CancellerResult, Fault
from wellheard.measurement.spectra import piece_powers
from wellheard.units import energy, level_db

SETTLED_WITHIN_DB: Final = 3.0
"""Of the settled return loss, from which a canceller counts as converged."""
LEAST_TALK: Final = 2.0
"""Of the far end alone, that anything is told from; common practice, no source. [s]"""
MOST_DELAY: Final = 1.0
"""From the far end's signal to its echo that is looked for. [s]"""

Span: TypeAlias = tuple[float, float]

_HOP = 0.05  # from piece to piece, each twice as long [s]
_WINDOW = 3  # pieces that a value of the curve is taken over: 0.2 s
_STAYS = 1.0  # of the far end's talk, over which the loss has to be near the settled one [s]
_EARLY = 0.2  # the near end's clock may be ahead so much [s]
_ECHO_DECAY = 0.4  # decay time that is supposed of an echo [s]
_ACTIVE_DB = 20.0  # below the loud pieces of the far end, down to which it talks
_SILENT_DBFS = -80.0  # far end that does not talk at all
_PAUSE = 0.4  # of the far end, after which its echo has died away [s]
_BEGIN = 2  # first pieces in which it talks alone, about 0.1 s
_SETTLED_SHARE = 3  # the last part, one in so many, is when it has settled
_RELAPSES = 0.05  # share of later values that may be below
_STANDS_OUT = 12.0  # of a correlation over its root mean square; other speech reaches 9
_CORRELATED = 2.0  # [s]
_TRIES = 8
_TALKING_DB = 10.0  # over the echo that is expected, or over noise, from which the near end talks
_LONG_ENOUGH, _GAP = 0.4, 1.0  # talk that is found, and pauses within it [s]
_COMPARED = 0.9  # of the near end's talk at least, alone and over the far end [s]
_AROUND = 1.0  # before and after double talk that its echo is compared over [s]
_PAUSES = 1.0  # of the far end, that tell whether the near end talks all the time [s]
_PIECES = 5  # of pauses that noise is known from
_TINY = 1e-30
_OVER_NOISE = 0.26  # 1 dB over noise: what is left when noise is taken from it, at least


@dataclass(frozen=True, eq=False)
class _Pieces:
    """Powers of both signals in pieces, the delay taken out.

    Attributes
    ----------
    far, near, time : ndarray, shape (pieces,)
        Powers, that of the far end as its echo rises and dies away in a room, and when each piece
        begins in the recording [s].
    noise : float
        Of the near end while nobody talks; 0 where the far end never pauses.
    talking, quiet : ndarray, shape (pieces,)
        Whether the far end talks, and whether its echo has died away.
    """

    far: Array
    near: Array
    time: Array
    noise: float
    talking: Mask
    quiet: Mask

    @classmethod
    def of(cls, far: Array, near: Array, delay: int, rate: float) -> _Pieces:
        """Pieces of both, the near end's as much later as its echo comes."""
        late, early = max(0, delay), max(0, -delay)
        length = min(len(far) - early, len(near) - late)
        sent = _powers(far[early : early + length], rate)
        back = _powers(near[late : late + length], rate)
        talking = _talking(sent)
        quiet = ~_spread(talking, round(_PAUSE / _HOP))
        noise = float(np.percentile(back[quiet], 20.0)) if quiet.sum() >= _PIECES else 0.0
        time = np.arange(len(sent), dtype=np.float64) * _HOP + early / rate
        return cls(_reverberant(sent), back, time, noise, talking, quiet)

    def loss_db(self, where: Mask) -> float:
        """Return loss over some pieces, at most that to which noise lets it be told."""
        sent, back = float(self.far[where].sum()), float(self.near[where].sum())
        floor = self.noise * int(where.sum())
        return level_db(sent / max(back - floor, _OVER_NOISE * floor, _TINY))

    def in_noise(self, where: Mask) -> bool:
        """Whether there is less echo than noise in what came back."""
        return float(self.near[where].sum()) < 2.0 * self.noise * int(where.sum())

    def inside(self, span: Span | None, *, guard: float = 0.0) -> Mask:
        """Pieces that lie in a span, or touch it with its guard."""
        if span is None:
            return np.zeros(len(self.time), dtype=np.bool_)
        inside = (self.time >= span[0] - guard) & (self.time + 2.0 * _HOP <= span[1] + guard)
        return np.asarray(inside, dtype=np.bool_)


@dataclass(frozen=True)
class _Spans:
    """When the near end talks too, as given or as found."""

    near_alone: Span | None
    both: Span | None
    others: tuple[Span, ...]
    faults: tuple[Fault, ...]

    def clear(self, pieces: _Pieces) -> Mask:
        """Pieces in which the near end does not talk."""
        clear = np.ones(len(pieces.time), dtype=np.bool_)
        for span in (self.near_alone, self.both, *self.others):
            clear &= ~pieces.inside(span, guard=2.0 * _HOP)
        return clear


def trial(
    far: Array,
    near: Array,
    rate: float,
    *,
    near_alone: Span | None = None,
    both: Span | None = None,
) -> CancellerResult:
    """What an echo canceller did.

    Parameters
    ----------
    far, near : ndarray, shape (samples,)
        What the far end sent, and what was sent to it; re full scale.
    rate : float
        Of both. [Hz]
    near_alone, both : (float, float), optional
        When only the near end talks, and when both do [s]. Without them they are looked for, once
        the canceller has converged.

    Returns
    -------
    CancellerResult
        None, with a fault that says why, for what cannot be told.

    Notes
    -----
    Levels are those from 100 Hz to 8 kHz. The beginning is the first 0.1 s in which the far end
    talks: of a canceller that is as fast it shows more loss than the room has, and less added. The
    settled loss is that of the last third of the time in which only the far end talks, before both
    do; noise of the near end, known from pauses, is taken from it. Of the near end as much talk is
    compared as lies in both spans, so it should say the same in both.

    Examples
    --------
    >>> far = 0.1 * np.random.default_rng(1).standard_normal(80000)
    >>> near = np.where(np.arange(80000) < 32000, 0.3, 0.003) * far
    >>> found = trial(far, near, 16000.0)
    >>> round(found.before_db), round(found.after_db), round(found.converged, 1)
    (10, 50, 2.0)
    """
    length = min(len(far), len(near))
    far, near = far[:length], near[:length]
    if length < (LEAST_TALK + 2.0 * _HOP) * rate:
        return _nothing(words.too_short(length / rate, LEAST_TALK))
    talking = _talking(_powers(far, rate))
    if not talking.any():
        return _nothing(words.NO_FAR_END)
    delay = _delay(far, near, np.flatnonzero(talking), rate)
    if delay is None:
        return _nothing(words.no_echo(_least_db(far, near, rate)))
    pieces = _Pieces.of(far, near, delay, rate)
    spans = _spans(pieces, near_alone, both)
    single = pieces.talking & spans.clear(pieces)
    if single.sum() * _HOP < LEAST_TALK:
        return _nothing(words.too_short(float(single.sum()) * _HOP, LEAST_TALK))
    return _told(pieces, spans, single)


def _least_db(far: Array, near: Array, rate: float) -> float:
    """What the return loss is at least where no echo is found."""
    pieces = _Pieces.of(far, near, 0, rate)
    return pieces.loss_db(pieces.talking)


def _told(pieces: _Pieces, spans: _Spans, single: Mask) -> CancellerResult:
    """What can be told where there is an echo and the far end talks alone for a while."""
    alone = _before(pieces, spans, single)
    settled = _last_part(alone)
    after = pieces.loss_db(settled)
    first = int(np.argmax(pieces.talking))
    begin = np.zeros(len(single), dtype=np.bool_)
    begin[np.flatnonzero(single)[:_BEGIN]] = True
    before = None if pieces.in_noise(begin) else pieces.loss_db(begin)
    added = None if before is None else after - before
    curve = _curve(pieces, single)
    began = float(pieces.time[first])
    faults = list(spans.faults)
    if pieces.in_noise(settled):
        faults.append(words.drowned(after))
    elif _busy(pieces, spans, settled):
        faults.append(words.busy(after))
    converged = None
    if added is None or added < SETTLED_WITHIN_DB:
        faults.append(words.nothing_added(added))
    else:
        converged = _converged(pieces, alone, after, began)
        faults += [] if converged is not None else [words.UNSETTLED]
    kept, why = _kept(pieces, spans, after)
    echo, why_echo = _echo_after(pieces, spans, single)
    return CancellerResult(
        before_db=before,
        after_db=after,
        added_db=added,
        converged=converged,
        double_talk_kept_db=kept,
        double_talk_echo_db=echo,
        curve=tuple(curve),
        faults=tuple((*faults, *why, *why_echo)),
    )


def _powers(samples: Array, rate: float) -> Array:
    """Power between 100 Hz and 8 kHz in pieces of 0.1 s, half a piece apart."""
    hop = round(_HOP * rate)
    frequency = np.fft.rfftfreq(2 * hop, 1.0 / rate)
    inside = ((frequency >= WIDEBAND[0]) & (frequency <= WIDEBAND[1])).astype(np.float64)
    rows = piece_powers(samples, length=2 * hop, hop=hop)
    return np.concatenate([some @ inside for some in rows])


def _reverberant(powers: Array) -> Array:
    """Powers that die away as an echo does, the same on the whole."""
    decay = energy(-60.0 * _HOP / _ECHO_DECAY) ** np.arange(round(_PAUSE / _HOP))
    return np.asarray(np.convolve(powers, decay / decay.sum())[: len(powers)], dtype=np.float64)


def _talking(powers: Array) -> Mask:
    loud = max(float(np.percentile(powers, 95.0)), float(powers.max()) * energy(-_ACTIVE_DB))
    if loud < energy(_SILENT_DBFS):
        return np.zeros(len(powers), dtype=np.bool_)
    return np.asarray(powers > loud * energy(-_ACTIVE_DB), dtype=np.bool_)


def _spread(mask: Mask, count: int) -> Mask:
    """Mask that goes on for some pieces after each."""
    seen = np.concatenate([np.zeros(count, dtype=np.int64), np.cumsum(mask)])
    now = np.cumsum(mask)
    return np.asarray(mask | (now - seen[: len(now)] > 0), dtype=np.bool_)


def _last_part(mask: Mask) -> Mask:
    """Last third of the pieces of a mask."""
    there = np.flatnonzero(mask)
    last = np.zeros(len(mask), dtype=np.bool_)
    last[there[len(there) - max(1, len(there) // _SETTLED_SHARE) :]] = True
    return last


def _before(pieces: _Pieces, spans: _Spans, single: Mask) -> Mask:
    """Pieces of the far end alone before both talk, or all if these are too few."""
    if spans.both is None:
        return single
    alone = single & (pieces.time < spans.both[0])
    return alone if alone.sum() * _HOP >= LEAST_TALK else single


def _delay(far: Array, near: Array, talking: Indices, rate: float) -> int | None:
    """Samples until the echo comes, from where it correlates best; None where it never does."""
    length = round(_CORRELATED * rate)
    most, early = round(MOST_DELAY * rate), round(_EARLY * rate)
    size = fast_length(length + most + early)
    frequency = np.fft.rfftfreq(size, 1.0 / rate)
    inside = (frequency >= WIDEBAND[0]) & (frequency <= min(WIDEBAND[1], 0.45 * rate))
    places = np.unique(np.linspace(0, len(talking) - 1, _TRIES).astype(int))
    starts = np.minimum((talking[places] * _HOP * rate).astype(int), len(far) - length)
    best, found = _STANDS_OUT, None
    for start in starts:
        sent = far[start : start + length]
        heard = np.zeros(length + most)
        part = near[max(0, start - early) : start - early + len(heard)]
        missing = max(0, early - start)
        heard[missing : missing + len(part)] = part[: len(heard) - missing]
        cross = np.fft.rfft(heard, size) * np.conj(np.fft.rfft(sent, size))
        cross *= inside / np.maximum(np.abs(cross), _TINY)
        correlation = np.abs(np.fft.irfft(cross, size)[: early + most])
        height = float(correlation.max() / max(np.sqrt(np.mean(np.square(correlation))), _TINY))
        if height > best:
            best, found = height, int(np.argmax(correlation)) - early
    return found


def _spans(pieces: _Pieces, near_alone: Span | None, both: Span | None) -> _Spans:
    """Spans that were given, or that are found once the canceller has converged."""
    faults: list[Fault] = []
    others: list[Span] = []
    if near_alone is None and pieces.noise > 0.0:
        floor = max(pieces.noise * energy(_TALKING_DB), energy(_SILENT_DBFS))
        found = _long(pieces, pieces.quiet & (pieces.near > floor))
        if found:
            near_alone = max(found, key=_lasting)
            faults.append(words.found_span("near_alone", near_alone))
    if both is None:
        expected = _recent(pieces.far) * energy(-_usual_loss_db(pieces)) + pieces.noise
        above = ~pieces.quiet & (_smooth(pieces.near) > expected * energy(_TALKING_DB))
        above &= ~pieces.inside(near_alone, guard=_WINDOW * _HOP)
        found = _long(pieces, above & _once_settled(pieces))
        if found:
            both = max(found, key=_lasting)
            others = [span for span in found if span != both]
            faults.append(words.found_span("both", both))
    return _Spans(near_alone, both, tuple(others), tuple(faults))


def _lasting(span: Span) -> float:
    return span[1] - span[0]


def _busy(pieces: _Pieces, spans: _Spans, settled: Mask) -> bool:
    """Whether the near end is about as loud in pauses of the far end, so also under its echo."""
    pauses = pieces.quiet & spans.clear(pieces)
    if pauses.sum() * _HOP < _PAUSES:
        return False
    return bool(pieces.near[pauses].mean() >= 0.5 * pieces.near[settled].mean())


def _usual_loss_db(pieces: _Pieces) -> float:
    """Return loss in the last part of the far end's talk, as its median."""
    last = _last_part(pieces.talking)
    return float(np.median(_losses(pieces)[last]))


def _losses(pieces: _Pieces) -> Array:
    """Return loss of each piece with the two after it [dB]."""
    floor = _OVER_NOISE * pieces.noise
    left = np.maximum(_smooth(pieces.near) - pieces.noise, max(floor, _TINY))
    return 10.0 * np.log10(np.maximum(_smooth(pieces.far), _TINY) / left)


def _smooth(powers: Array) -> Array:
    """Mean of each piece and those after it in its window."""
    whole = np.concatenate([powers, np.full(_WINDOW - 1, powers[-1])])
    return np.lib.stride_tricks.sliding_window_view(whole, _WINDOW).mean(axis=1)


def _recent(powers: Array) -> Array:
    """Highest power up to each piece, for as long as its echo goes on, and in its window."""
    count = round(_PAUSE / _HOP)
    whole = np.pad(powers, (count, _WINDOW - 1), mode="edge")
    return np.lib.stride_tricks.sliding_window_view(whole, count + _WINDOW).max(axis=1)


def _once_settled(pieces: _Pieces) -> Mask:
    """Pieces from where the usual loss was first reached."""
    reached = pieces.talking & (_losses(pieces) >= _usual_loss_db(pieces) - SETTLED_WITHIN_DB)
    return np.asarray(np.cumsum(reached) > 0, dtype=np.bool_)


def _long(pieces: _Pieces, mask: Mask) -> list[Span]:
    """Spans of a mask, short gaps closed, that are long enough to be talk."""
    first, last = runs(np.flatnonzero(mask))
    spans: list[Span] = []
    for begin, end in zip(pieces.time[first], pieces.time[last] + 2.0 * _HOP, strict=True):
        if spans and begin - spans[-1][1] <= _GAP:
            spans[-1] = (spans[-1][0], float(end))
        else:
            spans.append((float(begin), float(end)))
    return [span for span in spans if _lasting(span) >= _LONG_ENOUGH + 2.0 * _HOP]


def _curve(pieces: _Pieces, single: Mask) -> list[tuple[float, float]]:
    """Time and return loss over the 0.2 s after it, of the far end alone."""
    whole = np.lib.stride_tricks.sliding_window_view(
        np.concatenate([single, np.zeros(_WINDOW - 1, dtype=np.bool_)]), _WINDOW
    ).all(axis=1)
    losses = _losses(pieces)
    return [(float(pieces.time[i]), float(losses[i])) for i in np.flatnonzero(whole)]


def _converged(pieces: _Pieces, alone: Mask, after: float, began: float) -> float | None:
    """When the loss over a second first stays near the settled one, after the far end began [s].

    What is not yet cancelled outweighs what is, so a second is as good as settled only where it
    begins settled.
    """
    there = np.flatnonzero(alone)
    windows = np.lib.stride_tricks.sliding_window_view(there, round(_STAYS / _HOP))
    left = pieces.near[windows].sum(axis=1) - windows.shape[1] * pieces.noise
    floor = max(_OVER_NOISE * windows.shape[1] * pieces.noise, _TINY)
    level = 10.0 * np.log10(pieces.far[windows].sum(axis=1) / np.maximum(left, floor))
    below = level < after - SETTLED_WITHIN_DB
    share = np.cumsum(below[::-1])[::-1] / np.arange(len(below), 0, -1)
    stays = np.flatnonzero(~below & (share <= _RELAPSES))
    return max(0.0, float(pieces.time[there[stays[0]]]) - began) if len(stays) else None


def _kept(pieces: _Pieces, spans: _Spans, after: float) -> tuple[float | None, tuple[Fault, ...]]:
    """Level of the near end in double talk over what it is alone."""
    alone, both = (pieces.inside(span) for span in (spans.near_alone, spans.both))
    named = (("near_alone", alone), ("both", both))
    lacking = [name for name, mask in named if mask.sum() * _HOP < _COMPARED]
    if lacking:
        return None, (words.no_overlap(lacking),)
    echo = float(pieces.far[both].mean()) * energy(-after)
    talk = float(pieces.near[both].mean()) - echo - pieces.noise
    usual = float(pieces.near[alone].mean()) - pieces.noise
    if usual <= pieces.noise or talk <= echo + pieces.noise:
        return None, (words.UNDER_ECHO,)
    return level_db(talk / usual), ()


def _echo_after(
    pieces: _Pieces, spans: _Spans, single: Mask
) -> tuple[float | None, tuple[Fault, ...]]:
    """Echo after both have talked over that before."""
    if spans.both is None:
        return None, ()
    before = single & (pieces.time < spans.both[0])
    before &= np.cumsum(before[::-1])[::-1] <= _AROUND / _HOP
    after = single & (pieces.time > spans.both[1])
    after &= np.cumsum(after) <= _AROUND / _HOP
    least = 0.5 * _AROUND / _HOP
    if before.sum() < least or after.sum() < least:
        return None, (words.NOTHING_AFTER,)
    return pieces.loss_db(before) - pieces.loss_db(after), ()


def _nothing(fault: Fault) -> CancellerResult:
    return CancellerResult(None, None, None, None, None, None, faults=(fault,))
