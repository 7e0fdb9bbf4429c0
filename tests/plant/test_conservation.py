"""Nothing appears and nothing is lost, whatever fails: balances and ranges over generated plants and runs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rungproof.plant.assembly import Assembly
from rungproof.plant.operators import PLAIN

Draw = Callable[..., Any]

STORES = (
    "reservoir {name} holds 200 L, starts at 120 L, additive 3 g/L",
    "reservoir {name} holds 20 L, additive 120 g/L",
    "tank {name} upright cylinder, diameter 60 cm, height 50 cm, starts at 20 cm, additive 1 g/L",
    "tank {name} upright cylinder, diameter 50 cm, height 40 cm, cone bottom 30 cm deep, additive 0 g/L",
    "tank {name} lying cylinder, diameter 50 cm, length 1 m, starts at 45 cm, additive 2 g/L",
    "tank {name} upright cylinder, diameter 60 cm, height 20 cm, torispherical ends, starts at 9 cm, additive 0 g/L",
    "tank {name} rectangular, length 30 cm, width 30 cm, height 30 cm, starts at 29 cm, additive 5 g/L",
)
MOVERS = (
    "pump {name} {way}, 0..120 L/min, deadband 0.8 V, lag 0.4 s",
    "pump {name} {way}, 10..900 L/min, fixed speed, loses prime when dry",
    "dosing_pump {name} {way}, doses 2 L/min",
    "dosing_pump {name} {way}, stroke 100 mL",
    "valve {name} {way}, flow 300 L/min, opens in 1 s, closes in 2 s",
    "demand {name} {way}, 0..500 L/min",
)
FROM_TANK = (
    "outlet {name} {way}, orifice 40 mm, opening 0..100 %",
    "siphon {name} {way}, bore 40 mm, inlet at 2 cm, crest at 20 cm, discharges 1 m below",
)


@st.composite
def plants(draw: Draw) -> str:
    """Lines of two to four vessels with up to six movers between them, and between them and the world."""
    stores = draw(st.lists(st.sampled_from(STORES), min_size=2, max_size=4))
    lines = [store.format(name=f"v{k}") for k, store in enumerate(stores)]
    tanks = [f"v{k}" for k, store in enumerate(stores) if store.startswith("tank")]
    names = [f"v{k}" for k in range(len(stores))]
    for k in range(draw(st.integers(1, 6))):
        by_level = bool(tanks) and draw(st.booleans())
        source = draw(st.sampled_from(tanks if by_level else [*names, ""]))
        destination = draw(st.sampled_from([n for n in [*names, ""] if n != source]))
        way = " ".join(word for word in (source and f"from {source}", destination and f"into {destination}") if word)
        lines.append(draw(st.sampled_from(FROM_TANK if by_level else MOVERS)).format(name=f"m{k}", way=way))
    return "\n".join(lines)


def settings_of(assembly: Assembly, draw: Draw) -> tuple[dict[str, Any], dict[str, Any]]:
    """What is driven and what the world does for a while: anything within the declared ranges."""
    drive = {key: _any(each, draw) for key, each in assembly.driven.items()}
    env = {key: _any(each, draw) for key, each in assembly.environment.items() if "!" not in key}
    faults = [key for key in assembly.environment if "!" in key]
    env.update(dict.fromkeys(draw(st.lists(st.sampled_from(faults), max_size=3)) if faults else [], True))
    return drive, env


def _any(each: Any, draw: Draw) -> Any:
    if each.type == "bool":
        return draw(st.booleans())
    if each.type == "int":
        return draw(st.integers(each.low, each.high))
    return draw(st.one_of(st.just(float(each.high)), st.floats(each.low, each.high)))


def check_ranges(assembly: Assembly, state: dict[str, Any], look: dict[str, Any]) -> None:
    """Every variable and every output is of its type and within its declared range."""
    for values, declared in ((state, assembly.variables), (look, assembly.outputs)):
        for key, each in declared.items():
            value = values[key]
            assert type(value) is {"bool": bool, "int": int, "real": float}[each.type], (key, value)
            if each.type != "bool":
                assert each.low <= value <= each.high, (key, value, each.low, each.high)


@settings(max_examples=60, deadline=None)
@given(plants(), st.data())
def test_balance_of_any_plant_in_any_run(plant: Callable[..., Assembly], text: str, data: st.DataObject) -> None:
    """Litres and grams in, spilled and passed out stay what they were, to 1e-9, under any faults; ranges hold."""
    assembly = plant(text, data.draw(st.sampled_from([5, 100, 1000]), "dt, ms"))
    state = assembly.start()
    litres, grams = assembly.total(state), assembly.total_additive(state)
    for _ in range(data.draw(st.integers(1, 4), "stretches")):
        drive, env = settings_of(assembly, data.draw)
        for _ in range(25):
            look = assembly.look(PLAIN, state, env)
            check_ranges(assembly, state, look)
            state = assembly.tick(PLAIN, state, look, drive, env)
        throughput = sum(value for key, value in state.items() if key.endswith((".passed", ".passed_additive")))
        assert assembly.total(state) == pytest.approx(litres, abs=1e-9 * (litres + throughput))
        assert assembly.total_additive(state) == pytest.approx(grams, abs=1e-9 * (grams + throughput))


def test_every_fault_alone_keeps_the_balance(everything: Assembly) -> None:
    """With everything driven hard and any single fault on, litres and grams stay what they were."""
    drive = {key: (True if each.type == "bool" else each.high) for key, each in everything.driven.items()}
    open_all = {k: i.high for k, i in everything.environment.items() if i.type == "real"}
    litres, grams = everything.total(everything.start()), everything.total_additive(everything.start())
    for fault in everything.faults:
        state = everything.start()
        env = {**open_all, fault: True}
        for _ in range(40):
            look = everything.look(PLAIN, state, env)
            state = everything.tick(PLAIN, state, look, drive, env)
        check_ranges(everything, state, everything.look(PLAIN, state, env))
        assert everything.total(state) == pytest.approx(litres, rel=1e-12)
        assert everything.total_additive(state) == pytest.approx(grams, rel=1e-12)


def test_a_long_run_keeps_the_balance(run: Callable[..., Any]) -> None:
    """Fifty thousand ticks of pumping round lose nothing: 1e-9 of the total."""
    pumping = run(
        """
        reservoir cistern  holds 2000 L, starts at 1500 L
        tank header        upright cylinder, diameter 60 cm, height 110 cm, starts at 60 L
        pump P1            from cistern into header, 0..12 L/min, lag 0.4 s
        outlet tap         from header into cistern, orifice 8 mm, opening 70 %
        """
    )
    pumping.drive |= {"P1.supply": True, "P1.speed": 9.0}
    pumping.ticks(250_000)
    assert pumping.assembly.total(pumping.state) == pytest.approx(1560, rel=1e-9)


def test_movers_of_one_source_are_served_in_line_order(run: Callable[..., Any]) -> None:
    """What the first takes the second no longer finds; nobody takes more than there is."""
    pumping = run(
        """
        reservoir well  holds 10 L, starts at 1.5 L
        pump first      from well, 0..60 L/min
        pump second     from well, 0..60 L/min
        """,
        1000,
    )
    pumping.drive |= {key: (True if key.endswith("supply") else 10.0) for key in pumping.assembly.driven}
    pumping.tick()
    assert (pumping["first.flow"], pumping["second.flow"]) == (pytest.approx(60), pytest.approx(30))
    assert pumping["second.starved"] and not pumping["first.starved"]
    assert pumping["well.volume"] == 0
    pumping.tick()
    assert (pumping["first.flow"], pumping["second.flow"]) == (0, 0)


def test_what_goes_over_the_brim_is_spilled(run: Callable[..., Any]) -> None:
    """A full tank stays full, and the rest is accounted for, its additive with it."""
    filling = run(
        """
        tank pot       rectangular, length 10 cm, width 10 cm, height 10 cm, starts at 1 L, additive 8 g/L
        valve inlet    into pot, flow 60 L/min
        """,
        500,
    )
    filling.drive["inlet.coil"] = True
    filling.tick()
    assert (filling["pot.volume"], filling["pot.spilled"]) == (1, pytest.approx(0.5))
    assert filling["pot.additive"] == pytest.approx(8 / 1.5)
    filling.drive.clear()
    filling.env["pot!leaking"] = True
    filling.ticks(60_000)
    assert filling["pot.volume"] == pytest.approx(0.99)
    assert filling["pot.spilled"] == pytest.approx(0.51)
