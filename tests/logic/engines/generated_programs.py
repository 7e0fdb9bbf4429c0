"""Whole programs and stories made at random, as text: what the agreement suites feed to every engine.

Everything is drawn from one `random.Random`, so a program is named by its seed; Hypothesis
hands in a `Random` of its own and so can shrink. The texts use every path element, stage,
output, expression, unit, retained and power-up behaviour, circuits, plant parts and every
requirement form.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random

from rungproof.logic.meaning.program import Event, Knob, Program, Story

TIMERS = ("on-delay", "off-delay", "pulse", "accumulating on-delay")
STAGES = (*TIMERS, "count-up", "count-down", "rising")

#: Tag, unit, least and greatest value of the numbers that generated programs compute with.
REALS = (
    ("depth", "cm", "0..200"),
    ("height", "m", "-2..2"),
    ("amount", "L", "0..500"),
    ("signal", "V", "0..10"),
    ("share", "%", "0..100"),
)


@dataclass
class Maker:
    """Draws one program. Tags and stages that exist so far are what later lines may use."""

    random: Random
    bools: list[str] = field(default_factory=list)
    written_bools: list[str] = field(default_factory=list)
    ints: list[str] = field(default_factory=list)
    written_ints: list[str] = field(default_factory=list)
    reals: dict[str, str] = field(default_factory=dict)
    written_reals: dict[str, str] = field(default_factory=dict)
    stages: dict[str, str] = field(default_factory=dict)
    counter: int = 0

    def chance(self, share: float) -> bool:
        return self.random.random() < share

    def fresh(self, stem: str) -> str:
        self.counter += 1
        return f"{stem}{self.counter}"

    # --------------------------------------------------------------------- tags

    def tags(self, wired: dict[str, str]) -> list[str]:
        """Tag lines. `wired` maps input tags that a plant feeds to their types."""
        lines = []
        for name, type_ in wired.items():
            lines.append(f"    {name} input {type_}")
            if type_ == "bool":
                self.bools.append(name)
            elif type_.startswith("int"):
                self.ints.append(name)
        if not wired:
            for i in range(self.random.randint(1, 4)):
                lines.append(f"    in_{i} input bool")
                self.bools.append(f"in_{i}")
            if self.chance(0.7):
                lines.append("    pieces input int -20..300")
                self.ints.append("pieces")
            if self.chance(0.7):
                lines.append("    gauge input real cm 0..150")
                self.reals["gauge"] = "cm"
        for i in range(self.random.randint(2, 5)):
            self._bool_tag(lines, f"flag_{i}")
        for i in range(self.random.randint(1, 3)):
            self._int_tag(lines, f"number_{i}")
        for name, unit, span in self.random.sample(REALS, self.random.randint(1, 4)):
            self._real_tag(lines, name, unit, span)
        if self.chance(0.5):
            lines.append("    wait parameter int ms 10..400 = 120")
        if self.chance(0.5):
            lines.append("    target parameter real cm 10..90 = 30.5")
            self.reals["target"] = "cm"
        self.has_wait = any(" wait " in line for line in lines)
        return lines

    def _role(self) -> tuple[str, str]:
        return self.random.choice([("memory", ""), ("output", ""), ("output", "stop"), ("output", "hold")])

    def _bool_tag(self, lines: list[str], name: str) -> None:
        role, stop = self._role()
        words = [name, role, "bool"]
        if self.chance(0.2):
            words.append("= on")
        if role == "output":
            words.append({"stop": "on stop on", "hold": "on stop hold"}.get(stop, "on stop off"))
        if self.chance(0.3):
            words.append("retained")
        lines.append("    " + " ".join(words))
        self.bools.append(name)
        self.written_bools.append(name)

    def _int_tag(self, lines: list[str], name: str) -> None:
        role, stop = self._role()
        low = self.random.choice([-50, 0, 3])
        words = [name, role, f"int {low}..{self.random.choice([100, 2000])}"]
        if role == "output":
            words.append("on stop hold" if stop == "hold" else f"on stop {max(low, 5)}")
        if self.chance(0.3):
            words.append("retained")
        lines.append("    " + " ".join(words))
        self.ints.append(name)
        self.written_ints.append(name)

    def _real_tag(self, lines: list[str], name: str, unit: str, span: str) -> None:
        role, stop = self._role()
        words = [name, role, f"real {unit} {span}"]
        if role == "output":
            words.append("on stop hold" if stop == "hold" else f"on stop 1 {unit}")
        if self.chance(0.3):
            words.append("retained")
        lines.append("    " + " ".join(words))
        self.reals[name] = unit
        self.written_reals[name] = unit

    # -------------------------------------------------------------- expressions

    def contact(self) -> str:
        """One contact or comparison."""
        kind = self.random.randrange(10)
        if kind < 5:
            return self.random.choice(["", "", "not ", "rising ", "falling "]) + self._bool()
        if kind == 5:
            return "power_up"
        if kind == 6 and self.ints:
            operator = self.random.choice(["<", "<=", ">", ">=", "=", "<>"])
            return f"{self.integer(1)} {operator} {self.integer(1)}"
        if kind == 7 and self.reals:
            name = self.random.choice(list(self.reals))
            unit = self.reals[name]
            return f"{name} {self.random.choice(['<', '<=', '>', '>='])} {self.real(unit, 1)}"
        if kind == 8 and self.reals:
            name = self.random.choice(list(self.reals))
            ends = self.random.choice(["0 {0} and 33.3 {0}", "1 {0} and 7 {0}", "-5 {0} and 2.5 {0}"])
            return f"{name} between {ends.format(self.reals[name])}"
        return self._bool()

    def _bool(self) -> str:
        return self.random.choice([*self.bools, *self.stages])

    def condition(self) -> str:
        """One line of a path."""
        branches = []
        for _ in range(self.random.choice([1, 1, 1, 2, 3])):
            branch = " and ".join(self.contact() for _ in range(self.random.choice([1, 1, 2])))
            branches.append(branch)
        if len(branches) > 1 and self.chance(0.3):
            return f"({' or '.join(branches)}) and {self.contact()}"
        return " or ".join(branches)

    def amount(self, unit: str) -> str:
        return f"{self.random.choice(['0.1', '1', '2.5', '7', '33.3', '64'])} {unit}"

    def integer(self, depth: int) -> str:
        """An int expression without a unit."""
        kind = self.random.randrange(9) if depth > 0 else self.random.randrange(2)
        counters = [name for name, stage in self.stages.items() if stage.startswith("count")]
        if kind == 0 or not self.ints:
            return str(self.random.randint(0, 9))
        if kind == 1:
            return self.random.choice([*self.ints, *(f"{name}.count" for name in counters)])
        a, b = self.integer(depth - 1), self.integer(depth - 1)
        if kind in (2, 3):
            return f"({a} {self.random.choice('+-')} {b})"
        if kind == 4:
            return f"({self.random.choice(self.ints)} {self.random.choice('*/')} {b})"
        if kind == 5:
            return f"{self.random.choice(['min', 'max'])}({a}, {b}, {self.integer(0)})"
        if kind == 6:
            return f"abs(-{a})"
        if kind == 7:
            return f"select({self.contact()}, {a}, {b})"
        return f"{self.random.choice(['round', 'trunc'])}({self.ratio()})"

    def ratio(self) -> str:
        """A real expression without a unit."""
        name, unit = self.random.choice(list(self.reals.items()))
        return f"{name} / {self.amount(unit)}"

    def real(self, unit: str, depth: int) -> str:
        """A real expression in something that converts to `unit`."""
        same = [name for name, each in self.reals.items() if each == unit]
        if unit in ("cm", "m"):
            same = [name for name, each in self.reals.items() if each in ("cm", "m")]
        kind = self.random.randrange(11) if depth > 0 else self.random.randrange(2)
        if kind == 0 or not same:
            return self.amount(unit)
        name = self.random.choice(same)
        if kind == 1:
            return name
        a, b = self.real(unit, depth - 1), self.real(unit, depth - 1)
        other, other_unit = self.random.choice(list(self.reals.items()))
        number = "1.75"
        match kind:
            case 2 | 3:
                return f"({a} {self.random.choice('+-')} {b})"
            case 4:
                return f"({a} {self.random.choice('*/')} {number})"
            case 5:
                return f"{self.random.choice(['min', 'max'])}({a}, {b})"
            case 6:
                return f"abs({a})"
            case 7:
                return f"select({self.contact()}, {a}, {b})"
            case 8:
                return f"scale({other}, 0 {other_unit}..3 {other_unit}, 1 {unit}..9.5 {unit})"
            case 9:
                return f"table({other}, 0 {other_unit}: 0 {unit}, 1.5 {other_unit}: 4 {unit}, 7 {other_unit}: 5 {unit})"
            case _:
                return f"({other} / 3 {other_unit} * {self.amount(unit)})"

    def remembering(self, unit: str) -> str:
        kind = self.random.randrange(4)
        if kind == 0:
            return f"filter({self.real(unit, 1)}, {self.random.choice(['50 ms', '2 s'])})"
        if kind == 1:
            return f"ramp({self.real(unit, 1)}, {self.random.choice(['0.5', '20'])} {unit}/s)"
        if kind == 2:
            return f"rate({self.real(unit, 0)}) * 1 s"
        name, other = self.random.choice(list(self.reals.items()))
        starts = f", starts from = {self.amount(unit)}" if self.chance(0.4) else ""
        direction = self.random.choice(["reverse", "direct"])
        gain = f"{self.random.choice(['0.3', '5'])} {unit}/{other}" if unit != other else "0.7"
        setpoint = self.amount(other)
        return f"pi({name}, {setpoint}, gain = {gain}, integral = 3 s, direction = {direction}{starts})"

    # -------------------------------------------------------------------- rungs

    def rungs(self) -> list[str]:
        lines = []
        for index in range(self.random.randint(2, 7)):
            lines += ["", f"rung step_{index}"]
            if self.chance(0.4):
                lines += [f"    {self._bool()}", f"    {self.stage()}"]
            for _ in range(self.random.choice([0, 1, 1, 2, 3])):
                lines.append("    " + (self.stage() if self.chance(0.3) else self.condition()))
            lines += ["    " + self.output() for _ in range(self.random.choice([1, 1, 2, 3]))]
        return lines

    def stage(self) -> str:
        kind = self.random.choice(STAGES)
        name = self.fresh("st_")
        retained = " retained" if self.chance(0.3) else ""
        time = "wait" if self.has_wait and self.chance(0.4) else f"{self.random.choice([1, 20, 45, 130, 600])} ms"
        by = self.random.choice(self.bools)
        match kind:
            case "accumulating on-delay":
                text = f"{kind} {time} as {name} clear by {by}{retained}"
            case "count-up":
                text = f"{kind} {self.random.randint(1, 4)} as {name} clear by {by}{retained}"
            case "count-down":
                text = f"{kind} {self.random.randint(1, 4)} as {name} load by {by}{retained}"
            case "rising":
                text = f"rising as {name}"
            case _:
                text = f"{kind} {time} as {name}{retained}"
        self.stages[name] = kind
        return text

    def output(self) -> str:
        kind = self.random.randrange(8)
        when = f" when {self.condition()}" if self.chance(0.25) else ""
        target = self.random.choice(self.written_bools)
        if kind < 2:
            return f"=> {target}{when}"
        if kind == 2:
            return f"=> not {target}{when}"
        if kind == 3:
            return f"=> {self.random.choice(['set', 'reset'])} {target}{when}"
        if kind == 4:
            return f"=> {self.random.choice(self.written_ints)} := {self.integer(2)}{when}"
        name, unit = self.random.choice(list(self.written_reals.items()))
        value = self.remembering(unit) if self.chance(0.35) else self.real(unit, 2)
        return f"=> {name} := {value}{when}"

    # ------------------------------------------------------------- requirements

    def requirements(self, more: list[str]) -> list[str]:
        """Requirements of every form; `more` are contacts on the plant's truth."""
        lines = []
        for index in range(self.random.randint(4, 10)):
            start = f"from {self.random.choice([30, 100])} ms " if self.chance(0.25) else ""
            lines += ["", f'requirement Q{index} "Generated"', f"    {start}{self._form(more)}"]
        return lines

    def _watched(self, more: list[str]) -> str:
        if more and self.chance(0.5):
            return self.random.choice(more)
        return self.random.choice([self.contact(), self._bool(), self._bool(), "scanning", "not scanning"])

    def _form(self, more: list[str]) -> str:
        a, b, c = (self._watched(more) for _ in range(3))
        time = f"{self.random.choice([20, 20, 40, 40, 55, 100, 300])} ms"
        x = self._bool()
        return self.random.choice(
            [
                f"never {a}",
                f"always {a}",
                f"whenever {a} then {b}",
                f"whenever {a} then {b} within {time}",
                f"whenever {a} then {b} for {time}",
                f"whenever {a} has stood for {time} then {b}",
                f"after {a} never {b} until {c}",
                f"at most {self.random.randint(1, 3)} rising {self._bool()} in any {time}",
                f"{a} before {b}",
                f"whenever rising {x} then {x} for {time}",
                f"whenever rising {x} then not {x} within {time}",
            ]
        )


# -------------------------------------------------------------------------- programs


def controller_text(random: Random) -> str:
    """A controller without a plant, with requirements."""
    maker = Maker(random)
    every = random.choice(["10 ms", "20 ms", "5..40 ms"])
    tags = maker.tags({})
    lines = [f'controller "Generated" every {every}', "", "tags", *tags, *maker.rungs(), *maker.requirements([])]
    return "\n".join(lines) + "\n"


def story_for(random: Random, program: Program, duration_ms: int = 1500) -> Story:
    """A story that moves every kind of knob there is, power cuts and a stop among them."""
    events: list[Event] = []
    knobs = list(program.knobs.values())
    now = {knob.key: bool(knob.start) for knob in knobs}
    for at_ms in sorted(random.randint(0, duration_ms) for _ in range(random.randint(4, 60))):
        knob = _knob(random, knobs)
        if knob.kind == "parameter":
            continue
        value = _value(random, knob)
        if knob.type == "bool" and random.random() < 0.8:
            value = not now[knob.key]
        now[knob.key] = bool(value)
        events.append(Event(at_ms, knob.key, value))
    parameters = tuple((k.key, _value(random, k)) for k in knobs if k.kind == "parameter" and random.random() < 0.5)
    scans: tuple[int, ...] = ()
    if program.controller is not None and program.controller.scan_low < program.controller.scan_high:
        tick = program.plant.tick if program.plant is not None else 1
        low, high = program.controller.scan_low // tick, program.controller.scan_high // tick
        scans = tuple(random.randint(low, high) * tick for _ in range(random.randint(1, 12)))
    return Story(duration_ms, tuple(events), parameters, scans, random.randint(0, 99), random.randint(0, 9))


def _knob(random: Random, knobs: list[Knob]) -> Knob:
    weights = {"power": 0.6, "stop": 0.3, "fault": 0.3, "free output": 0.15}
    return random.choices(knobs, [weights.get(knob.kind, 2.0) for knob in knobs])[0]


def _value(random: Random, knob: Knob) -> bool | int | float:
    if knob.type == "bool":
        return random.random() < 0.5
    if knob.type == "int":
        return random.randint(int(knob.low), int(knob.high))
    return random.choice([float(knob.low), float(knob.high), random.uniform(float(knob.low), float(knob.high))])
