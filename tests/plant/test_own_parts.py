"""A user's own parts from a file of their own."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from rungproof.plant.assembly import Assembly
from rungproof.plant.catalogue import KINDS
from rungproof.plant.fitting import AssemblyError
from rungproof.plant.operators import PLAIN
from rungproof.plant.own_parts import PartFileError, load_parts

HEATER = Path(__file__).parents[2] / "examples" / "own_part" / "heater.py"


def test_an_own_part_joins_the_plant(plant: Callable[..., Assembly]) -> None:
    """A heater from its own file heats 100 L as the heat balance says, until its thermostat opens."""
    own = load_parts(HEATER)
    assert list(own) == ["heater"]
    line = "heater E1 power 3 kW, holding 100 L, loses 12 W, thermostat opens at 60 degC, closes at 55 degC"
    heated = plant(line, 1000, {**KINDS, **own})
    state = heated.start()
    seconds = 0
    while heated.look(PLAIN, state, {})["E1.1"]:
        state = heated.tick(PLAIN, state, heated.look(PLAIN, state, {}), {"E1.supply": True}, {})
        seconds += 1
    # closed form: T = 20 + P/loss (1 - exp(-loss t / C)), 40 K of P/loss = 250 K
    expected = -418_600 / 12 * math.log(1 - 40 / 250)
    assert seconds == pytest.approx(expected, abs=2)


GOOD = """
from rungproof.plant import Clause, Part
class Stone(Part):
    kind = "stone"
    clauses = (Clause("weighs {weight:kg}"),)
    def step(self, ops, state, inputs, faults):
        return {}
"""


@pytest.mark.parametrize(
    ("source", "line", "says"),
    [
        ("x = (", 1, "is not Python"),
        ("\nimport nothing_of_this_name", 2, "stops with ModuleNotFoundError"),
        ("\n\n1 / 0", 3, "stops with ZeroDivisionError"),
        ("raise SystemExit", 1, "stops with SystemExit"),
        ("x = 1", 0, "holds no part"),
        (GOOD.replace('kind = "stone"', "pass"), 3, "has no `kind`"),
        (GOOD.replace('"stone"', '"big stone"'), 3, "no single lower-case word"),
        (GOOD.replace('"stone"', '"tank"'), 3, "is built in"),
        (GOOD.replace("def step", "def stop"), 3, "does nothing"),
        (GOOD.replace("{weight:kg}", "{weight kg}"), 3, "neither a word nor a slot"),
        (GOOD.replace("weighs {weight:kg}", "heavy"), 3, "gives nothing"),
        (GOOD.replace('Clause("weighs {weight:kg}")', '"weighs"'), 3, "`clauses` of Stone holds"),
        (GOOD + "    faults = ('broken',)\n", 3, "`faults` of Stone holds"),
        (GOOD + GOOD.replace("Stone", "Rock"), 10, "two classes are of the kind"),
    ],
)
def test_files_of_parts_that_cannot_be_used(tmp_path: Path, source: str, line: int, says: str) -> None:
    """Each mistake in a file of parts is answered with its line and in words, never a traceback."""
    path = tmp_path / "own.py"
    path.write_text(source, encoding="utf-8")
    with pytest.raises(PartFileError) as refused:
        load_parts(path)
    assert says in refused.value.message
    assert refused.value.line == line


@pytest.mark.parametrize(("name", "says"), [("missing.py", "there is no file"), ("own.txt", "is no Python file")])
def test_files_that_are_no_part_files(tmp_path: Path, name: str, says: str) -> None:
    """A missing file and one of another kind are answered in words."""
    (tmp_path / "own.txt").write_text("x", encoding="utf-8")
    with pytest.raises(PartFileError, match=says):
        load_parts(tmp_path / name)


def test_a_good_file_loads(tmp_path: Path) -> None:
    """The file that the mistakes above were made from is itself in order."""
    path = tmp_path / "own.py"
    path.write_text(GOOD, encoding="utf-8")
    stone: Any = load_parts(path)["stone"]
    assert stone.kind == "stone"


OWN = """
from rungproof.plant import Clause, Contact, Fault, Input, Output, Part, Variable
class Stone(Part):
    kind = "stone"
    faults = (Fault("cracked", "the stone is cracked"),)
    inputs = (Input("supply", "driven", "bool"), Input("heat", "disturbance", "real"))
    variables = (Variable("warm", "real", 0.0),)
    outputs = (Output("warm", "real"), Output("hot", "bool"))
    contacts = (Contact("1", "make"),)
    def operated(self, ops, state):
        return state["warm"] > 0.5
    def look(self, ops, state, faults):
        return {"hot": state["warm"] > 0.5}
    def step(self, ops, state, inputs, faults):
        return {"warm": ops.select(inputs["supply"], 1.0, state["warm"])}
"""


@pytest.mark.parametrize(
    ("right", "wrong", "answer"),
    [
        ('return {"hot": state["warm"] > 0.5}', "return {}", ("its `look` gives no output `hot`", "every output")),
        ('{"warm": ops', '{"wram": ops', ("its `step` gives no variable `warm`", "every variable")),
        ('ops.select(inputs["supply"], 1.0, state["warm"])', '1.0 if inputs["supply"] else 0.0', ("in line 15", "ops")),
        (
            'ops.select(inputs["supply"], 1.0, state["warm"])',
            'state["warm"] / 2',
            ("looks into a value in line 15", "ops"),
        ),
        ('inputs["supply"]', 'inputs["suply"]', ("asks for 'suply' in line 15", "declare it")),
        ('inputs["supply"]', "1 / 0", ("stops with ZeroDivisionError: division by zero in line 15", "")),
        ('Output("hot", "bool")', 'Output("heat", "bool")', ("declares `heat` twice", "own names")),
    ],
)
def test_own_parts_are_rehearsed(
    tmp_path: Path, plant: Callable[..., Assembly], right: str, wrong: str, answer: tuple[str, str]
) -> None:
    """A mistake in an own part's methods is found when the plant is put together, with the line it stands in."""
    path = tmp_path / "own.py"
    path.write_text(OWN.replace(right, wrong), encoding="utf-8")
    with pytest.raises(AssemblyError) as refused:
        plant("stone E1", 5, load_parts(path))
    (problem,) = refused.value.problems
    assert problem.part == "E1"
    assert answer[0] in problem.message
    assert answer[1] in problem.mend


def test_an_own_part_in_order_passes_its_rehearsal(tmp_path: Path, plant: Callable[..., Assembly]) -> None:
    """The part that the mistakes above were made from runs, and no bytecode is left beside its file."""
    path = tmp_path / "own.py"
    path.write_text(OWN, encoding="utf-8")
    own = plant("stone E1", 5, load_parts(path))
    after = own.tick(PLAIN, own.start(), own.look(PLAIN, own.start(), {}), {"E1.supply": True}, {})
    assert own.look(PLAIN, after, {}) == {"E1.warm": 1.0, "E1.hot": True, "E1.1": True}
    assert [each.name for each in tmp_path.iterdir()] == ["own.py"]


MOVER = """
from rungproof.plant.part import GoesOff, Mover, Output, Input, Variable
class Chute(Mover):
    kind = "chute"
    inputs = (Input("supply", "driven", "bool"),)
    variables = (Variable("moved", "real", 0.0), Variable("turning", "bool", False))
    outputs = (Output("turning", "bool"),)
    def step(self, ops, state, inputs, faults):
        return {"moved": state["moved"] * 0.5, "turning": inputs["supply"]}
    def runs_down(self, litres, *, healthy):
        return ("turning", 40) if healthy else None
    def goes_off(self, *, healthy):
        return ()
"""


@pytest.mark.parametrize(
    ("right", "wrong", "says"),
    [
        ('("turning", 40) if healthy else None', "1 / 0", "stops with ZeroDivisionError: division by zero in line 11"),
        ('("turning", 40) if healthy else None', '("turns", 40)', "its `runs_down` gives ('turns', 40)"),
        ('("turning", 40) if healthy else None', '("turning", 0.5)', "its `runs_down` gives ('turning', 0.5)"),
        ("return ()", "raise RuntimeError('never')", "stops with RuntimeError: never in line 13"),
        ("return ()", "return 5", "stops with TypeError"),
        ("return ()", 'return ("turning",)', "its `goes_off` gives 'turning'"),
        ("return ()", 'return (GoesOff("turning", "turns", 1, "moved"),)', "its `goes_off` gives GoesOff("),
    ],
)
def test_what_an_own_part_says_of_coming_to_rest_is_rehearsed(
    tmp_path: Path, plant: Callable[..., Assembly], right: str, wrong: str, says: str
) -> None:
    """A proof asks for it much later: a mistake there is found when the plant is put together, as any other."""
    path = tmp_path / "own.py"
    path.write_text(MOVER, encoding="utf-8")
    plant("chute C1", 5, load_parts(path))
    path.write_text(MOVER.replace(right, wrong), encoding="utf-8")
    with pytest.raises(AssemblyError) as refused:
        plant("chute C1", 5, load_parts(path))
    (problem,) = refused.value.problems
    assert says in problem.message
