"""A run as a value change dump: IEEE 1364-2005, clause 18 (from memory), which every waveform viewer reads.

One time unit is a millisecond. Truths are wires, whole numbers integers of 64 bits in two's
complement, others reals with all their digits. A name keeps its letters, digits and
underscores; every other sign becomes an underscore, because the format has no quotes.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator

import numpy as np
from rungproof.logic.meaning.typed import Scalar, Type
from rungproof.logic.versions import version
from rungproof.logic.waveforms.wave import CAUTION, Signal, Wave

#: Identifier codes are made of the printable characters of ASCII.
_FIRST, _COUNT = 33, 94

_VAR = {"bool": "wire 1", "int": "integer 64", "real": "real 64"}

#: path of scopes -> (name, signal, identifier code)
_Tree = dict[tuple[str, ...], list[tuple[str, Signal, str]]]


def vcd_text(wave: Wave) -> str:
    """The file. No date stands in it: the same run gives the same bytes."""
    scopes = _scopes(wave)
    lines = [
        f"$version rungproof {version()} $end",
        f"$comment {_remark(wave.title)} $end",
        f"$comment {CAUTION} $end",
        "$timescale 1 ms $end",
        *_declared(scopes),
        "$enddefinitions $end",
    ]
    return "\n".join([*lines, *_changes(wave, scopes)]) + "\n"


def _scopes(wave: Wave) -> _Tree:
    scopes: _Tree = {}
    taken: set[tuple[str, ...]] = set()
    for place, signal in enumerate(wave.signals):
        path = tuple(_plain(each) for each in signal.path)
        name, again = path[-1], 2
        while (*path[:-1], name) in taken:
            name, again = f"{path[-1]}_{again}", again + 1
        taken.add((*path[:-1], name))
        scopes.setdefault(path[:-1], []).append((name, signal, _code(place)))
    return scopes


def _declared(scopes: _Tree) -> Iterator[str]:
    """Scopes opened and closed in turn, each path once, and the variables in them."""
    opened: tuple[str, ...] = ()
    for path in sorted(scopes):
        common = 0
        while common < min(len(opened), len(path)) and opened[common] == path[common]:
            common += 1
        yield from ["$upscope $end"] * (len(opened) - common)
        yield from (f"$scope module {name} $end" for name in path[common:])
        opened = path
        for name, signal, code in scopes[path]:
            if signal.unit is not None:
                yield f"$comment {name} in {_remark(signal.unit)} $end"
            yield f"$var {_VAR[signal.type]} {code} {name} $end"
    yield from ["$upscope $end"] * len(opened)


def _changes(wave: Wave, scopes: _Tree) -> Iterator[str]:
    """Values at the first instant, then whatever changes, by time."""
    if not len(wave.times):
        return
    at: dict[int, list[str]] = defaultdict(list)
    for entries in scopes.values():
        for _, signal, code in entries:
            column = np.asarray(signal.values)
            for place in (0, *(np.flatnonzero(column[1:] != column[:-1]) + 1)):
                at[int(place)].append(_value(signal.type, signal.values[place], code))
    for place in sorted(at):
        yield f"#{wave.times[place]}"
        if place == 0:
            yield from ("$dumpvars", *at[place], "$end")
        else:
            yield from at[place]
    if wave.times[-1] != wave.times[max(at)]:
        yield f"#{wave.times[-1]}"


def _value(type_: Type, value: Scalar, code: str) -> str:
    if type_ == "bool":
        return f"{int(value)}{code}"
    if type_ == "int":
        return f"b{int(value) % (1 << 64):b} {code}"
    return f"r{float(value)!r} {code}"


def _code(place: int) -> str:
    code = chr(_FIRST + place % _COUNT)
    while place >= _COUNT:
        place = place // _COUNT - 1
        code += chr(_FIRST + place % _COUNT)
    return code


def _plain(name: str) -> str:
    plain = re.sub(r"[^A-Za-z0-9_]", "_", name)
    return plain if plain[:1].isalpha() or plain[:1] == "_" else f"_{plain}"


def _remark(text: str) -> str:
    """A remark's text: a `$` could end it, and the format knows ASCII alone."""
    return " ".join(text.replace("$", "_").encode("ascii", "backslashreplace").decode("ascii").split())
