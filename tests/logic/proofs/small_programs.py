"""Small programs made at random, with few enough states to try them all: every stage, output,
edge, retained tag, number, parameter and requirement form, times of a few ms."""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random


@dataclass
class Small:
    """Draws one program; what exists so far is what later lines may use."""

    random: Random
    bools: list[str] = field(default_factory=list)
    written: list[str] = field(default_factory=list)
    numbers: list[str] = field(default_factory=list)
    stages: dict[str, str] = field(default_factory=dict)
    wait: bool = False
    gauge: bool = False

    def pick(self, *choices: str) -> str:
        return self.random.choice(choices)

    def chance(self, share: float) -> bool:
        return self.random.random() < share

    def text(self) -> str:
        every = self.pick("1 ms", "2 ms", "1..2 ms", "1..3 ms")
        lines = [f'controller "Small" every {every}', "", "tags", *self.tags()]
        for index in range(self.random.randint(1, 4)):
            lines += ["", f"rung r{index}"]
            lines += [
                "    " + (self.stage() if self.chance(0.4) else self.condition())
                for _ in range(self.random.randint(1, 2))
            ]
            lines += ["    " + self.output() for _ in range(self.random.choice([1, 1, 2]))]
        for index in range(3):
            begin = f"from {self.random.choice([2, 5])} ms " if self.chance(0.2) else ""
            scope = ["    even with any one fault"] if self.chance(0.15) else []
            lines += ["", f'requirement Q{index} "Generated"', *scope, f"    {begin}{self.form()}"]
        if self.chance(0.15):
            lines += ["", 'assume "Generated"', f"    {self.pick('not a', 'a or b', 'not (a and b)', 'not rising a')}"]
        return "\n".join(lines) + "\n"

    def tags(self) -> list[str]:
        lines = ["    a input bool", "    b input bool"]
        self.bools = ["a", "b"]
        if self.chance(0.25):
            lines.append("    n input int 0..3")
            self.numbers.append("n")
        if self.chance(0.25):
            lines.append("    gauge input real cm 0..10")
            self.gauge = True
        for name in ("m", "p", "q")[: self.random.randint(1, 3)]:
            start = " = on" if self.chance(0.2) else ""
            kept = " retained" if self.chance(0.35) else ""
            role = self.pick("memory bool{}", "output bool{} on stop off", "output bool{} on stop hold")
            lines.append(f"    {name} {role.format(start)}{kept}")
            self.bools.append(name)
            self.written.append(name)
        if self.chance(0.4):
            lines.append(f"    k memory int {self.pick('0..3', '-2..4', '0..1')}{self.pick('', ' retained')}")
            self.numbers.append("k")
        if self.gauge and self.chance(0.6):
            lines.append(f"    depth memory real cm 0..8{self.pick('', ' retained')}")
        self.depth = any(" depth " in line for line in lines)
        if self.chance(0.3):
            lines.append("    wait parameter int ms 1..3 = 2")
            self.wait = True
        return lines

    # -------------------------------------------------------------- expressions

    def contact(self) -> str:
        kind = self.random.randrange(12)
        if kind == 0:
            return "power_up"
        if kind == 1 and self.numbers:
            return f"{self.random.choice(self.numbers)} {self.pick('<', '<=', '>', '>=', '=', '<>')} {self.integer()}"
        if kind == 2 and self.gauge:
            name = "depth" if self.depth and self.chance(0.5) else "gauge"
            return f"{name} {self.pick('<', '<=', '>', '>=')} {self.pick('1 cm', '2.5 cm', '7 cm', '0.03 m')}"
        if kind == 3 and self.gauge:
            return f"gauge * 0.7 + 1 cm {self.pick('<', '>=')} {self.pick('2.75 cm', '4.5 cm')}"
        if kind == 4:
            counted = [name for name, stage in self.stages.items() if stage.startswith("count")]
            if counted:
                return f"{self.random.choice(counted)}.count {self.pick('<', '>=', '=')} {self.random.randint(0, 3)}"
        if kind == 5:
            timed = [name for name, stage in self.stages.items() if "delay" in stage or stage == "pulse"]
            if timed:
                return f"{self.random.choice(timed)}.elapsed {self.pick('<', '>=')} {self.random.randint(1, 3)} ms"
        return self.pick("", "", "not ", "rising ", "falling ") + self.pick(*self.bools, *self.stages)

    def integer(self) -> str:
        kind = self.random.randrange(5)
        if kind < 2 or not self.numbers:
            return str(self.random.randint(0, 3))
        name = self.random.choice(self.numbers)
        return self.pick(name, f"({name} + 1)", f"({name} - 1)", f"(3 - {name})", f"({name} * 2)", f"abs({name} - 2)")

    def condition(self) -> str:
        parts = [self.contact() for _ in range(self.random.choice([1, 1, 2, 2, 3]))]
        text = parts[0]
        for part in parts[1:]:
            text += self.pick(" and ", " or ") + part
        return text

    def stage(self) -> str:
        kind = self.pick("on-delay", "off-delay", "pulse", "accumulating on-delay", "count-up", "count-down", "rising")
        name = f"s{len(self.stages)}"
        kept = self.pick("", "", " retained")
        time = "wait" if self.wait and self.chance(0.5) else f"{self.random.randint(1, 4)} ms"
        by = self.pick(*self.bools)
        text = {
            "accumulating on-delay": f"{kind} {time} as {name} clear by {by}{kept}",
            "count-up": f"{kind} {self.random.randint(1, 3)} as {name} clear by {by}{kept}",
            "count-down": f"{kind} {self.random.randint(1, 3)} as {name} load by {by}{kept}",
            "rising": f"rising as {name}",
        }.get(kind, f"{kind} {time} as {name}{kept}")
        self.stages[name] = kind
        return text

    def output(self) -> str:
        when = f" when {self.contact()}" if self.chance(0.2) else ""
        if "k" in self.numbers and self.chance(0.3):
            return f"=> k := {self.integer()}{when}"
        if self.depth and self.chance(0.4):
            value = self.pick("gauge", "gauge * 0.7 + 1 cm", "min(gauge, depth)", "max(depth - 1 cm, gauge / 2)")
            return f"=> depth := {value}{when}"
        target = self.random.choice(self.written)
        return f"=> {self.pick('', '', 'not ', 'set ', 'reset ')}{target}{when}"

    # ------------------------------------------------------------- requirements

    def watched(self) -> str:
        """What a requirement may look at: a contact, or whether the controller scans."""
        return self.random.choice(["", "not "]) + "scanning" if self.random.random() < 0.1 else self.contact()

    def form(self) -> str:
        a, b, c = (self.watched() for _ in range(3))
        time = "wait" if self.wait and self.chance(0.3) else f"{self.random.randint(1, 5)} ms"
        written = self.random.choice(self.written)
        return self.pick(
            f"never {a} and {b}",
            f"always {a} or {b}",
            f"whenever {a} then {b}",
            f"whenever {a} then {written} within {time}",
            f"whenever {a} then {b} for {time}",
            f"whenever {written} then {a} or {b} for {time}",
            f"whenever {a} has stood for {time} then {b}",
            f"after {a} never {written} until {c}",
            f"at most {self.random.randint(1, 2)} {self.pick('rising', 'falling')} {written} in any {time}",
            f"{a} before {written}",
        )


def small_text(random: Random) -> str:
    """The text of one small program with three requirements."""
    return Small(random).text()
