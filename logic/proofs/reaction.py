"""How long it takes at the most from a cause to its effect: proved from above, seen from below.

A requirement `whenever A has stood for T then B` (or `... then B within T`) asks for the effect within T.
The same with shorter and shorter times is proved, until it cannot be: the shortest that is proved is an
upper bound. What breaks the proof of a tick less is a story, if the reference engine sees it too: nothing is
shorter than that.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

from rungproof.grammar.tree import Span
from rungproof.logic.checks.confirm import violated_at
from rungproof.logic.checks.engine_choice import reference_engine
from rungproof.logic.checks.shrink import ended_at
from rungproof.logic.checks.stories import tidy
from rungproof.logic.checks.story_text import story_block
from rungproof.logic.checks.words import time_words
from rungproof.logic.meaning.program import Assumption, Program, Requirement, Stood, Story, Whenever
from rungproof.logic.meaning.typed import Constant, Expression
from rungproof.logic.proofs.prove import ProofResult, prove_program
from rungproof.logic.proofs.sides import alone
from rungproof.logic.proofs.system import requirement_system, why_not
from rungproof.logic.proofs.system_plant import PLANT
from rungproof.logic.proofs.tick_stories import stories_of_ticks

#: Called with a requirement's name, the time (ms) that is being tried, and what is done.
Told = Callable[[str, int, str], None]
NOWHERE = Span("", 1, 1, 1)
#: Ticks less than proved at which a story is looked for.
MOST_LESS = 4


@dataclass(frozen=True)
class Reaction:
    """One chain: `asked` ms that the requirement allows (the process safety time that it declares), `proved` ms
    within which the effect always comes (None: no proof, and `why`), `seen` ms after which a story had it still
    not come, and that story. `through` are the parts and stages that the chain goes through."""

    requirement: str
    sentence: str
    restatement: str
    asked: int
    step: int
    proved: int | None
    why: str = ""
    seen: int | None = None
    story: str | None = None
    through: tuple[str, ...] = ()

    @property
    def margin(self) -> int | None:
        """ms left between what is proved and what is asked."""
        return None if self.proved is None else self.asked - self.proved


def has_reaction(requirement: Requirement) -> bool:
    """Whether a requirement says within what time an effect comes, as a plain number."""
    time = _time_of(requirement)
    return time is not None and time.low == time.high


def _time_of(requirement: Requirement) -> Expression | None:
    """Within what time its effect comes."""
    form = requirement.form
    if isinstance(form, Stood) or (isinstance(form, Whenever) and form.mode == "within"):
        return form.time
    return None


def reactions(
    program: Program,
    *,
    prove_s: float,
    told: Told = lambda name, ms, what: None,
) -> tuple[Reaction, ...]:
    """The chain of every requirement that says within what time an effect comes. `prove_s` seconds for each proof."""
    found = []
    for requirement in program.requirements:
        if has_reaction(requirement):
            found.append(_Chain(program, requirement, prove_s, told).reaction())
    return tuple(found)


def tightened(requirement: Requirement, ms: int) -> Requirement:
    """The requirement with another time."""
    form = requirement.form
    assert isinstance(form, Stood | Whenever), "it has a time"
    time = form.time
    assert time is not None, "it has a time"
    other = Constant(type="int", unit=time.unit, low=ms, high=ms, value=ms, span=NOWHERE)
    return replace(requirement, form=replace(form, time=other), horizon=min(requirement.horizon, ms))


@dataclass
class _Chain:
    program: Program
    requirement: Requirement
    prove_s: float
    told: Told

    def reaction(self) -> Reaction:
        requirement = self.requirement
        time = _time_of(requirement)
        assert time is not None, "it has a time"
        asked = int(time.high)
        step = self._step()
        nothing = Reaction(
            requirement.name, requirement.sentence, requirement.restatement, asked, step, None, through=self._through()
        )
        reason = why_not(self.program, requirement)
        if reason is not None:
            return replace(nothing, why=reason)
        first = self._proof(asked)
        if first.word not in ("proved", "exhausted"):
            return replace(nothing, why=first.why or f"the requirement itself is {first.word}")
        proved = self._shortest(asked, step)
        seen, story = self._nearest(proved, step)
        return replace(nothing, proved=proved, seen=seen, story=self._text(story, seen))

    def _text(self, story: Story | None, seen: int | None) -> str | None:
        if story is None or seen is None:
            return None
        program = self.program if self.requirement.instants == "tick" else alone(self.program)
        return story_block(program, story, f"still to come after {time_words(seen)}", self.requirement.name)

    def _step(self) -> int:
        """ms between two instants: those of a controller that always scans alike are its scans."""
        controller = self.program.controller
        if (
            self.requirement.instants == "scan"
            and controller is not None
            and controller.scan_low == controller.scan_high
        ):
            return controller.scan_low
        return self.program.plant.tick if self.program.plant is not None else 1

    def _proof(self, ms: int) -> ProofResult:
        self.told(self.requirement.name, ms, "proving")
        # What tags alone decide is told by tags alone: no plant stands between a story and the inputs.
        program = self.program if self.requirement.instants == "tick" else alone(self.program, self._assumed())
        program = replace(program, requirements=(tightened(self.requirement, ms),))
        # In this process: a chain asks a dozen times, and each time within seconds.
        with ThreadPoolExecutor(1) as executor:
            return prove_program(program, time_s=self.prove_s, executor=executor)[self.requirement.name]

    def _assumed(self) -> tuple[Assumption, ...]:
        return tuple(each for each in self.program.assumptions if each.instants == "scan")

    def _shortest(self, asked: int, step: int) -> int:
        """The shortest time that is proved, to a tick, by halving; longer ones are then true too."""
        low, high = 0, -(-asked // step)
        while low < high:
            middle = (low + high) // 2
            if self._proof(middle * step).word in ("proved", "exhausted"):
                high = middle
            else:
                low = middle + 1
        return min(high * step, asked)

    def _nearest(self, proved: int, step: int) -> tuple[int | None, Story | None]:
        """The longest time, less than proved, after which a story has the effect still to come: what breaks a
        proof of that time, replayed in the reference engine."""
        for less in range(1, MOST_LESS + 1):
            ms = proved - less * step
            if ms < 0:
                break
            tight = tightened(self.requirement, ms)
            found = self._proof(ms)
            if found.story is not None:
                return ms, found.story
            if found.run is not None and self.requirement.instants == "tick":
                program = replace(self.program, requirements=(tight,), scenarios=())
                for story in stories_of_ticks(program, found.run, step):
                    at = violated_at(reference_engine(), program, story, tight.name)
                    if at is not None:
                        return ms, tidy(program, ended_at(story, at))
        return None, None

    def _through(self) -> tuple[str, ...]:
        """The parts and stages that what is proved depends on."""
        if why_not(self.program, self.requirement) is not None:
            return ()
        system = requirement_system(self.program, self.requirement)
        names = system.step.slice([system.bad]).states
        found: dict[str, None] = {}
        for name in names:
            stem = name.removeprefix(PLANT).partition(".")[0].partition("#")[0]
            if (name.startswith(PLANT) or name.endswith("#elapsed")) and "/" not in name:
                found[stem] = None
        return tuple(found)
