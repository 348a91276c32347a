"""Bits of networked audio against headers counted by hand."""

from __future__ import annotations

import pytest

from wellheard.electrics import streams

# Counted field by field from the RFCs and IEEE 802.3 [M]: RTP 12, UDP 8, IPv4 20, Ethernet 14 and
# its check 4, the tag 4, preamble 8 and gap 12: 82 bytes round the samples, of which 24 bits at
# 48 kHz are 144 each millisecond and channel.
BY_HAND = [
    (1, 82 + 144, "1.808"),
    (2, 82 + 288, "2.960"),
    (4, 82 + 576, "5.264"),
    (8, 82 + 1152, "9.872"),
]


@pytest.mark.parametrize(("channels", "on_the_wire", "megabits"), BY_HAND)
def test_a_stream_takes_what_its_packets_are(
    channels: int, on_the_wire: int, megabits: str
) -> None:
    found = streams.stream_bandwidth(channels)
    assert found == pytest.approx(8 * on_the_wire * 1000)
    assert found / 1e6 == pytest.approx(float(megabits), abs=5e-4)


def test_without_a_tag_it_takes_four_bytes_less() -> None:
    tagged, plain = (streams.stream_bandwidth(2, tagged=tag) for tag in (True, False))
    assert tagged - plain == pytest.approx(4 * 8 * 1000)


def test_shorter_packets_cost_more_headers() -> None:
    # 125 µs: six samples, 18 bytes a channel; 8 channels are 144 + 82 bytes, 8000 times a second.
    assert streams.payload_bytes(8, packet_time=125e-6) == 144
    assert streams.stream_bandwidth(8, packet_time=125e-6) == pytest.approx(8 * 226 * 8000)


def test_short_frames_are_padded() -> None:
    # One channel each 125 µs: 18 + 40 + 18 is 76 bytes, more than the least frame of 64; one of
    # 32 bit words at 44 µs would be less. The pad is never negative.
    assert streams.stream_bandwidth(1, packet_time=125e-6) == pytest.approx(8 * 100 * 8000)
    # One sample a packet: 3 + 40 + 18 = 61, padded to 64, and 24 besides.
    assert streams.stream_bandwidth(1, packet_time=1 / 48000) == pytest.approx(8 * 88 * 48000)


def test_a_packet_holds_ten_channels() -> None:
    # (1500 − 40) / 144 = 10.1.
    assert streams.most_channels() == 10
    with pytest.raises(ValueError, match="1 to 10"):
        streams.stream_bandwidth(11)
    with pytest.raises(ValueError, match="0 channels"):
        streams.stream_bandwidth(0)
