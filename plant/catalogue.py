"""All kinds of parts there are."""

from __future__ import annotations

from rungproof.plant.beacon import Beacon
from rungproof.plant.contactor import Contactor
from rungproof.plant.delay_relay import DelayRelay
from rungproof.plant.demand import Demand
from rungproof.plant.dial import Dial
from rungproof.plant.door import Door
from rungproof.plant.dosing_pump import DosingPump
from rungproof.plant.drive import Drive
from rungproof.plant.emergency_stop import EmergencyStop
from rungproof.plant.fan import Fan
from rungproof.plant.feeder import Breaker, CommonReturn, Fuse
from rungproof.plant.float_switch import FloatSwitch
from rungproof.plant.flow_meter import FlowMeter
from rungproof.plant.flow_switch import FlowSwitch
from rungproof.plant.guard_switch import GuardSwitch
from rungproof.plant.horn import Horn
from rungproof.plant.key_switch import KeySwitch
from rungproof.plant.lamp import Lamp
from rungproof.plant.latching_relay import LatchingRelay
from rungproof.plant.level_probe import LevelProbe
from rungproof.plant.level_transmitter import LevelTransmitter
from rungproof.plant.mixer import Mixer
from rungproof.plant.motor import Motor
from rungproof.plant.outlet import Outlet
from rungproof.plant.overload_relay import OverloadRelay
from rungproof.plant.part import Part
from rungproof.plant.press import Press
from rungproof.plant.pump import Pump
from rungproof.plant.push_button import PushButton
from rungproof.plant.relay import Relay
from rungproof.plant.reservoir import Reservoir
from rungproof.plant.safety_module import SafetyModule
from rungproof.plant.selector import Selector
from rungproof.plant.siphon import Siphon
from rungproof.plant.supply import Supply
from rungproof.plant.tank import Tank
from rungproof.plant.text_panel import TextPanel
from rungproof.plant.two_hand_station import TwoHandStation
from rungproof.plant.valve import Valve
from rungproof.plant.water_heater import WaterHeater

#: The word that begins a part's line -> its class.
KINDS: dict[str, type[Part]] = {
    part.kind: part
    for part in (
        Reservoir,
        Tank,
        Pump,
        DosingPump,
        Valve,
        Outlet,
        Siphon,
        Demand,
        LevelTransmitter,
        LevelProbe,
        FloatSwitch,
        PushButton,
        EmergencyStop,
        GuardSwitch,
        Selector,
        Relay,
        Contactor,
        Supply,
        Lamp,
        Horn,
        Motor,
        Fan,
        Press,
        DelayRelay,
        LatchingRelay,
        OverloadRelay,
        SafetyModule,
        Fuse,
        Breaker,
        CommonReturn,
        KeySwitch,
        Dial,
        TwoHandStation,
        FlowSwitch,
        FlowMeter,
        Drive,
        Mixer,
        WaterHeater,
        Door,
        Beacon,
        TextPanel,
    )
}
