"""Play the part of an invented, finished room: record every file that a planned session asks for.

``python examples/record_session.py ROOM SESSION``, after ``wellheard sweep ROOM -o SESSION``; kinds
of recordings may follow, if not all are wanted.

The room that sounds here is not quite the one of the document: its ceiling was built of plain
plasterboard and its ventilation is louder. Each path is what the engine predicts of that room,
direct sound and reflections octave by octave, made a response with a random carrier; so what the
recordings say is true of no real place.
"""

from __future__ import annotations

import sys

import numpy as np

from wellheard import load_room
from wellheard.acoustics.canceller import cancel_echo
from wellheard.acoustics.levels import a_weighted_level_db
from wellheard.arrays import Array
from wellheard.bands import OCTAVES, exact_midband
from wellheard.measurement import audio
from wellheard.measurement.filters import click_energy, octave_bands
from wellheard.measurement.levels import octave_levels_db
from wellheard.measurement.session import Recording, SessionFolder, load_session
from wellheard.predict.evidence import Evidence
from wellheard.predict.ledger import predict
from wellheard.predict.wayback import Inbound
from wellheard.proving.conditions import as_measured
from wellheard.room.document import Room
from wellheard.room.noise import Background
from wellheard.workflow.load import Loaded

BUILT_CEILING = "ceiling-plasterboard"
BUILT_NC = 33.0
FULL_SCALE_DB = 114.0
"""Level at the measuring microphone, and at the room's, of a sample at 1."""
EARLY = 0.05
SEED = 20261126


class Part:
    """The finished room, as it sounds to a recorder."""

    def __init__(self, loaded: Loaded, folder: SessionFolder) -> None:
        self.folder, self.rate = folder, folder.session.signal.rate
        self.evidence = predict(
            as_measured(built(loaded.room), folder.session, folder.session.recordings),
            loaded.catalogue,
            assumptions=False,
        )
        self.signals = {
            kind: audio.read(folder.path(f"signals/{file}.wav")).samples
            for kind, file in (("sweep", "sweep"), ("speech", "speech"), ("echo", "echo"))
            if folder.path(f"signals/{file}.wav").is_file()
        }
        speech = self.signals["speech"][:, 0]
        found = octave_levels_db(speech, self.rate)
        self.speech_dbfs = float(a_weighted_level_db([found[f] for f in OCTAVES]))
        self.random = np.random.default_rng(SEED)

    def recording(self, asked: Recording) -> Array | None:
        """Samples of one recording; None where this part has no answer."""
        if asked.kind == "noise":
            return self.noise(str(asked.to), seconds=20.0)
        response = self.response(str(asked.from_), str(asked.to))
        if response is None:
            return None
        if asked.kind == "echo":
            return self.cancelled(response)
        heard = convolved(self.signals[asked.kind][:, 0], response)
        return heard + self.noise(str(asked.to), seconds=len(heard) / self.rate)[: len(heard)]

    def response(self, source: str, to: str) -> Array | None:
        """Pressure of full scale over what was played, from a place to another."""
        evidence = self.evidence
        if source == "far-end":
            if to in {row.talker.id for row in playback_rows(evidence)}:
                return self.inbound(to)
            echo = next((one for one in evidence.echo if one.microphone == to), None)
            if echo is None:
                return None
            total = -np.asarray(echo.return_loss_bands_db)
            return self.made(total - 3.0, total - 3.0)
        path = next((p for p in evidence.paths if (p.talker, p.microphone) == (source, to)), None)
        if path is None:
            return None
        played = self.folder.session.source.dba_at_1m
        assert played is not None, "the plan states the level of the test talker"
        gain = played - self.speech_dbfs - FULL_SCALE_DB
        return self.made(np.asarray(path.direct_db) + gain, np.asarray(path.reverberant_db) + gain)

    def inbound(self, ear: str) -> Array:
        """From the far end's input to an ear: as loud as predicted, as clear as predicted."""
        row = next(row for row in playback_rows(self.evidence) if row.talker.id == ear)
        speech = octave_levels_db(self.signals["speech"][:, 0], self.rate)
        total = np.asarray(row.levels_db) - [speech[f] + FULL_SCALE_DB for f in OCTAVES]
        late = 1.0 / (1.0 + 10.0 ** (np.asarray(row.c50_db) / 10.0))
        tail = np.minimum(late * 10.0 ** (6.0 * EARLY / np.asarray(self.time)), 0.99)
        return self.made(total + 10.0 * np.log10(1.0 - tail), total + 10.0 * np.log10(tail))

    def made(self, direct_db: Array, reflected_db: Array) -> Array:
        """A response with so much direct and so much reflected sound in each octave."""
        length = round(2.2 * self.rate)
        time = np.arange(length) / self.rate
        click = np.zeros(length)
        click[round(0.006 * self.rate)] = 1.0
        carrier = self.random.normal(size=length) * (time > 0.008)
        direct, noise = octave_bands(click, self.rate), octave_bands(carrier, self.rate)
        whole = np.zeros(length)
        for b, octave in enumerate(OCTAVES):
            decaying = noise[b] * np.exp(-6.9078 * (time - 0.008) / self.time[b]) * (time > 0.008)
            energy = click_energy(octave, self.rate)
            wanted = energy * 10.0 ** (reflected_db[b] / 10.0)
            whole += direct[b] * 10.0 ** (direct_db[b] / 20.0)
            whole += decaying * np.sqrt(wanted / np.square(decaying).sum())
        return whole

    def noise(self, place: str, *, seconds: float) -> Array:
        """The room in silence at a place, by octaves."""
        found = self.evidence.noise.levels_db
        length = round(seconds * self.rate)
        frequency = np.fft.rfftfreq(length, 1.0 / self.rate)
        density = np.zeros(len(frequency))
        for octave, level_db in found.items():
            middle = exact_midband(octave)
            band = (frequency >= middle / 2**0.5) & (frequency < middle * 2**0.5)
            density[band] = 10.0 ** ((level_db - FULL_SCALE_DB) / 10.0) / band.sum()
        phase = self.random.uniform(0.0, 2.0 * np.pi, len(frequency))
        return np.asarray(
            np.fft.irfft(np.sqrt(density / 2.0) * np.exp(1j * phase), length) * length
        )

    def cancelled(self, response: Array) -> Array:
        """What the far end sent beside what a canceller of 256 ms sends back."""
        far, near = self.signals["echo"].T
        talker = self.response(self.evidence.talkers[0].id, self.evidence.microphones[0].id)
        assert talker is not None
        microphone = convolved(far, response) + convolved(near, talker)
        microphone += self.noise("", seconds=len(far) / self.rate)[: len(far)]
        sent = cancel_echo(far, microphone, rate=self.rate, tail=0.256).residual
        return np.stack([sent, far], axis=1)

    @property
    def time(self) -> tuple[float, ...]:
        """Decay times [s]."""
        return self.evidence.reverberation.time


def built(room: Room) -> Room:
    """The room as it was built."""
    finishes = room.space.finishes.model_copy(update={"ceiling": BUILT_CEILING})
    noise = room.noise.model_copy(update={"background": Background(nc=BUILT_NC)})
    space = room.space.model_copy(update={"finishes": finishes})
    return room.model_copy(update={"space": space, "noise": noise})


def playback_rows(evidence: Evidence) -> tuple[Inbound, ...]:
    """What every ear hears of the far end."""
    return () if evidence.playback is None else evidence.playback.rows


def convolved(signal: Array, response: Array) -> Array:
    """As long as the signal."""
    length = len(signal) + len(response)
    spectrum = np.fft.rfft(signal, length) * np.fft.rfft(response, length)
    return np.fft.irfft(spectrum, length)[: len(signal)]


def calibrator(rate: float) -> Array:
    """94 dB at 1 kHz for 5 s."""
    time = np.arange(round(5.0 * rate)) / rate
    return np.sqrt(2.0) * 10.0 ** ((94.0 - FULL_SCALE_DB) / 20.0) * np.sin(2000.0 * np.pi * time)


def main(room: str, session: str, *kinds: str) -> None:
    """Write every recording that the part has an answer for, or those of some kinds."""
    folder = load_session(session)
    part = Part(load_room(room), folder)
    for files in folder.session.calibration.values():
        for name in filter(None, (files.file, files.after)):
            folder.path(name).write_bytes(audio.wav_bytes(calibrator(part.rate), part.rate))
    written = 0
    for asked in folder.session.recordings.values():
        if kinds and asked.kind not in kinds:
            continue
        samples = part.recording(asked)
        if samples is not None:
            folder.path(asked.file).write_bytes(audio.wav_bytes(samples, part.rate))
            written += 1
    print(f"{written} {'recording' if written == 1 else 'recordings'} in {session}")


if __name__ == "__main__":
    main(*sys.argv[1:])
