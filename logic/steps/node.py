"""Expression nodes of a Step: hash-consed, so that equal expressions are one object.

A node is a constant, a variable, or an operator over nodes. `apply` is the only way to
make an operator node; it folds, but only where no bit can change: nothing is reassociated
and no law is used that is false for IEEE doubles.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from weakref import WeakValueDictionary

from rungproof.logic.steps.operators import OPERATORS, Scalar, Type


class Node:
    """A node. `operator` is `constant`, `variable` or the name of an operator.

    `value` belongs to constants, `name` to variables, `operands` to operators.
    """

    __slots__ = ("__weakref__", "name", "operands", "operator", "type", "value")

    operator: str
    type: Type
    operands: tuple[Node, ...]
    value: Scalar
    name: str

    def __repr__(self) -> str:
        if self.operator == "constant":
            return f"<{self.value!r}>"
        if self.operator == "variable":
            return f"<{self.name}>"
        return f"<{self.operator}/{len(self.operands)}: {self.type}>"


_Key = tuple[object, ...]
_nodes: WeakValueDictionary[_Key, Node] = WeakValueDictionary()


def _intern(
    key: _Key, operator: str, type_: Type, *, operands: tuple[Node, ...] = (), value: Scalar = 0, name: str = ""
) -> Node:
    node = _nodes.get(key)
    if node is None:
        node = Node()
        node.operator, node.type, node.operands, node.value, node.name = operator, type_, operands, value, name
        _nodes[key] = node
    return node


def constant(value: Scalar) -> Node:
    """A constant of the type of `value`; 0.0 and -0.0 are two constants."""
    if isinstance(value, bool):
        return _intern(("bool", value), "constant", "bool", value=value)
    if isinstance(value, int):
        return _intern(("int", value), "constant", "int", value=value)
    return _intern(("real", value.hex()), "constant", "real", value=value)


def typed_constant(type_: Type, value: Scalar) -> Node:
    """`value` as a constant of `type_`: meaning may give 0 where a real is meant."""
    if type_ == "bool":
        return constant(bool(value))
    return constant(int(value)) if type_ == "int" else constant(float(value))


def variable(name: str, type_: Type) -> Node:
    """A state variable or an input, by name."""
    return _intern(("variable", name, type_), "variable", type_, name=name)


ON, OFF = constant(True), constant(False)


def apply(operator: str, *operands: Node) -> Node:
    """`operator` on `operands`, folded where the bits allow. Raises `TypeError` on a wrong type."""
    type_ = OPERATORS[operator].result(tuple(each.type for each in operands))
    if all(each.operator == "constant" for each in operands):
        return constant(OPERATORS[operator].plain(*(each.value for each in operands)))
    folded = _fold(operator, operands)
    if folded is not None:
        return folded
    return _intern((operator, *(id(each) for each in operands)), operator, type_, operands=operands)


def _fold(operator: str, operands: tuple[Node, ...]) -> Node | None:
    if operator in ("and", "or"):
        return _fold_logic(operator, *operands)
    if operator == "not":
        return operands[0].operands[0] if operands[0].operator == "not" else None
    if operator == "select":
        return _fold_select(*operands)
    if operator in ("eq", "le", "lt") and operands[0] is operands[1] and operands[0].type != "real":
        return constant(operator != "lt")
    if operator == "eq" and operands[0].type == "bool":
        return _fold_same(*operands)
    return _fold_neutral(operator, *operands)


def _fold_logic(operator: str, a: Node, b: Node) -> Node | None:
    neutral, absorbing = (ON, OFF) if operator == "and" else (OFF, ON)
    if absorbing in (a, b) or _opposite(a, b):
        return absorbing
    if a is neutral or a is b:
        return b
    return a if b is neutral else None


def _opposite(a: Node, b: Node) -> bool:
    return (a.operator == "not" and a.operands[0] is b) or (b.operator == "not" and b.operands[0] is a)


def _fold_same(a: Node, b: Node) -> Node | None:
    for one, other in ((a, b), (b, a)):
        if one.operator == "constant":
            return other if one.value else apply("not", other)
    return None


def _fold_select(condition: Node, then: Node, otherwise: Node) -> Node | None:
    if condition.operator == "constant":
        return then if condition.value else otherwise
    if then is otherwise:
        return then
    if condition.operator == "not":
        return apply("select", condition.operands[0], otherwise, then)
    if then.type != "bool":
        return None
    if then is ON:
        return apply("or", condition, otherwise)
    if otherwise is OFF:
        return apply("and", condition, then)
    if then is OFF:
        return apply("and", apply("not", condition), otherwise)
    return apply("or", apply("not", condition), then) if otherwise is ON else None


def _fold_neutral(operator: str, a: Node, b: Node | None = None) -> Node | None:
    """x*1, x/1, x-0 give x in IEEE too; x+0 only for ints, for -0.0 + 0.0 is 0.0."""
    if b is None:
        return None
    right = b.value if b.operator == "constant" else None
    left = a.value if a.operator == "constant" else None
    if operator in ("mul", "quotient") and right == 1:
        return a
    if operator == "mul" and left == 1:
        return b
    if a.type == "int" and operator in ("add", "sub") and right == 0:
        return a
    return b if a.type == "int" and operator == "add" and left == 0 else None


def ordered(roots: Iterable[Node]) -> list[Node]:
    """Every node that `roots` need, operands before users; each once. No recursion."""
    order: list[Node] = []
    seen: set[Node] = set()
    for root in roots:
        if root in seen:
            continue
        seen.add(root)
        stack: list[tuple[Node, Iterator[Node]]] = [(root, iter(root.operands))]
        while stack:
            node, rest = stack[-1]
            for operand in rest:
                if operand not in seen:
                    seen.add(operand)
                    stack.append((operand, iter(operand.operands)))
                    break
            else:
                order.append(node)
                stack.pop()
    return order


def substitute(roots: Iterable[Node], given: dict[Node, Node]) -> dict[Node, Node]:
    """Each node that `roots` need, mapped to what it becomes when variables are replaced by `given`."""
    done: dict[Node, Node] = {}
    for node in ordered(roots):
        if node in given:
            done[node] = given[node]
        elif node.operands:
            operands = tuple(done[each] for each in node.operands)
            done[node] = node if operands == node.operands else apply(node.operator, *operands)
        else:
            done[node] = node
    return done


# ------------------------------------------------------------------ short forms


def both(*operands: Node) -> Node:
    """All on; `ON` for none."""
    result = ON
    for each in operands:
        result = apply("and", result, each)
    return result


def either(*operands: Node) -> Node:
    """One or more on; `OFF` for none."""
    result = OFF
    for each in operands:
        result = apply("or", result, each)
    return result


def inverse(operand: Node) -> Node:
    return apply("not", operand)


def select(condition: Node, then: Node, otherwise: Node) -> Node:
    return apply("select", condition, then, otherwise)


def least(a: Node, b: Node) -> Node:
    """min(a, b) = select(a < b, a, b)."""
    return select(apply("lt", a, b), a, b)


def most(a: Node, b: Node) -> Node:
    """max(a, b) = select(b < a, a, b)."""
    return select(apply("lt", b, a), a, b)


def clamp(value: Node, low: Scalar, high: Scalar) -> Node:
    """`value` held within low..high of its own type: max(low, min(value, high))."""
    capped = least(value, typed_constant(value.type, high))
    return most(typed_constant(value.type, low), capped)
