"""A Step as text, for people and for caches; reading it back gives the same Step.

    state running bool off
    state rest_time#elapsed int 0 0..240000
    input start_pb bool
    input target real 100.0..180.0 constant
    let running.2 = or running start_pb
    let %2 = add rest_time#elapsed 20
    next running = running.2
    output violated = not running

Operators stand before their operands. A number without a point is an int, reals are
written so that they come back to the last bit, and names with odd letters stand in quotes.
"""

from __future__ import annotations

import re

from rungproof.logic.steps.node import Node, apply, constant, variable
from rungproof.logic.steps.operators import OPERATORS, Scalar, Type
from rungproof.logic.steps.step import InputVariable, StateVariable, Step

_PLAIN_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_.!~:/@#-]*\Z")
_TOKEN = re.compile(r'"(?:[^"\\]|\\.)*"|\S+')
_WORDS = {"on", "off", *OPERATORS}


class StepTextError(ValueError):
    """Raised by `parse_step` where a line is no line of a Step; names the line."""


def print_step(step: Step) -> str:
    """The Step as text, one assignment a line, operands before users."""
    names = _names(step)
    lines = []
    for state in step.states.values():
        lines.append(f"state {_quoted(state.name)} {state.type} {_literal(state.start)}{_range(state)}")
    for each in step.inputs.values():
        lines.append(f"input {_quoted(each.name)} {each.type}{_range(each)}{' constant' if each.constant else ''}")
    for node in step.nodes:
        if node.operands:
            lines.append(f"let {names[node]} = {' '.join([node.operator, *(names[o] for o in node.operands)])}")
    lines += [f"next {_quoted(name)} = {names[node]}" for name, node in step.next.items()]
    lines += [f"output {_quoted(name)} = {names[node]}" for name, node in step.outputs.items()]
    return "\n".join(lines) + "\n"


def _names(step: Step) -> dict[Node, str]:
    """How each node is written: a literal, a variable's name, its label or a running number."""
    taken = {*step.states, *step.inputs}
    labels: dict[Node, str] = {}
    for label, node in step.labels.items():
        if node.operands and node not in labels and label not in taken:
            labels[node] = _quoted(label)
    names: dict[Node, str] = {}
    count = 0
    for node in step.nodes:
        if node.operator == "constant":
            names[node] = _literal(node.value)
        elif node.operator == "variable":
            names[node] = _quoted(node.name)
        else:
            count += 1
            names[node] = labels.get(node, f"%{count}")
    return names


def _literal(value: Scalar) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return repr(value)


def _quoted(name: str) -> str:
    if _PLAIN_NAME.match(name) and name not in _WORDS:
        return name
    return '"' + name.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _range(each: StateVariable | InputVariable) -> str:
    return "" if each.type == "bool" else f" {_literal(each.low)}..{_literal(each.high)}"


def parse_step(text: str) -> Step:
    """The Step that `print_step` wrote. Raises `StepTextError` with the line at fault."""
    states: dict[str, StateVariable] = {}
    inputs: dict[str, InputVariable] = {}
    nexts: dict[str, Node] = {}
    outputs: dict[str, Node] = {}
    labels: dict[str, Node] = {}
    scope: dict[str, Node] = {}
    for number, line in enumerate(text.splitlines(), 1):
        try:
            match [_unquoted(token) for token in _TOKEN.findall(line)]:
                case []:
                    continue
                case ["state", name, "bool" | "int" | "real" as type_, start, *span]:
                    low, high = _limits(span)
                    states[name] = StateVariable(name, type_, _value(start), low, high)
                    scope[name] = variable(name, type_)
                case ["input", name, "bool" | "int" | "real" as type_, *span]:
                    inputs[name] = _input(name, type_, span)
                    scope[name] = variable(name, type_)
                case ["let", name, "=", operator, *operands]:
                    scope[name] = apply(operator, *(_node(each, scope) for each in operands))
                    if not name.startswith("%"):
                        labels[name] = scope[name]
                case ["next", name, "=", value]:
                    nexts[name] = _node(value, scope)
                case ["output", name, "=", value]:
                    outputs[name] = _node(value, scope)
                case _:
                    raise ValueError("no such line")
        except (ValueError, KeyError, TypeError) as error:
            raise StepTextError(f"line {number}: {line.strip()!r}: {error}") from error
    return Step(states, inputs, nexts, outputs, labels)


def _input(name: str, type_: Type, rest: list[str]) -> InputVariable:
    constant_ = "constant" in rest[-1:]
    low, high = _limits(rest[:-1] if constant_ else rest)
    return InputVariable(name, type_, low, high, constant_)


def _limits(span: list[str]) -> tuple[float | int, float | int]:
    if not span:
        return 0, 1
    low, high = span[0].split("..")
    return _value(low), _value(high)


def _unquoted(token: str) -> str:
    if token.startswith('"'):
        return re.sub(r"\\(.)", r"\1", token[1:-1])
    return token


def _value(token: str) -> Scalar:
    if token in ("on", "off"):
        return token == "on"
    return int(token) if re.fullmatch(r"-?\d+", token) else float(token)


def _node(token: str, scope: dict[str, Node]) -> Node:
    return scope[token] if token in scope else constant(_value(token))
