"""Programs small enough for every state to be tried, made at random: short times, few tags, all forms.

Everything is drawn from one `random.Random`, so a program is named by its seed. The texts use
every kind of stage, edges, retained memory, parameters, start values, power cuts, varying scan
times, int and real arithmetic with thresholds, assumptions and every requirement form.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random


@dataclass
class SmallMaker:
    """Draws one program. `bools` are what contacts may read so far."""

    random: Random
    bools: list[str] = field(default_factory=list)
    written: list[str] = field(default_factory=list)
    stages: list[str] = field(default_factory=list)
    numbers: list[str] = field(default_factory=list)
    count: int = 0
    has_wait: bool = False
    depth: bool = False

    def chance(self, share: float) -> bool:
        return self.random.random() < share

    def tags(self) -> list[str]:
        lines = [f"in_{i} input bool" for i in range(self.random.randint(1, 3))]
        self.bools = [line.split()[0] for line in lines]
        if self.chance(0.4):
            lines.append("pieces input int 0..3")
            self.numbers.append("pieces")
            if self.chance(0.6):
                lines.append("depth memory real cm 0..9")
                self.depth = True
        if self.chance(0.3):
            lines.append("wait parameter int ms 1..3 = 2")
            self.has_wait = True
        for i in range(self.random.randint(2, 4)):
            role = self.random.choice(["memory bool", "memory bool", "output bool on stop off"])
            start = " = on" if self.chance(0.15) and role.startswith("memory") else ""
            retained = " retained" if self.chance(0.3) else ""
            lines.append(f"flag_{i} {role}{start}{retained}")
            self.bools.append(f"flag_{i}")
            self.written.append(f"flag_{i}")
        if self.chance(0.4):
            lines.append(f"number memory int {self.random.choice(['0..3', '-1..2'])}")
            self.numbers.append("number")
        return [f"    {line}" for line in lines]

    # -------------------------------------------------------------------- paths

    def bool_(self) -> str:
        return self.random.choice([*self.bools, *self.stages])

    def contact(self) -> str:
        kind = self.random.randrange(12)
        if kind == 0:
            return "power_up"
        if kind == 1 and self.numbers:
            return f"{self.number()} {self.random.choice(['<', '<=', '>', '>=', '=', '<>'])} {self.number()}"
        if kind == 2 and self.depth:
            return f"depth {self.random.choice(['<', '<=', '>', '>='])} {self.random.choice(['2.1', '4', '6.3'])} cm"
        return self.random.choice(["", "", "", "not ", "not ", "rising ", "falling "]) + self.bool_()

    def number(self) -> str:
        kind = self.random.randrange(5)
        name = self.random.choice(self.numbers)
        if kind == 0:
            return str(self.random.randint(0, 3))
        if kind == 1:
            return f"({name} {self.random.choice('+-*')} {self.random.randint(1, 2)})"
        if kind == 2:
            return f"({name} / {self.random.choice(['2', '-2'])})"
        return name

    def condition(self) -> str:
        branches = [
            " and ".join(self.contact() for _ in range(self.random.choice([1, 1, 2])))
            for _ in range(self.random.choice([1, 1, 1, 2]))
        ]
        return " or ".join(branches)

    def stage(self) -> str:
        self.count += 1
        name = f"st_{self.count}"
        time = "wait" if self.has_wait and self.chance(0.4) else f"{self.random.randint(1, 3)} ms"
        retained = " retained" if self.chance(0.3) else ""
        kind = self.random.choice(["on-delay", "off-delay", "pulse", "accumulating", "rising"])
        self.stages.append(name)
        if kind == "rising":
            return f"rising as {name}"
        if kind == "accumulating":
            return f"accumulating on-delay {time} as {name} clear by {self.random.choice(self.bools)}{retained}"
        return f"{kind} {time} as {name}{retained}"

    def rungs(self) -> list[str]:
        lines: list[str] = []
        for index in range(self.random.randint(2, 4)):
            lines += ["", f"rung step_{index}"]
            for _ in range(self.random.choice([0, 1, 1, 2])):
                lines.append("    " + (self.stage() if len(self.stages) < 2 and self.chance(0.3) else self.condition()))
            lines += ["    " + self.output() for _ in range(self.random.choice([1, 1, 2]))]
        if self.chance(0.2):
            # A counter that clears itself: its count stays small.
            done, up = self.random.choice(self.written), self.chance(0.5)
            kind = f"count-up {self.random.randint(1, 3)} as tally clear by"
            kind = kind if up else f"count-down {self.random.randint(1, 3)} as tally load by"
            lines += ["", "rung tally", f"    {self.contact()}", f"    {kind} {done}", f"    => {done}"]
            self.stages.append("tally")
        return lines

    def output(self) -> str:
        kind = self.random.randrange(8)
        when = f" when {self.condition()}" if self.chance(0.2) else ""
        target = self.random.choice(self.written)
        if kind < 2 or (kind > 5 and not self.numbers):
            return f"=> {target}{when}"
        if kind == 2:
            return f"=> not {target}{when}"
        if kind < 6:
            return f"=> {self.random.choice(['set', 'reset'])} {target}{when}"
        if self.depth and self.chance(0.6):
            return f"=> depth := scale(pieces, 0..3, 0 cm..{self.random.choice(['6.3', '8.1'])} cm){when}"
        if "number" in self.numbers:
            return f"=> number := {self.number()}{when}"
        return f"=> {target}{when}"

    # ------------------------------------------------------------- requirements

    def requirements(self) -> list[str]:
        lines: list[str] = []
        for index in range(2):
            start = f"from {self.random.randint(1, 3)} ms " if self.chance(0.2) else ""
            lines += ["", f'requirement Q{index} "Generated"', f"    {start}{self.form()}"]
        if self.chance(0.2):
            lines += ["", 'assume "Generated"', f"    not in_0 or {self.random.choice(['not in_0', 'in_0'])}"]
        elif self.chance(0.15):
            lines += ["", 'assume "Generated"', "    not in_0"]
        return lines

    def watched(self) -> str:
        """What a requirement may look at: a contact, or whether the controller scans."""
        return self.random.choice(["", "not "]) + "scanning" if self.random.random() < 0.1 else self.contact()

    def form(self) -> str:
        a, b, c = (self.watched() for _ in range(3))
        time = f"{self.random.randint(1, 3)} ms"
        return self.random.choice(
            [
                f"never {a} and {b}",
                f"always {a} or {b}",
                f"whenever {a} then {b}",
                f"whenever {a} then {b} within {time}",
                f"whenever {a} then {b} for {time}",
                f"whenever {a} has stood for {time} then {b}",
                f"after {a} never {b} until {c}",
                f"at most {self.random.randint(1, 2)} rising {self.bool_()} in any {time}",
                f"{a} before {b}",
            ]
        )


def small_text(random: Random) -> str:
    """A small controller with two requirements."""
    maker = SmallMaker(random)
    every = random.choice(["1 ms", "2 ms", "1..2 ms"])
    tags, rungs = maker.tags(), maker.rungs()
    return "\n".join([f'controller "Small" every {every}', "", "tags", *tags, *rungs, *maker.requirements()]) + "\n"
