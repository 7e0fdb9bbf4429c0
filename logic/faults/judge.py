"""One run with a fault beside the same run without it: what breaks, what is seen, what becomes of the safe state."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from rungproof.logic.checks.expressions import form_expressions, walk
from rungproof.logic.checks.words import rounded, span_words, time_words
from rungproof.logic.engines.forked import Mark, Told
from rungproof.logic.faults.eyes import Eyes, leaves
from rungproof.logic.faults.result import OUTCOMES, Outcome, SafeState, Shows
from rungproof.logic.faults.series import parts_at
from rungproof.logic.faults.situations import WATCH_MS, Demand, Situation
from rungproof.logic.faults.variants import Variant
from rungproof.logic.meaning.program import Event, Program, Requirement, Stood, Whenever
from rungproof.logic.meaning.typed import PartReading

#: A lamp, a horn, a machine that stands: people see what lasts so long (ms). Declared, no source.
SEEN_MS = 300

#: The machine has moved unasked if it has done so for as long (ms).
MOVED_MS = 100

#: Amounts that are told where they are off by this share of their range in the end, and at most so many of them.
AMOUNTS, FAR, MOST_TOLD = ("level", "flow", "concentration", "temperature"), 0.05, 3

#: What shows within so long of the fault shows at once (ms).
AT_ONCE_MS = 1000

#: Faults of a button that are presses: what starts then has been asked to.
STARTING = frozenset({"hammered", "bouncing"})

ORDER: tuple[Outcome, ...] = tuple(OUTCOMES)

#: Outcomes that a reviewer must act on.
BAD: tuple[Outcome, ...] = ("hazard open", "late", "moves unasked", "requirement broken")


@dataclass(slots=True)
class Seen:
    """By what a fault is noticed, and when (ms after it came)."""

    what: str
    after_ms: int


@dataclass(slots=True)
class Finding:
    """What one run says: an outcome, in which words, and the run."""

    outcome: Outcome
    does: str
    situation: str
    told: Told
    broken: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()


@dataclass(slots=True)
class Judged:
    """All that the runs of one fault say."""

    findings: list[Finding] = field(default_factory=list)
    unasked: list[Seen] = field(default_factory=list)
    on_demand: list[Seen] = field(default_factory=list)
    safe: dict[tuple[str, ...], SafeState] = field(default_factory=dict)
    runs: int = 0
    simulated_ms: int = 0

    @property
    def worst(self) -> Finding:
        """The first finding of the worst outcome. What shows by itself somewhere is not hidden elsewhere."""
        shown = [each for each in self.findings if each.outcome != "hidden"] if self.unasked else []
        return min(shown or self.findings, key=lambda each: ORDER.index(each.outcome))

    @property
    def shows(self) -> tuple[Shows, Seen | None]:
        if self.unasked:
            first = min(self.unasked, key=lambda each: each.after_ms)
            return ("at once" if first.after_ms <= AT_ONCE_MS else "later"), first
        if self.on_demand:
            return "on demand", min(self.on_demand, key=lambda each: each.after_ms)
        return "never", None


@dataclass(frozen=True, slots=True)
class Coming:
    """A variant that comes at `at_ms`, `when` in words; `judged` takes what its runs say."""

    variant: Variant
    judged: Judged
    at_ms: int
    when: str


class Judge:
    """Runs variants in one situation and judges them. Healthy runs are made once."""

    def __init__(self, program: Program, eyes: Eyes, situation: Situation, long_ms: int) -> None:
        self.program, self.eyes, self.here, self.long_ms = program, eyes, situation, long_ms
        self.requirements: dict[str, Requirement] = {each.name: each for each in program.requirements}
        self._healthy: dict[tuple[int, tuple[Event, ...]], Told] = {}

    # -------------------------------------------------------------------- the runs

    def judge(self, variant: Variant, judged: Judged) -> None:
        """All runs of one variant: it comes while the machine runs, at rest, and at the moment of demand."""
        here = self.here
        self._while_running(Coming(variant, judged, here.running_ms, "while it runs"), here.running, self.long_ms)
        self._from_rest(Coming(variant, judged, here.rest_ms, "at rest"))
        at_once = Coming(variant, judged, here.asked_ms, "at that moment")
        self._ask(at_once, here.asked, variant.events(here.asked_ms))

    def judge_after(self, first: Mark, second: Variant, judged: Judged, slow: bool) -> None:
        """The runs of a variant that comes while the machine runs and another has stood, hidden, since it was
        at rest; `first` is that run. `slow`: alone, the second takes long to show, so it is watched for long."""
        here = self.here
        self._while_running(
            Coming(second, judged, here.running_ms, "while it runs"), first, self.long_ms if slow else 0
        )

    def _while_running(self, coming: Coming, base: Mark, long_ms: int) -> None:
        here = self.here
        events = coming.variant.events(here.running_ms)
        if base is here.running:
            events = [*here.until(here.running_ms, here.asked_ms), *events]
        self._watch_long(coming, base, events, long_ms)
        asked = here.runs.to(here.asked_ms, events, base)
        if asked is not None:
            self._ask(coming, asked)

    def _from_rest(self, coming: Coming) -> None:
        mark = self._at_rest(coming.variant)
        if mark is None:
            return
        until = self.here.asked_ms + WATCH_MS
        self._compare(coming, self.here.runs.end(until, [], mark), self._healthy_run(until, ()))
        self._ask(coming, mark)

    def _at_rest(self, variant: Variant) -> Mark | None:
        here = self.here
        return here.runs.to(here.asked_ms, [*variant.events(here.rest_ms), *here.before])

    def hidden_since_rest(self, variant: Variant) -> Mark | None:
        """The run with a variant that came at rest, broken off while the machine runs."""
        here = self.here
        return here.runs.to(here.running_ms, [*variant.events(here.rest_ms), *here.before])

    def _healthy_run(self, until: int, events: tuple[Event, ...]) -> Told:
        key = (until, events)
        if key not in self._healthy:
            self._healthy[key] = self.here.runs.end(until, events, self.here.asked)
        return self._healthy[key]

    def _note(self, judged: Judged, told: Told, since: int) -> None:
        judged.runs += 1
        judged.simulated_ms += told.ended_ms - since

    # ------------------------------------------------------------- nothing is asked

    def _watch_long(self, coming: Coming, base: Mark, events: list[Event], long_ms: int) -> None:
        """A machine that has gone safe and stayed there for a while is watched no longer."""
        here = self.here
        short = here.asked_ms + 2 * WATCH_MS
        told = here.runs.end(short, events, base)
        safe = self.eyes.safe(here.safe, told).stays_from(True, here.running_ms)
        until = short
        if (safe is None or safe > here.asked_ms + WATCH_MS) and long_ms > short - here.asked_ms:
            until = here.asked_ms + long_ms
            told = here.runs.end(until, events, base)
        self._compare(coming, told, self._healthy_run(until, ()))

    def _compare(self, coming: Coming, told: Told, healthy: Told) -> None:
        judged, came = coming.judged, coming.at_ms
        self._note(judged, told, came)
        situation = f"{self.here.words}; it comes {coming.when}"
        seen = self._seen(told, healthy, came)
        for each in seen:
            asked = self._last_asked(came, came + each.after_ms, coming.when)
            if asked is None:
                judged.unasked.append(each)
            else:
                judged.on_demand.append(Seen(each.what, came + each.after_ms - asked))
        safe, usual = (self.eyes.safe(self.here.safe, each) for each in (told, healthy))
        findings = self._broken(told, healthy, situation, "nothing is asked of it")
        first_work = next((begins for begins, _, value in usual.pieces(0) if not value), usual.end)
        start = self._started_at(first_work)
        for begins, until, value in safe.pieces(came):
            if coming.variant.fault not in STARTING and not value and min(until, start) - begins >= MOVED_MS:
                does = f"moves {time_words(start - begins)} before anybody starts it"
                findings.append(Finding("moves unasked", does, situation, told, hazards=self.here.safe.hazards))
                # Shorter than what is sure to be seen, but nobody overlooks a machine that starts by itself.
                judged.unasked.append(Seen("the machine goes", begins - came))
                break
        stopped = parts_at(safe, usual, came, SEEN_MS)
        stays = safe.stays_from(True, came)
        anyway = usual.stays_from(True, came)
        if stopped is not None and stays is not None and (anyway is None or stays < anyway):
            does = f"goes to its safe state after {time_words(stays - came)}"
            if came < first_work:
                does = "cannot be started" if stays <= first_work else "stops again after it was started"
            findings.append(Finding("goes safe", does, situation, told))
            judged.safe.setdefault(
                self.here.safe.hazards, SafeState(self.here.safe.hazards, "", max(0, stays - came), None)
            )
        elif seen:
            findings.append(Finding("shown", self._goes_on(told, healthy, came), situation, told))
        else:
            findings.append(Finding("hidden", self._goes_on(told, healthy, came), situation, told))
        judged.findings += findings

    def _goes_on(self, told: Told, healthy: Told, came: int) -> str:
        """How it goes on: what moves otherwise in the end, and which levels and flows are then far off."""
        apart = []
        for name in self.eyes.movements:
            if told.final[name] != healthy.final[name]:
                part, _, what = name.partition(".")
                apart.append(f"{part} {what if told.final[name] else f'not {what}'}")
        assert self.program.plant is not None
        for key, each in self.program.plant.assembly.outputs.items():
            off, usual = told.final[key], healthy.final[key]
            far = each.type == "real" and abs(off - usual) > FAR * (each.high - each.low)
            if far and key.rpartition(".")[2] in AMOUNTS:
                apart.append(f"{key} {_figure(off)} {each.unit or ''} in place of {_figure(usual)}".replace("  ", " "))
        after = span_words(told.ended_ms - came)
        return f"goes on; after {after}: {', '.join(apart[:MOST_TOLD])}" if apart else "goes on"

    def _started_at(self, first_work: int) -> int:
        """When a person starts the machine: the last act before it goes to work. 0 where it starts by itself."""
        acts = [e.at_ms for e in self.here.before if self.program.knobs[e.key].kind == "operator" and e.value]
        return max((at for at in acts if 0 < at <= first_work), default=0)

    def _last_asked(self, came: int, seen: int, when: str) -> int | None:
        """The last act of a person between a fault that came at rest and the moment at which it shows."""
        if when != "at rest":
            return None
        acts = [e.at_ms for e in self.here.before if self.program.knobs[e.key].kind == "operator"]
        return max((at for at in acts if came < at <= seen), default=None)

    def _seen(self, told: Told, healthy: Told, since: int) -> list[Seen]:
        """All by which the run differs from the healthy one in a way that people see."""
        eyes, found = self.eyes, []
        for name in eyes.signals:
            at = parts_at(eyes.of(name, told), eyes.of(name, healthy), since, SEEN_MS)
            if at is not None:
                found.append(Seen(self._signal_words(name, eyes.of(name, told).at(at)), at - since))
        safe, usual = (eyes.safe(self.here.safe, each) for each in (told, healthy))
        at = parts_at(safe, usual, since, SEEN_MS)
        if at is not None:
            found.append(Seen("the machine stands" if safe.at(at) else "the machine goes", at - since))
        for name in eyes.tags:
            before = set(eyes.of(name, healthy).values)
            for begins, _, value in eyes.of(name, told).pieces(since):
                if value not in before:
                    found.append(Seen(f"tag {name} {'on' if value else 'off'}", begins - since))
                    break
        return found

    def _signal_words(self, name: str, on: bool) -> str:
        """`P1 off`, `D1 shows "Pump has failed"`."""
        assert self.program.plant is not None
        part, says = name.partition(".")[0], self.program.plant.assembly.outputs[name].says
        if says:
            return f'{part} {"shows" if on else "no longer shows"} "{says}"'
        return f"{part} {'on' if on else 'off'}"

    # ------------------------------------------------------------ something is asked

    def _ask(self, coming: Coming, mark: Mark, events: Sequence[Event] = ()) -> None:
        """Every demand. What is slow to answer is asked only where the fault came while it runs."""
        for demand in self.here.demands:
            if demand.event.key in {key for _, key, _ in coming.variant.pattern}:
                continue
            if demand.watch_ms <= 10 * WATCH_MS or coming.when == "while it runs":
                self._answer(coming, demand, mark, events)

    def _answer(self, coming: Coming, demand: Demand, mark: Mark, events: Sequence[Event]) -> None:
        here, judged = self.here, coming.judged
        until = here.asked_ms + demand.watch_ms
        told = here.runs.end(until, [*events, demand.event], mark)
        healthy = self._healthy_run(until, (demand.event,))
        if told.cut:
            return
        self._note(judged, told, here.asked_ms)
        situation = f"{here.words}; it comes {coming.when}; {demand.words}"
        at = self.eyes.safe(here.safe, told).stays_from(True, here.asked_ms)
        took = None if at is None else at - here.asked_ms
        of_the_world = self.program.knobs[demand.event.key].kind == "disturbance"
        if not of_the_world:
            self._keep_worst(judged, demand, took)
        judged.on_demand += self._seen(told, healthy, max(coming.at_ms, here.asked_ms))
        judged.findings += self._broken(told, healthy, situation, demand.words)
        does = _missed(demand, took)
        if does is not None and not of_the_world:  # what the world does asks for nothing by itself
            judged.findings.append(Finding("hazard open", does, situation, told, hazards=self._guarded(demand)))

    def _guarded(self, demand: Demand) -> tuple[str, ...]:
        """The hazards that a demand guards against: those of the requirements that read its part, if there are any."""
        part = demand.event.key.partition(".")[0].partition("!")[0]
        assert self.program.plant is not None
        tags = {w.tag for w in self.program.plant.inputs if (w.source or "").partition(".")[0] == part}
        spoken = {
            hazard
            for requirement in self.program.requirements
            for expression in form_expressions(requirement)
            if any(name in tags or name.partition(".")[0] == part for name in leaves(expression))
            for hazard in requirement.against
        }
        return tuple(each for each in self.here.safe.hazards if each in spoken) or self.here.safe.hazards

    def _keep_worst(self, judged: Judged, demand: Demand, took: int | None) -> None:
        hazards = self.here.safe.hazards
        known = judged.safe.get(hazards)
        worse = known is None or (
            known.reached_ms is not None and (took is None or (known.demand == "" or took > known.reached_ms))
        )
        if worse:
            judged.safe[hazards] = SafeState(hazards, demand.words, took, demand.safe_ms)

    # ------------------------------------------------------------------ requirements

    def _broken(self, told: Told, healthy: Told, situation: str, asked: str) -> list[Finding]:
        """One finding for each outcome that a broken requirement means."""
        by_outcome: dict[Outcome, list[Requirement]] = {}
        for name, at in told.violated.items():
            if at is not None and healthy.violated.get(name) is None:
                requirement = self.requirements[name]
                by_outcome.setdefault(_outcome_of(requirement), []).append(requirement)
        found = []
        for outcome, broken in by_outcome.items():
            names = tuple(each.name for each in broken)
            hazards = tuple(dict.fromkeys(h for each in broken for h in each.against))
            does = f"{asked}: {', '.join(names)} violated at {time_words(self._first(told, names))} of the run"
            opens = hazards if outcome == "hazard open" else ()
            found.append(Finding(outcome, does, situation, told, names, opens))
        return found

    def _first(self, told: Told, names: tuple[str, ...]) -> int:
        return min(at for name in names if (at := told.violated[name]) is not None)


def _outcome_of(requirement: Requirement) -> Outcome:
    """A time says how soon the machine must do something; an amount past its limit is the hazard itself, whatever
    time stands in the sentence."""
    if not requirement.against or requirement.looked_at != "at the machine":
        return "requirement broken"
    form = requirement.form
    if not isinstance(form, Stood) and not (isinstance(form, Whenever) and form.mode != "at once"):
        return "hazard open"
    amount = any(isinstance(each, PartReading) and each.type != "bool" for each in walk(form.response))
    return "hazard open" if amount else "late"


def _missed(demand: Demand, took: int | None) -> str | None:
    """What is to be said of a demand that was not answered; None where it was."""
    if took is None:
        return f"{demand.words}: not safe within {time_words(demand.watch_ms)}"
    if demand.anyway_ms is not None and took > demand.safe_ms and took >= demand.anyway_ms - demand.sooner_ms:
        return f"{demand.words}: no answer; the safe state comes after {time_words(took)}, as good as unasked"
    return None


def _figure(value: float) -> str:
    """Three figures; what a decay has left of nothing is 0."""
    return "0" if abs(value) < 1e-6 else rounded(value, 3)
