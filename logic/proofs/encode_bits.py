"""A Step over bools and whole numbers as clauses for a SAT solver (after Tseitin).

Numbers are two's complement, least bit first, as wide as their bounds ask. Gates over
constants and repeated gates fold. One `Circuit` holds any number of copies of a Step.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from rungproof.logic.steps.intervals import Interval, intervals_of
from rungproof.logic.steps.node import Node, ordered

#: A bool is one solver literal, a number a list of them, the last being its sign.
Encoded = int | tuple[int, ...]


class UnencodableError(ValueError):
    """Raised where a Step holds what the encoder has no bits for."""


class Circuit:
    """Gates in a solver. `TRUE` is a literal that always holds."""

    def __init__(self, solver: Any) -> None:
        self.solver = solver
        self.top = 1
        self.TRUE = 1
        self.gates: dict[tuple[int, ...], int] = {}
        solver.add_clause([1])

    def fresh(self) -> int:
        self.top += 1
        return self.top

    def constant(self, value: bool) -> int:
        return self.TRUE if value else -self.TRUE

    # ------------------------------------------------------------------ gates

    def both(self, a: int, b: int) -> int:
        if -self.TRUE in (a, b) or a == -b:
            return -self.TRUE
        if a in (self.TRUE, b):
            return b
        if b == self.TRUE:
            return a
        key = (1, *sorted((a, b)))
        if key not in self.gates:
            gate = self.gates[key] = self.fresh()
            self._clauses([-gate, a], [-gate, b], [gate, -a, -b])
        return self.gates[key]

    def either(self, a: int, b: int) -> int:
        return -self.both(-a, -b)

    def differ(self, a: int, b: int) -> int:
        if abs(a) == self.TRUE:
            return -b if a > 0 else b
        if abs(b) == self.TRUE:
            return -a if b > 0 else a
        if abs(a) == abs(b):
            return self.constant(a != b)
        sign = 1 if (a > 0) == (b > 0) else -1
        x, y = sorted((abs(a), abs(b)))
        if (2, x, y) not in self.gates:
            gate = self.gates[(2, x, y)] = self.fresh()
            self._clauses([-gate, x, y], [-gate, -x, -y], [gate, -x, y], [gate, x, -y])
        return sign * self.gates[(2, x, y)]

    def choose(self, c: int, a: int, b: int) -> int:
        if abs(c) == self.TRUE:
            return a if c > 0 else b
        if a == b:
            return a
        if abs(a) == self.TRUE or abs(b) == self.TRUE or abs(a) == abs(b):
            return self.either(self.both(c, a), self.both(-c, b))
        if c < 0:
            return self.choose(-c, b, a)
        if (3, c, a, b) not in self.gates:
            gate = self.gates[(3, c, a, b)] = self.fresh()
            self._clauses([-c, -gate, a], [-c, gate, -a], [c, -gate, b], [c, gate, -b])
        return self.gates[(3, c, a, b)]

    def _clauses(self, *clauses: list[int]) -> None:
        for clause in clauses:
            self.solver.add_clause(clause)

    # ---------------------------------------------------------------- numbers

    def number(self, value: int, width: int) -> tuple[int, ...]:
        return tuple(self.constant(bool(value >> i & 1)) for i in range(width))

    def any_number(self, low: int, high: int) -> tuple[int, ...]:
        """A number of low..high that nothing else restricts."""
        bits = tuple(self.fresh() for _ in range(width_of((low, high))))
        self.solver.add_clause([self.less(self.number(low, len(bits)), bits, or_equal=True)])
        self.solver.add_clause([self.less(bits, self.number(high, len(bits)), or_equal=True)])
        return bits

    def sum(self, a: tuple[int, ...], b: tuple[int, ...], carry: int) -> tuple[int, ...]:
        """a + b + carry, cut to the width of a and b, which are equally wide."""
        result = []
        for x, y in zip(a, b, strict=True):
            half = self.differ(x, y)
            result.append(self.differ(half, carry))
            carry = self.either(self.both(x, y), self.both(half, carry))
        return tuple(result)

    def less(self, a: tuple[int, ...], b: tuple[int, ...], *, or_equal: bool) -> int:
        """a < b or a <= b, from the least bit up; the sign counts the other way round."""
        width = max(len(a), len(b))
        a, b = fitted(a, width), fitted(b, width)
        holds = self.constant(or_equal)
        for place, (x, y) in enumerate(zip(a, b, strict=True)):
            low, high = (x, y) if place < width - 1 else (y, x)
            holds = self.either(self.both(-low, high), self.both(-self.differ(x, y), holds))
        return holds

    def difference_at_most(self, a: tuple[int, ...], b: tuple[int, ...], bound: int) -> int:
        """a - b <= bound, worked out wide enough for any of them."""
        width = max(len(a), len(b), bound.bit_length() + 1) + 1
        top = self.sum(fitted(b, width), self.number(bound, width), -self.TRUE)
        return self.less(fitted(a, width), top, or_equal=True)

    def same(self, a: tuple[int, ...], b: tuple[int, ...]) -> int:
        width = max(len(a), len(b))
        holds = self.TRUE
        for x, y in zip(fitted(a, width), fitted(b, width), strict=True):
            holds = self.both(holds, -self.differ(x, y))
        return holds


def width_of(span: Interval) -> int:
    """Bits, the sign's among them, that hold every whole number of `span`."""
    low, high = int(span[0]), int(span[1])
    return (
        max(high.bit_length() if high >= 0 else (-high - 1).bit_length(), (-low - 1 if low < 0 else low).bit_length())
        + 1
    )


def fitted(bits: tuple[int, ...], width: int) -> tuple[int, ...]:
    """The same number, wider; or cut, where its bounds say that the bits cut off are its sign."""
    return bits[:width] if len(bits) >= width else bits + (bits[-1],) * (width - len(bits))


class Encoder:
    """Copies of nodes in a circuit: `encode` gives the literals of nodes over given variables."""

    def __init__(self, circuit: Circuit, roots: Iterable[Node], variables: Mapping[str, Interval]) -> None:
        self.circuit = circuit
        self.order = ordered(roots)
        self.spans = intervals_of(self.order, variables)
        self.widths = {node: width_of(span) for node, span in self.spans.items()}

    def encode(self, variables: Mapping[str, Encoded], roots: Iterable[Node]) -> dict[Node, Any]:
        """The literals of all nodes that `roots` need, with the literals of variables given."""
        found: dict[Node, Any] = {}
        for node in ordered(roots):
            found[node] = self._one(node, found, variables)
        return found

    def _one(self, node: Node, found: dict[Node, Any], variables: Mapping[str, Encoded]) -> Any:
        circuit = self.circuit
        if node.operator == "constant":
            if node.type == "bool":
                return circuit.constant(bool(node.value))
            if node.type == "int":
                return circuit.number(int(node.value), self.widths[node])
            raise UnencodableError("a real number")
        if node.operator == "variable":
            return variables[node.name]
        parts = [found[each] for each in node.operands]
        if node.operands[-1].type == "int":
            return self._numeric(node, parts)
        match node.operator:
            case "and":
                return circuit.both(*parts)
            case "or":
                return circuit.either(*parts)
            case "not":
                return -parts[0]
            case "eq":
                return -circuit.differ(*parts)
            case "select":
                return circuit.choose(*parts)
        raise UnencodableError(node.operator)

    def _numeric(self, node: Node, parts: list[Any]) -> Any:
        circuit, operator = self.circuit, node.operator
        if operator in ("lt", "le"):
            return circuit.less(parts[0], parts[1], or_equal=operator == "le")
        if operator == "eq":
            return circuit.same(*parts)
        # Worked out as wide as the result and every operand, so that nothing overflows, then cut.
        wide = max(self.widths[node], *(len(p) for p in parts if isinstance(p, tuple))) + 1
        rule = _NUMERIC.get(operator)
        if rule is None:
            raise UnencodableError(operator)
        given = [fitted(p, wide) if isinstance(p, tuple) else p for p in parts]
        return fitted(rule(circuit, given, wide), self.widths[node])


def _add(circuit: Circuit, parts: list[Any], wide: int) -> tuple[int, ...]:
    return circuit.sum(parts[0], parts[1], -circuit.TRUE)


def _subtract(circuit: Circuit, parts: list[Any], wide: int) -> tuple[int, ...]:
    return circuit.sum(parts[0], tuple(-bit for bit in parts[1]), circuit.TRUE)


def _negate(circuit: Circuit, parts: list[Any], wide: int) -> tuple[int, ...]:
    return _subtract(circuit, [circuit.number(0, wide), parts[0]], wide)


def _magnitude(circuit: Circuit, parts: list[Any], wide: int) -> tuple[int, ...]:
    minus = _negate(circuit, parts, wide)
    return tuple(circuit.choose(parts[0][-1], m, x) for m, x in zip(minus, parts[0], strict=True))


def _choose(circuit: Circuit, parts: list[Any], wide: int) -> tuple[int, ...]:
    return tuple(circuit.choose(parts[0], x, y) for x, y in zip(parts[1], parts[2], strict=True))


def _multiply(circuit: Circuit, parts: list[Any], wide: int) -> tuple[int, ...]:
    """Modulo 2^wide, which the result fits in."""
    total = circuit.number(0, wide)
    for place, bit in enumerate(parts[1]):
        if bit != -circuit.TRUE:
            row = (-circuit.TRUE,) * place + tuple(circuit.both(bit, x) for x in parts[0][: wide - place])
            total = circuit.sum(total, row, -circuit.TRUE)
    return total


_NUMERIC: dict[str, Callable[[Circuit, list[Any], int], tuple[int, ...]]] = {
    "add": _add,
    "sub": _subtract,
    "neg": _negate,
    "abs": _magnitude,
    "mul": _multiply,
    "select": _choose,
}
