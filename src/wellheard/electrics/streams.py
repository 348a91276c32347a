"""Networked audio: bits on the wire of a stream of packets.

::

    preamble 8 | Ethernet 14 | tag 4 | IP 20 | UDP 8 | RTP 12 | samples | check 4 | gap 12   bytes
"""

from __future__ import annotations

RTP = 12
"""Header without lists of sources. [byte]"""
UDP = 8
"""[byte]"""
IPV4 = 20
"""Header without options. [byte]"""
ETHERNET = 14 + 4
"""Addresses, type and check. [byte]"""
TAG = 4
"""Of a virtual network, which carries the priority too. [byte]"""
ON_THE_WIRE = 8 + 12
"""Preamble and the gap between frames. [byte]"""
LEAST_FRAME = 64
"""With its check; shorter ones are padded. [byte]"""
LARGEST_PAYLOAD = 1500
"""Of a frame. [byte]"""

SAMPLE_RATE = 48000.0
"""[Hz]"""
SAMPLE_BYTES = 3
"""24 bits."""
PACKET_TIME = 0.001
"""Samples that one packet holds. [s]"""


def payload_bytes(
    channels: int,
    *,
    packet_time: float = PACKET_TIME,
    sample_rate: float = SAMPLE_RATE,
    sample_bytes: int = SAMPLE_BYTES,
) -> int:
    """Samples of one packet. [byte]

    Parameters
    ----------
    channels : int
        Of one stream.
    packet_time : float
        [s]
    sample_rate : float
        [Hz]
    sample_bytes : int
        Of one sample of one channel.

    Examples
    --------
    >>> payload_bytes(2)
    288
    """
    return channels * sample_bytes * round(sample_rate * packet_time)


def most_channels(*, packet_time: float = PACKET_TIME) -> int:
    """Channels of 24 bits at 48 kHz that a packet holds without being cut up.

    Examples
    --------
    >>> most_channels()
    10
    """
    return (LARGEST_PAYLOAD - IPV4 - UDP - RTP) // payload_bytes(1, packet_time=packet_time)


def stream_bandwidth(
    channels: int, *, packet_time: float = PACKET_TIME, tagged: bool = True
) -> float:
    """Bit rate that a stream of 24 bits at 48 kHz takes on the wire, all headers included.

    Parameters
    ----------
    channels : int
        Of one stream.
    packet_time : float
        [s]
    tagged : bool
        Frames carry the tag of a virtual network, as they do between switches.

    Returns
    -------
    float
        [bit/s]

    Raises
    ------
    ValueError
        More channels than a packet holds, or none.

    References
    ----------
    .. [1] rfc3550, header of 12 bytes.
    .. [2] rfc768, header of 8 bytes.
    .. [3] rfc791, header of 20 bytes.
    .. [4] ieee802.3, frame, preamble and gap.

    Examples
    --------
    >>> stream_bandwidth(1) / 1e6, stream_bandwidth(8) / 1e6
    (1.808, 9.872)
    """
    most = most_channels(packet_time=packet_time)
    if not 1 <= channels <= most:
        raise ValueError(f"{channels} channels: a packet of {packet_time:g} s holds 1 to {most}")
    inside = RTP + UDP + IPV4 + payload_bytes(channels, packet_time=packet_time)
    frame = max(ETHERNET + inside, LEAST_FRAME) + (TAG if tagged else 0)
    return 8 * (frame + ON_THE_WIRE) / packet_time
