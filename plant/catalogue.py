"""All kinds of parts there are."""

from __future__ import annotations

from rungproof.plant.emergency_stop import EmergencyStop
from rungproof.plant.float_switch import FloatSwitch
from rungproof.plant.level_transmitter import LevelTransmitter
from rungproof.plant.outlet import Outlet
from rungproof.plant.part import Part
from rungproof.plant.pump import Pump
from rungproof.plant.push_button import PushButton
from rungproof.plant.relay import Relay
from rungproof.plant.reservoir import Reservoir
from rungproof.plant.supply import Supply
from rungproof.plant.tank import Tank

#: The word that begins a part's line -> its class.
KINDS: dict[str, type[Part]] = {
    part.kind: part
    for part in (
        Reservoir,
        Tank,
        Pump,
        Outlet,
        LevelTransmitter,
        FloatSwitch,
        PushButton,
        EmergencyStop,
        Relay,
        Supply,
    )
}
