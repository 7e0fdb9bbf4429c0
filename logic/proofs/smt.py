"""A Step as SMT-LIB 2 text, written from the operators' meaning for solvers of Int and Real arithmetic.

Bools are Bool, ints are Int, reals are Real: every double is a rational number, and comparing,
choosing, changing sign and rounding to int are exact on them. Rounded arithmetic is not
arithmetic on Real: its result is a *free* constant of which only true facts are said, its
bounds, that it is a double, and, where it is monotone in one variable, on which side of each
threshold it lies.
So the text describes every behaviour of the Step and perhaps more: what is unsatisfiable
here cannot happen there.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from rungproof.logic.proofs.smt_pullback import Chain, Chains, Crossing, value_at
from rungproof.logic.proofs.smt_ranges import ANY, Interval, Number, intervals, is_finite, shown_ranges
from rungproof.logic.steps.node import Node, ordered
from rungproof.logic.steps.operators import INT_LIMIT, Scalar, assert_exhaustive
from rungproof.logic.steps.step import Step

SORTS = {"bool": "Bool", "int": "Int", "real": "Real"}

#: At most so many facts about thresholds are said: fewer facts allow more behaviours, never fewer.
MOST_FACTS = 4000


def literal(value: Scalar, type_: str) -> str:
    """A plain value as a term of the sort of `type_`."""
    if type_ == "bool":
        return "true" if value else "false"
    if type_ == "int":
        return str(value) if value >= 0 else f"(- {-int(value)})"
    exact = Fraction(value)
    size = (
        f"(/ {abs(exact.numerator)}.0 {exact.denominator}.0)" if exact.denominator > 1 else f"{abs(exact.numerator)}.0"
    )
    return size if exact >= 0 else f"(- {size})"


@dataclass
class Encoding:
    """The text of a Step. `terms` names each node, `variables` each variable by name; `free` are
    the nodes whose term is a free constant.

    `thresholds` are real or int values that the results of rounded arithmetic must be placed
    against, beside those that the Step itself compares with. `roots` are the nodes asked about (all of them, if
    None): what they do not read is left out. Truths that lie more than `depth` nodes below them are free.
    """

    step: Step
    thresholds: Sequence[Number] = ()
    roots: Sequence[Node] | None = None
    depth: int | None = None
    lines: list[str] = field(default_factory=list)
    terms: dict[Node, str] = field(default_factory=dict)
    variables: dict[str, str] = field(default_factory=dict)
    free: list[Node] = field(default_factory=list)
    open: set[Node] = field(default_factory=set)
    facts: int = 0
    sums: dict[Node, list[tuple[str, float]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.ranges = shown_ranges(self.step)
        self.chains = Chains(self.ranges)
        self.bounds = intervals(self.step.nodes, self.ranges)
        read = self._read()
        self._variables(read)
        self.places = self._places()
        for node in [node for node in self.terms if node.type == "real"]:
            self._gaps(self.terms[node])
        for node in self.step.nodes:
            if node not in self.terms and node in read:
                self.terms[node] = self._define(node)

    # -------------------------------------------------------------- variables

    def _variables(self, read: set[Node]) -> None:
        nodes = [each.node for each in self.step.states.values()] + [each.node for each in self.step.inputs.values()]
        for place, node in enumerate(nodes):
            if self.roots is not None and node not in read:
                continue
            name = f"v{place}"
            self.terms[node] = self.variables[node.name] = name
            self.lines.append(f"(declare-const {name} {SORTS[node.type]})")
            if node.type != "bool":
                self._bound(name, node.type, self.ranges.get(node.name, ANY))

    def _bound(self, name: str, type_: str, bounds: Interval) -> None:
        if bounds[0] > ANY[0]:
            self.lines.append(f"(assert (<= {literal(bounds[0], type_)} {name}))")
        if bounds[1] < ANY[1]:
            self.lines.append(f"(assert (<= {name} {literal(bounds[1], type_)}))")

    def _places(self) -> list[Number]:
        """The constants that reals and rounded ints are compared with, and where those lie on state variables."""
        found = dict.fromkeys(self.thresholds)
        compared = [node for node in self.step.nodes if node.operator in ("lt", "le")]
        for node in compared:
            found |= {each.value: None for each in node.operands if each.operator == "constant"}
        for node in compared:
            a, b = node.operands
            chain = self.chains.of(a if b.operator == "constant" else b)
            if chain is not None and "constant" in (a.operator, b.operator) and chain.variable.name in self.step.states:
                at = self.chains.crossing(node).at
                if at is not None:
                    found[at] = None
        return list(found)

    # ---------------------------------------------------------------- nodes

    def _read(self) -> set[Node]:
        """What needs a term: nodes inside a rounded chain that nothing else reads need none."""
        roots = [*self.step.next.values(), *self.step.outputs.values()] if self.roots is None else self.roots
        below = dict.fromkeys(roots, 0)
        pending = deque(below)
        while pending:
            node = pending.popleft()
            if self.depth is not None and below[node] > self.depth and _is_a_gate(node):
                self.open.add(node)
            else:
                # Of what is free the facts speak of the variables below it, and of what it is a sum of.
                onward = [*_variables_of(node), *_summed(node)] if self._is_free(node) else node.operands
                fresh = [each for each in dict.fromkeys(onward) if each not in below]
                below |= dict.fromkeys(fresh, below[node] + 1)
                pending.extend(fresh)
        return set(below)

    def _is_free(self, node: Node) -> bool:
        """Whether the value of `node` is rounded or not linear, so that a free constant stands for it."""
        if node.operator in ("lt", "le") and node.operands[0].type == "real":
            return not all(is_finite(self.bounds[each]) for each in node.operands)
        if node.operator in ("round", "trunc"):
            return self._is_rounded(node.operands[0]) or not is_finite(self.bounds[node.operands[0]])
        if node.operator in ("mul", "div") and node.type == "int":
            return self._constants(node) == 0 or (node.operator == "div" and node.operands[1].operator != "constant")
        if node.operator == "real" and node.operands[0].type == "int":
            low, high = self.bounds[node.operands[0]]
            return low < -INT_LIMIT or high > INT_LIMIT
        return node.operator in _ROUNDED and node.type == "real" and _neutral(node) is None

    def _is_rounded(self, node: Node) -> bool:
        return any(self._is_free(each) for each in ordered([node]))

    @staticmethod
    def _constants(node: Node) -> int:
        return sum(each.operator == "constant" for each in node.operands)

    def _define(self, node: Node) -> str:
        if node.operator == "constant":
            return literal(node.value, node.type)
        if node in self.open or self._is_free(node):
            return self._free(node)
        operands = [self.terms[each] for each in node.operands]
        term = _WRITE[node.operator](node, operands)
        if node.operator == "not" or term in operands:
            return term
        name = f"n{len(self.terms)}"
        self.lines.append(f"(define-fun {name} () {SORTS[node.type]} {term})")
        return name

    def _free(self, node: Node) -> str:
        name = f"f{len(self.terms)}"
        self.free.append(node)
        self.lines.append(f"(declare-const {name} {SORTS[node.type]})")
        if node.type == "bool":
            return name
        self._bound(name, node.type, self.bounds[node])
        if node.type == "real":
            self._gaps(name)
            self._sums(node, name)
            self._unchanged(node, name)
        chain = self.chains.of(node) if is_finite(self.bounds[node]) else None
        if chain is not None:
            for place in self.places:
                self._place(node, name, chain, place)
        return name

    # ----------------------------------------------------------------- facts

    def _sums(self, node: Node, name: str) -> None:
        """A number with more added to it is no less, rounding and all: the order of all its sums with constants."""
        base, added = _shift(node)
        if base is None or base not in self.terms:
            return
        for other, more in [(self.terms[base], 0.0), *self.sums.get(base, ())]:
            low, high = (other, name) if more <= added else (name, other)
            self.lines.append(f"(assert (<= {low} {high}))")
        self.sums.setdefault(base, []).append((name, added))

    def _unchanged(self, node: Node, name: str) -> None:
        """Where what is added or taken is a nought that a truth chooses, the number is the same after as before."""
        choice = _nought_chosen(node)
        if choice is not None and is_finite(self.bounds[node.operands[0]]):
            truth, chosen = self.terms[choice[0]], choice[1]
            condition = truth if chosen else f"(not {truth})"
            self.lines.append(f"(assert (=> {condition} (= {name} {self.terms[node.operands[0]]})))")

    def _gaps(self, name: str) -> None:
        """Between a place and the doubles next to it there is no double, though there are reals."""
        for place in self.places:
            at = float(place)
            if self.facts < MOST_FACTS and at == place:
                self.facts += 1
                before, after = (literal(math.nextafter(at, end), "real") for end in (-math.inf, math.inf))
                here = literal(at, "real")
                self.lines.append(f"(assert (or (<= {name} {before}) (= {name} {here}) (<= {after} {name})))")

    def _place(self, node: Node, name: str, chain: Chain, place: Number) -> None:
        """On which side of `place` the chain lies, for each value of its variable."""
        low, high = self.bounds[node]
        if not low <= place <= high or self.facts >= MOST_FACTS or (node.type == "int" and place != int(place)):
            return
        place = int(place) if node.type == "int" else float(place)
        written = literal(place, node.type)
        for word, test in _SIDES.items():
            crossing = self.chains.edge(chain.variable, self._side(node, chain, test, place), below=chain.rising)
            self.facts += 1
            self.lines.append(f"(assert (= ({word} {name} {written}) {self._where(chain, crossing)}))")

    @staticmethod
    def _side(
        node: Node, chain: Chain, test: Callable[[Scalar, Number], bool], place: Number
    ) -> Callable[[Number], bool]:
        return lambda value: test(value_at(node, chain.variable, value), place)

    def _where(self, chain: Chain, crossing: Crossing) -> str:
        if crossing.at is None:
            return "true" if crossing.always else "false"
        at = literal(crossing.at, chain.variable.type)
        term = self.terms[chain.variable]
        return f"(<= {term} {at})" if crossing.below else f"(<= {at} {term})"


def _variables_of(node: Node) -> list[Node]:
    return [each for each in ordered([node]) if each.operator == "variable"]


def _is_a_gate(node: Node) -> bool:
    """A truth of truths: what compares numbers stays, for without it they lose their bounds."""
    return node.type == "bool" and bool(node.operands) and node.operands[0].type == "bool"


_ROUNDED = {"add", "sub", "mul", "quotient", "divide", "sqrt"}
_SIDES: dict[str, Callable[[Scalar, Number], bool]] = {"<=": lambda a, b: a <= b, "<": lambda a, b: a < b}


def _shift(node: Node) -> tuple[Node | None, float]:
    """What a constant is added to or taken from, and how much is added."""
    if node.operator in ("add", "sub") and node.operands[1].operator == "constant":
        return node.operands[0], float(node.operands[1].value) * (1 if node.operator == "add" else -1)
    if node.operator == "add" and node.operands[0].operator == "constant":
        return node.operands[1], float(node.operands[0].value)
    return None, 0.0


def _nought_chosen(node: Node) -> tuple[Node, bool] | None:
    """Of a number to or from which something is added or taken that a truth chooses: the truth, and what it is where a
    nought is chosen."""
    if node.operator not in ("add", "sub") or node.operands[1].operator != "select":
        return None
    truth, *arms = node.operands[1].operands
    for chosen, arm in zip((True, False), arms, strict=True):
        if arm.operator == "constant" and arm.value == 0:
            return truth, chosen
    return None


def _summed(node: Node) -> list[Node]:
    """What the facts about a free sum speak of beside its variables."""
    if node.type != "real":
        return []
    base, choice = _shift(node)[0], _nought_chosen(node)
    return [*([] if base is None else [base]), *([] if choice is None else [choice[0], node.operands[0]])]


def _neutral(node: Node) -> int | None:
    """The operand that a real operation gives back unchanged but for the sign of a zero: x+0, x-0, x*1, x/1."""
    values = [each.value if each.operator == "constant" else None for each in node.operands]
    if node.operator in ("add", "mul"):
        unit = 0 if node.operator == "add" else 1
        return 0 if values[1] == unit else 1 if values[0] == unit else None
    if node.operator in ("sub", "quotient") and values[1] == (0 if node.operator == "sub" else 1):
        return 0
    return None


# ------------------------------------------------------------------ by operator


def _word(word: str) -> Callable[[Node, list[str]], str]:
    return lambda node, operands: f"({word} {' '.join(operands)})"


def _arithmetic(word: str) -> Callable[[Node, list[str]], str]:
    def write(node: Node, operands: list[str]) -> str:
        kept = _neutral(node) if node.type == "real" else None
        return f"({word} {operands[0]} {operands[1]})" if kept is None else operands[kept]

    return write


def _absolute(node: Node, operands: list[str]) -> str:
    zero = literal(0, node.type)
    return f"(ite (<= {zero} {operands[0]}) {operands[0]} (- {operands[0]}))"


def _div(node: Node, operands: list[str]) -> str:
    """Toward zero, by a constant; SMT-LIB's own `div` rounds down for a positive divisor."""
    a, b = operands[0], int(node.operands[1].value)
    if b == 0:
        return f"(ite (< 0 {a}) {INT_LIMIT} (ite (< {a} 0) (- {INT_LIMIT}) 0))"
    size = f"(ite (<= 0 {a}) (div {a} {abs(b)}) (- (div (- {a}) {abs(b)})))"
    return size if b > 0 else f"(- {size})"


def _round(node: Node, operands: list[str]) -> str:
    """Half to even."""
    a = operands[0]
    down, rest = f"(to_int {a})", f"(- {a} (to_real (to_int {a})))"
    tie = f"(ite (= (mod {down} 2) 0) {down} (+ {down} 1))"
    return f"(ite (< {rest} 0.5) {down} (ite (< 0.5 {rest}) (+ {down} 1) {tie}))"


def _trunc(node: Node, operands: list[str]) -> str:
    return f"(ite (<= 0.0 {operands[0]}) (to_int {operands[0]}) (- (to_int (- {operands[0]}))))"


def _real(node: Node, operands: list[str]) -> str:
    if node.operands[0].type == "bool":
        return f"(ite {operands[0]} 1.0 0.0)"
    return f"(to_real {operands[0]})"


def _never_exact(node: Node, operands: list[str]) -> str:
    raise AssertionError(f"`{node.operator}` is written as a free constant")


_WRITE: dict[str, Callable[[Node, list[str]], str]] = {
    "and": _word("and"),
    "or": _word("or"),
    "not": _word("not"),
    "add": _arithmetic("+"),
    "sub": _arithmetic("-"),
    "mul": _arithmetic("*"),
    "quotient": _arithmetic("/"),
    "divide": _never_exact,
    "div": _div,
    "neg": _word("-"),
    "abs": _absolute,
    "sqrt": _never_exact,
    "round": _round,
    "trunc": _trunc,
    "real": _real,
    "lt": _word("<"),
    "le": _word("<="),
    "eq": _word("="),
    "select": _word("ite"),
}
assert_exhaustive("the solver's text", _WRITE)
