"""A first run of a user's own parts on sealed values, so that a mistake in one is found before the plant runs.

The engines give parts expressions in place of numbers. A part that looks into a value, by
`if`, `==`, `/`, `abs`, `float`, would work on numbers and fail there; so it is tried here on
values that refuse all of that, and told off by its own line.
"""

from __future__ import annotations

import itertools
import operator
import traceback
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from rungproof.plant.fitting import PartProblem
from rungproof.plant.operators import PLAIN, PlainOps
from rungproof.plant.part import GoesOff, Mover, Part

ALLOWED = "write + - * and < <= > >= as they are, and everything else through `ops`"


class LookedIntoError(TypeError):
    """Raised by a sealed value that something tried to look into."""


class Sealed:
    """A value that takes part in `+ - *` and comparisons, and refuses to be looked into."""

    def __init__(self, value: Any) -> None:
        self.sealed = value

    def _refuse(self, *_: object) -> Any:
        raise LookedIntoError("a value of the plant cannot be looked into here")

    __bool__ = __float__ = __int__ = __index__ = __eq__ = __ne__ = __len__ = __round__ = _refuse
    __truediv__ = __rtruediv__ = __floordiv__ = __rfloordiv__ = __pow__ = __rpow__ = __mod__ = __rmod__ = _refuse
    __hash__ = __abs__ = __trunc__ = __floor__ = __ceil__ = __and__ = __or__ = __xor__ = __invert__ = _refuse

    def __neg__(self) -> Sealed:
        return Sealed(-self.sealed)


def opened(value: Any) -> Any:
    """What is inside a sealed value; any other value as it is."""
    return value.sealed if isinstance(value, Sealed) else value


def _let(name: str, calculate: Callable[[Any, Any], Any], swapped: bool = False) -> None:
    def method(self: Sealed, other: Any) -> Sealed:
        left, right = (opened(other), self.sealed) if swapped else (self.sealed, opened(other))
        return Sealed(calculate(left, right))

    setattr(Sealed, name, method)


for _name in ("add", "sub", "mul"):
    _let(f"__{_name}__", getattr(operator, _name))
    _let(f"__r{_name}__", getattr(operator, _name), swapped=True)
for _name in ("lt", "le", "gt", "ge"):
    _let(f"__{_name}__", getattr(operator, _name))


class SealedOps:
    """`Ops` over sealed values, by the plain operators."""

    def __getattr__(self, name: str) -> Callable[..., Sealed]:
        plain = getattr(PlainOps, name)
        return lambda *values: Sealed(plain(PLAIN, *map(opened, values)))


def mistakes(parts: Sequence[Part]) -> list[PartProblem]:
    """What a first look and step of every part that is not built in brings to light."""
    problems: list[PartProblem] = []
    for part in parts:
        if type(part).__module__.startswith("rungproof.plant."):
            continue  # these are rehearsed by our own tests
        try:
            problems += _rehearse(part)
        except Exception as error:
            problems.append(PartProblem(part.name, "", *words_of(part.kind, error)))
    return problems


def _rehearse(part: Part) -> list[PartProblem]:
    ops: Any = SealedOps()
    state = {each.name: Sealed(each.start) for each in part.variables}
    inputs = {each.name: Sealed(each.start) for each in part.inputs}
    inputs |= dict.fromkeys(("gained", "drawn", "gained_additive", "drawn_additive", "available"), Sealed(0.0))
    faults = {each.name: Sealed(False) for each in part.faults}
    for contact in part.contacts:
        part.closed(ops, state, contact)
    own = {each.name for each in part.variables}
    shown = {each.name for each in part.outputs} - own
    looked, stepped = part.look(ops, state, faults), part.step(ops, state, inputs, faults)
    part.settle({each.name: each.start for each in part.variables}, {each.name: each.start for each in part.inputs})
    problems = _lacks(part, "look", shown - looked.keys(), "output")
    problems += _lacks(part, "step", own - stepped.keys(), "variable")
    if isinstance(part, Mover):
        problems += _promises(part)
    return problems


def _promises(part: Mover) -> Iterator[PartProblem]:
    """What a mover says of how it comes to rest: asked as a proof asks it, and of the shape that it must have."""
    truths = {each.name for each in part.outputs if each.type == "bool"} | {each.name for each in part.contacts}
    reals = {each.name for each in part.variables if each.type == "real"}
    for healthy, litres in itertools.product((True, False), (1.0, 1e-9)):
        down = part.runs_down(litres, healthy=healthy)
        if down is not None and not _is_waiting(down, truths):
            mend = 'give None, or a bool output of it and a whole number of ticks, such as `("energised", 40)`'
            yield PartProblem(part.name, "", f"its `runs_down` gives {down!r}", mend)
            return
    for healthy in (True, False):
        for each in tuple(part.goes_off(healthy=healthy)):
            known = isinstance(each, GoesOff) and each.shown in truths and each.amount in reals
            if not known or not _is_waiting((each.drive, each.ticks), truths):
                mend = "give `GoesOff(shown, drive, ticks, amount)`: two truths that it shows, ticks, a real variable"
                yield PartProblem(part.name, "", f"its `goes_off` gives {each!r}", mend)
                return


def _is_waiting(given: object, truths: set[str]) -> bool:
    match given:
        case (str(output), int(ticks)):
            return output in truths and ticks >= 0
    return False


def _lacks(part: Part, method: str, names: set[str], what: str) -> list[PartProblem]:
    mend = f"return every {what} it declares, each once"
    return [PartProblem(part.name, "", f"its `{method}` gives no {what} `{name}`", mend) for name in sorted(names)]


def words_of(kind: str, error: Exception) -> tuple[str, str]:
    """What went wrong in a user's own part of this `kind`, where in the user's file, and the mend."""
    own = [f for f in traceback.extract_tb(error.__traceback__) if f.filename != __file__]
    line = f" in line {own[-1].lineno}" if own else ""
    if isinstance(error, LookedIntoError):
        return f"{kind} looks into a value{line}", ALLOWED
    if isinstance(error, KeyError):
        mend = "declare it as an input, a variable or a fault"
        return f"{kind} asks for {error}{line}, which it has not declared", mend
    return f"{kind} stops with {type(error).__name__}: {error}{line}", ""
