"""Preamplifiers that are noisier than their microphones."""

from __future__ import annotations

from collections.abc import Iterator

from wellheard.acoustics.gain import equivalent_acoustic_noise_db, sensitivity_db
from wellheard.catalog.products import Processor
from wellheard.checks.echoes import LEAST
from wellheard.checks.model import Draft
from wellheard.checks.registry import rule
from wellheard.checks.relaxation import limit_in_force
from wellheard.checks.wording import decibels
from wellheard.predict.evidence import Evidence

CODE = "noise-of-electronics"


@rule(CODE, "warning", strength="house", cites="", thresholds=(CODE,))
def noise_of_electronics(evidence: Evidence) -> Iterator[Draft]:
    """Every analogue microphone is noisier than the preamplifier behind it.

    Compared are the microphone's self-noise and the sound level that would be as loud as the
    preamplifier's equivalent input noise. The latter is unweighted, some 2 dB to its disadvantage.
    Where a sheet states neither sensitivity nor noise, nothing is judged.
    """
    limit = limit_in_force(evidence, CODE)
    placed = {one.id: one.product for one in evidence.microphones}
    for diagram in evidence.levels:
        stage = next((s for s in diagram.stages if s.name == "preamplifier"), None)
        if diagram.path != "outbound" or stage is None:
            continue
        product, port = placed[diagram.device], stage.at.partition(".")[0]
        device = evidence.room.devices.get(port)
        takes = None if device is None else evidence.catalogue.product(device.product)
        if not isinstance(takes, Processor) or takes.preamp_noise_dbu is None:
            continue
        if product.sensitivity_mv_pa is None:
            continue
        heard = float(
            equivalent_acoustic_noise_db(
                takes.preamp_noise_dbu, sensitivity_db=sensitivity_db(product.sensitivity_mv_pa)
            )
        )
        over = heard - product.self_noise_dba
        if over > limit + LEAST:
            yield Draft(
                at=f"devices.{diagram.device}",
                message=(
                    f"The input {stage.at} is as noisy as {decibels(heard)} of sound at "
                    f"{diagram.device}, {decibels(over)} above its own noise."
                ),
                value=over,
                limit=limit,
                unit="dB",
                remedy=(
                    f"Take a microphone more sensitive than {product.sensitivity_mv_pa:g} mV/Pa, "
                    "or a quieter input."
                ),
            )
