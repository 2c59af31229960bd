"""What the core keeps for one source: a decoder, and a merger for each receiver on the wire."""

import itertools
import string
from functools import reduce

import pytest

from driftlead.core.channel import MAX_RECEIVERS, Channel
from driftlead.core.core import Core
from driftlead.core.settings import CoreSettings
from driftlead.lines import StampedLine
from driftlead.nmea.observations import HeadingReport, North
from driftlead.track.receiver_choice import ReceiverChoice, ReceiverId


def sentence(body: str) -> str:
    total = reduce(lambda sofar, char: sofar ^ ord(char), body, 0)
    return f"${body}*{total:02X}"


def channel(*, require_checksum: bool = True) -> Channel:
    return Channel("gps", 0, require_checksum=require_checksum)


def named(receiver: ReceiverId) -> tuple[str, str]:
    return receiver.source, receiver.group


def test_each_source_decides_by_itself_whether_a_checksum_is_needed() -> None:
    assert channel().decoder.decode("$GPHDT,123.456,T") is None
    lenient = channel(require_checksum=False)
    assert lenient.decoder.decode("$GPHDT,123.456,T") == HeadingReport("GP", 123.456, North.TRUE)


def test_a_talker_is_given_the_same_receiver_each_time() -> None:
    wire, choice = channel(), ReceiverChoice()
    first, again = wire.receiver("GP", choice), wire.receiver("GP", choice)
    assert first[0] is again[0]
    # The core knows its receiver by identity.
    assert first[1] is again[1]
    assert named(first[1]) == ("gps", "satellite")


def test_all_satellite_talkers_of_a_wire_are_one_receiver() -> None:
    wire, choice = channel(), ReceiverChoice()
    merger, receiver = wire.receiver("GP", choice)
    for talker in ("GN", "GL", "GA", "GB", "BD"):
        assert wire.receiver(talker, choice)[0] is merger
        assert wire.receiver(talker, choice)[1] is receiver


def test_an_instrument_that_repeats_the_fix_is_another_receiver() -> None:
    wire, choice = channel(), ReceiverChoice()
    merger, receiver = wire.receiver("GP", choice)
    other_merger, other = wire.receiver("II", choice)
    assert other_merger is not merger
    assert named(other) == ("gps", "II")
    assert other is not receiver


def test_the_same_talker_on_another_wire_is_another_receiver() -> None:
    choice = ReceiverChoice()
    one = Channel("gps", 0, require_checksum=True).receiver("GP", choice)
    two = Channel("ais", 1, require_checksum=True).receiver("GP", choice)
    assert one[1] is not two[1]
    assert one[0] is not two[0]


def test_a_receiver_is_enrolled_with_the_trust_of_its_source() -> None:
    choice = ReceiverChoice()
    low = Channel("low", 1, require_checksum=True).receiver("GP", choice)[1]
    high = Channel("high", 0, require_checksum=True).receiver("GP", choice)[1]
    assert choice.follows(low, 0.0)
    for second in range(31):
        assert choice.followed is low
        choice.follows(low, float(second))
        choice.follows(high, float(second))
    assert choice.followed is high


def test_a_wire_full_of_invented_talkers_does_not_grow_the_memory() -> None:
    wire, choice = channel(), ReceiverChoice()
    letters = string.ascii_uppercase + string.digits
    talkers = ["".join(pair) for pair in itertools.product(letters, repeat=2)]
    receivers = {wire.receiver(talker, choice)[1] for talker in talkers}
    assert len(receivers) <= MAX_RECEIVERS + 2
    assert len(choice._rank) <= MAX_RECEIVERS + 2
    assert len(wire._mergers) <= 4 * MAX_RECEIVERS
    assert len(wire._by_group) <= MAX_RECEIVERS + 2


def test_a_real_receiver_that_comes_after_all_the_invented_ones_is_heard() -> None:
    wire, choice = channel(), ReceiverChoice()
    for letter in string.ascii_uppercase:
        wire.receiver(f"{letter}X", choice)
        wire.receiver(f"{letter}Y", choice)
    merger, receiver = wire.receiver("GP", choice)
    assert named(receiver) == ("gps", "satellite")
    assert wire.receiver("GN", choice)[0] is merger
    assert wire.receiver("GP", choice)[1] is receiver


@pytest.mark.parametrize("late", [0, 1])
def test_two_talkers_on_one_wire_do_not_garble_each_other(late: int) -> None:
    """The satellite receiver, and an instrument that repeats it ``late`` seconds later."""
    core = Core(CoreSettings(), mono_s=0.0)
    positions = []
    for second in range(20):
        for talker, of_second, lat in (("GP", second, 30), ("II", max(0, second - late), 31)):
            time = f"1200{of_second:02d}"
            place = f"46{lat}.{of_second:04d},N,03112.0000,W"
            for body in (
                f"{talker}RMC,{time},A,{place},0.0,,010626,,,A",
                f"{talker}GGA,{time},{place},1,09,0.9,0,M,0,M,,",
            ):
                core.feed(StampedLine(float(second), "gps", sentence(body)))
        position = core.watch.position
        if position is not None:
            positions.append(position.lat_deg)
    # Only the satellite receiver is followed: none of the other's minute 31 gets into the track.
    assert len(positions) == 19
    assert max(positions) < 46 + 30.01 / 60
    assert core.status(19.0).receiver == "gps/satellite"
