"""A panel that shows texts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rungproof.plant.given import interval, texts
from rungproof.plant.operators import Ops, Value
from rungproof.plant.part import Clause, Fault, Given, Input, Output, Part, PartError, Variable

#: More messages than anybody tells apart at a glance, and more signs than one line holds. Declared, no source.
MOST_MESSAGES, MOST_SIGNS = 32, 60


class TextPanel(Part):
    """Shows one of its messages at a time, or none.

        text_panel D1  messages "Pump has failed" "Running"
        text_panel D2  messages "Filling" "Full", numbered by 0..10 V

    Messages are numbered from 1 in the order in which they stand. Inputs `message_1`, `message_2`, ...
    ask for one each, and of several the lowest number is shown. With `numbered by` there is one input
    `signal` (V) instead: its span is shared out evenly, from no message at its lower end to the last at
    its upper one, so that an int tag 0..2 at a channel `0..10 V as 0..2` gives the number. Shows
    `shows_1`, `shows_2`, ...: that this message can be read, one tick later.

    Raises `PartError` for no message, more than 32, one that is empty, longer than 60 signs, or there
    twice. Source: common practice, no source.
    """

    kind = "text_panel"
    clauses = (Clause("messages {messages:text+}", required=True), Clause("numbered by {signal:V..}"))
    faults = (
        Fault("dark", "the panel shows nothing"),
        Fault("stuck", "the panel goes on showing what it shows"),
    )

    def __init__(self, name: str, given: Mapping[str, Given], dt_ms: int) -> None:
        super().__init__(name, given, dt_ms)
        self.messages = _sound(texts(given, "messages"))
        count = len(self.messages)
        self._signal = interval(given, "signal") if "signal" in given else None
        if self._signal is not None:
            low, high = self._signal
            self.inputs: tuple[Input, ...] = (Input("signal", "driven", "real", "V", low, high, low),)
        else:
            self.inputs = tuple(Input(f"message_{n}", "driven", "bool") for n in range(1, count + 1))
        self.variables = (Variable("shown", "int", 0, None, 0, count),)
        self.outputs = tuple(
            Output(f"shows_{n}", "bool", says=message) for n, message in enumerate(self.messages, start=1)
        )

    def look(self, ops: Ops, state: Mapping[str, Value], faults: Mapping[str, Value]) -> dict[str, Any]:
        lit = ops.inverse(faults["dark"])
        numbers = range(1, len(self.messages) + 1)
        return {f"shows_{n}": ops.both(ops.same(state["shown"], n), lit) for n in numbers}

    def step(
        self, ops: Ops, state: Mapping[str, Value], inputs: Mapping[str, Value], faults: Mapping[str, Value]
    ) -> dict[str, Any]:
        asked = self._asked(ops, inputs) if self._signal is None else self._numbered(ops, inputs["signal"])
        return {"shown": ops.select(faults["stuck"], state["shown"], asked)}

    def _asked(self, ops: Ops, inputs: Mapping[str, Value]) -> Any:
        """The lowest number whose input is on, else 0."""
        asked: Any = 0
        for number in range(len(self.messages), 0, -1):
            asked = ops.select(inputs[f"message_{number}"], number, asked)
        return asked

    def _numbered(self, ops: Ops, signal: Value) -> Any:
        """The number nearest to the signal."""
        assert self._signal is not None
        low, high = self._signal
        step = (high - low) / len(self.messages)
        asked: Any = 0
        for number in range(1, len(self.messages) + 1):
            asked = ops.select(signal < low + (number - 0.5) * step, asked, number)
        return asked


def _sound(messages: tuple[str, ...]) -> tuple[str, ...]:
    if not 1 <= len(messages) <= MOST_MESSAGES:
        raise PartError("messages", f"a panel has 1 to {MOST_MESSAGES} messages, not {len(messages)}")
    for element, message in enumerate(messages):
        words = mend = ""
        if not message.strip():
            words, mend = "a message is empty", "leave it out, or say what people should read"
        elif len(message) > MOST_SIGNS:
            words = f"a message of {len(message)} signs does not fit; {MOST_SIGNS} do"
        elif message in messages[:element]:
            words = f'"{message}" stands there twice: nobody could tell the two apart'
        if words:
            raise PartError("messages", words, mend, element=element)
    return messages
