"""Time-delay, latching and overload relays, and the two-channel stop module."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from rungproof.plant.part import Part, PartError

Runs = Callable[..., Any]


def _rows(run: Any, driven: str, pattern: str, shown: str) -> str:
    """The bit shown after each tick, for the bit driven in it."""
    bits = ""
    for bit in pattern:
        run.drive[driven] = bit == "1"
        run.tick()
        bits += "01"[run[shown]]
    return bits


# The delayed contacts of IEC 60617 (from memory), hand-worked: ticks of 10 ms, 50 ms are 5 ticks.
@pytest.mark.parametrize(
    ("line", "coil", "contact"),
    [
        ("operates after 50 ms", "11110111111000", "00000000011000"),
        ("operates after 50 ms", "0000", "0000"),
        ("releases after 50 ms", "1000000001", "1111100001"),
        ("releases after 50 ms", "1000100000000", "1111111110000"),
        ("operates after 20 ms, releases after 30 ms", "0111100000", "0011111000"),
    ],
)
def test_delayed_contacts(run: Runs, line: str, coil: str, contact: str) -> None:
    """A contact that is late on, late off, or both; a coil that changes back starts the time anew."""
    relay = run(f"delay_relay KT1 {line}, make contact, break contact", 10)
    assert _rows(relay, "KT1.coil", coil, "KT1.1") == contact
    assert relay["KT1.2"] is not relay["KT1.1"]


def test_delay_relay_faults(run: Runs) -> None:
    """A broken coil never operates, a time element can fail either way."""
    for fault, contact in (("coil_open", "0" * 12), ("no_delay", "1" * 12), ("never_times_out", "0" * 12)):
        relay = run("delay_relay KT1 operates after 50 ms, make contact", 10)
        relay.env[f"KT1!{fault}"] = True
        assert _rows(relay, "KT1.coil", "1" * 12, "KT1.1") == contact


def test_a_delay_relay_must_delay(part: Callable[..., Part]) -> None:
    """A line without a time is refused, with what to write."""
    with pytest.raises(PartError, match="delays nothing") as refused:
        part("delay_relay KT1 make contact")
    assert refused.value.mend == "write `operates after 5 s` or `releases after 5 s`"


@pytest.mark.parametrize(
    ("sets", "resets", "latched"),
    [("010000", "000010", "011100"), ("001100", "000100", "001111"), ("000000", "010000", "000000")],
)
def test_latching_relay_keeps_its_position(run: Runs, sets: str, resets: str, latched: str) -> None:
    """A pulse is enough; with both coils live, or none, the armature stays."""
    relay = run("latching_relay K5 make contact")
    shown = ""
    for put, taken in zip(sets, resets, strict=True):
        relay.drive.update({"K5.set_coil": put == "1", "K5.reset_coil": taken == "1"})
        relay.tick()
        shown += "01"[relay["K5.1"]]
    assert shown == latched


def test_latching_relay_faults(run: Runs) -> None:
    """Either coil can break, and the armature can stick."""
    for fault, coil in (("set_coil_open", "set_coil"), ("sticks", "set_coil")):
        relay = run("latching_relay K5 make contact")
        relay.env[f"K5!{fault}"] = True
        relay.drive[f"K5.{coil}"] = True
        relay.ticks(50)
        assert not relay["K5.1"]
    relay = run("latching_relay K5 make contact")
    relay.drive["K5.set_coil"] = True
    relay.ticks(50)
    relay.env["K5!reset_coil_open"] = True
    relay.drive = {"K5.reset_coil": True}
    relay.ticks(50)
    assert relay["K5.1"]


OVERLOAD = """
    motor M1           runs up 1 s, runs down 1 s
    overload_relay F2  watches M1, trips after 8 s, cools in 20 s, {reset}make contact, break contact
"""


def test_overload_trips_a_stalled_motor(run: Runs) -> None:
    """8 s at standstill under supply, and not one tick before; a motor that turns never trips it."""
    motor = run(OVERLOAD.format(reset=""))
    motor.drive["M1.supply"] = True
    motor.ticks(60_000)
    assert not motor["F2.tripped"]
    motor.env["M1!stalled"] = True
    start = motor.time_ms
    tripped = motor.until(lambda: motor["F2.tripped"], 90_000) - start
    # The heat of the first ticks of starting has gone; standstill is seen one tick late.
    assert tripped == pytest.approx(8000, abs=10)
    assert (motor["F2.1"], motor["F2.2"]) == (True, False)


def test_overload_reset_is_by_hand_fresh_and_after_cooling(run: Runs) -> None:
    """A press while hot does nothing, a held button never resets; a fresh press once it is cold does."""
    motor = run(OVERLOAD.format(reset=""))
    motor.env["F2.overloaded"] = True
    motor.drive["M1.supply"] = True
    motor.until(lambda: motor["F2.tripped"], 20_000)
    motor.drive["M1.supply"] = False
    motor.env["F2.reset"] = True
    motor.ticks(30_000)
    assert (motor["F2.heat"], motor["F2.tripped"]) == (0, True)
    motor.env["F2.reset"] = False
    motor.tick()
    motor.env["F2.reset"] = True
    motor.tick()
    assert not motor["F2.tripped"]


def test_overload_with_automatic_reset_comes_back_by_itself(run: Runs) -> None:
    """After its 20 s of cooling: what stands behind it alone would start again."""
    motor = run(OVERLOAD.format(reset="automatic reset, "))
    motor.env["F2.overloaded"] = True
    motor.drive["M1.supply"] = True
    motor.until(lambda: motor["F2.tripped"], 20_000)
    motor.drive["M1.supply"] = False
    start = motor.time_ms
    assert motor.until(lambda: not motor["F2.tripped"], 60_000) - start == pytest.approx(20_000, abs=15)


def test_overload_faults(run: Runs) -> None:
    """One fault never trips, the other trips though nothing is wrong."""
    motor = run(OVERLOAD.format(reset=""))
    motor.env = {"F2!does_not_trip": True, "F2.overloaded": True}
    motor.drive["M1.supply"] = True
    motor.ticks(20_000)
    assert not motor["F2.tripped"]
    motor.env = {"F2!trips_early": True}
    motor.tick()
    assert motor["F2.tripped"]


MODULE = "safety_module K9 discrepancy 50 ms, monitored reset, make contacts 2, break contact"


class Stop:
    """A stop module with its two channels, its supply and its button at hand."""

    def __init__(self, run: Runs, line: str = MODULE) -> None:
        self.run = run(line)
        self.run.drive = {f"K9.{each}": True for each in ("supply", "channel_1", "channel_2", "read_back")}

    def do(self, ticks: int = 1, **drive: bool) -> Stop:
        """Set some inputs and let some ticks pass."""
        self.run.drive.update({f"K9.{name}": value for name, value in drive.items()})
        self.run.ticks(5 * ticks)
        return self

    def press(self) -> Stop:
        return self.do(20, reset=True).do(2, reset=False)

    @property
    def on(self) -> bool:
        closed: bool = self.run["K9.1"]
        assert self.run["K9.2"] is closed is self.run["K9.on"]
        return closed


def test_monitored_reset_acts_on_release(run: Runs) -> None:
    """Nothing happens while the button is down; letting it go switches on (ISO 13849-1 5.2.2, from memory)."""
    stop = Stop(run)
    assert not stop.do(100).on
    assert not stop.do(100, reset=True).on
    assert stop.do(1, reset=False).on
    assert not stop.run["K9.3"]


def test_taped_reset_starts_nothing(run: Runs) -> None:
    """A reset that was down before the channels closed, or before the supply came, is no reset; nor is its release."""
    stop = Stop(run).do(1, channel_1=False, channel_2=False, reset=True).do(20, channel_1=True, channel_2=True)
    assert not stop.on
    later = Stop(run).do(1, supply=False, reset=True).do(20, supply=True)
    assert not later.on


@pytest.mark.parametrize("channel", ["channel_1", "channel_2"])
def test_one_channel_is_enough_to_stop(run: Runs, channel: str) -> None:
    """Either channel opens both contacts within a tick; that channel alone back does not allow a reset."""
    stop = Stop(run).press()
    assert stop.on
    assert not stop.do(1, **{channel: False}).on
    assert not stop.do(5, **{channel: True}).press().on
    assert stop.run["K9.locked"]
    assert not stop.do(2, channel_1=False, channel_2=False).run["K9.locked"]
    assert stop.do(2, channel_1=True, channel_2=True).press().on


def test_discrepancy_locks(run: Runs) -> None:
    """50 ms apart is still in time, 55 ms locks until both have been open together."""
    for ticks, locked in ((10, False), (11, True)):
        stop = Stop(run).do(5, channel_1=False, channel_2=False)
        stop.do(ticks, channel_1=True)
        stop.do(1, channel_2=True)
        assert stop.run["K9.locked"] is locked
        assert stop.press().on is not locked


@pytest.mark.parametrize("fault", ["relay_1_sticks", "relay_2_sticks"])
def test_welded_internal_relay_neither_defeats_the_stop_nor_allows_the_next_start(run: Runs, fault: str) -> None:
    """Category 3 of ISO 13849-1 (from memory): the other relay opens, and the next reset is refused."""
    stop = Stop(run).press()
    stop.run.env[f"K9!{fault}"] = True
    assert not stop.do(2, channel_1=False, channel_2=False).on
    assert not stop.do(2, channel_1=True, channel_2=True).press().on
    stop.run.env = {}
    assert stop.do(2, channel_1=False, channel_2=False).do(2, channel_1=True, channel_2=True).press().on


def test_open_read_back_refuses_the_start(run: Runs) -> None:
    """A contactor that has not dropped out keeps its break contact open: no reset, even if it closes in between."""
    stop = Stop(run).do(1, read_back=False)
    assert not stop.press().on
    assert not stop.do(5, reset=True, read_back=False).do(1, read_back=True, reset=False).on
    assert stop.press().on


def test_automatic_reset_and_a_dead_module(run: Runs) -> None:
    """Automatic: on with the channels. Dead: never."""
    stop = Stop(run, MODULE.replace("monitored", "automatic")).do(2)
    assert stop.on
    stop.run.env["K9!dead"] = True
    assert not stop.do(2).on


def test_a_stop_module_says_how_it_is_reset(part: Callable[..., Part]) -> None:
    """Neither way, or both, is refused."""
    for how in ("", "monitored reset, automatic reset, "):
        with pytest.raises(PartError, match="either by hand, monitored, or automatically"):
            part(f"safety_module K9 {how}make contact")
