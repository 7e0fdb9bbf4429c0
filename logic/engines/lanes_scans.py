"""Where scans end and begin in many lanes: in all at once as long as they keep in step, else in some at each turn."""

from __future__ import annotations

from rungproof.logic.engines.compiled_writer import leaves
from rungproof.logic.engines.lanes_frame import SCAN_ELAPSED, Frame
from rungproof.logic.meaning.knobs import OVERRUN
from rungproof.logic.steps.node import OFF, typed_constant
from rungproof.logic.steps.run_plan import lost_with_power


def scan_ends(run: Frame) -> None:
    """Which lanes are at a boundary, what becomes visible there, and what is lost without power."""
    lines, plan = run.lines, run.plan
    if plan.has_plant:
        lines.add("at_scan = 0; turn = t >= next_boundary")
    else:
        lines.add("at_scan = 0; turn = True")
    lines.open("if turn:")
    lines.add("at = word_of(boundary == t) if spread else ones" if plan.has_plant else "at = ones")
    section = run.section()
    section.work_out([plan.powered, plan.stopped, plan.hung])
    powered, stopped = section.word(plan.powered), section.word(plan.stopped)
    lines.add(f"begins = at & {powered} & ({stopped} ^ ones)")
    if plan.hung is not OFF:
        lines.add(f"hangs = begins & {section.word(plan.hung)}; begins ^= hangs")
    lines.add("ends = begins & running; starts_up = begins ^ ends")
    lines.add(f"goes_off = at & ({powered} ^ ones) & (running | standing)")
    lines.add(f"stops = at & {powered} & {stopped} & (standing ^ ones)")
    lines.add("changes = goes_off | stops")
    section.release()
    lines.open("if begun:")
    lines.add("at_scan = begins | changes; stale = stale or at_scan")
    lines.close()
    lines.open("if ends:")
    run.become(plan.publish, "ends")
    lines.close()
    lines.open("if changes:")
    run.become(plan.when_off, "goes_off")
    run.become(lost_with_power(plan), "goes_off")
    run.become(plan.when_stopped, "stops")
    lost = {n: typed_constant(n.type, v) for n, v in plan.memory_starts.items() if n not in plan.retained}
    run.become(lost, "changes")
    lines.close()
    lines.add("running = (running & (changes ^ ones)) | begins")
    lines.add("standing = (standing & ((begins | goes_off) ^ ones)) | stops")
    lines.close()


def scan_begins(run: Frame) -> None:
    """The rungs are solved in the lanes whose scan begins; then, when each lane has its next boundary."""
    lines, plan = run.lines, run.plan
    lines.open("if turn:")
    lines.open("if begins:")
    lines.add("first ^= begins & (first ^ starts_up)")
    if SCAN_ELAPSED in leaves(plan.memory_next.values()):
        lines.add("copyto(elapsed, last)")
        lines.add(f"if starts_up: put(elapsed, {'mask_of(starts_up, octets)'}, 0)")
    run.become(plan.memory_next, "begins")
    lines.add("lanes.scans.add(begins)")
    lines.close()
    lines.open("if beat and begins == ones:")
    lines.add("spread = False; next_boundary = t + beat")
    lines.close()
    lines.open("else:")
    _boundaries(run)
    lines.close()
    lines.close()


def _boundaries(run: Frame) -> None:
    """The next boundary of each lane, where they are not all the same."""
    lines, plan = run.lines, run.plan
    lines.add("if not spread: boundary.fill(t); spread = True")
    lines.open("if begins:")
    lines.add("length = lanes.lengths(begins)")
    if plan.overruns is not OFF:
        _overrun(run)
    mask = run.source.refresh("begins", "begins")
    lines.add(f"put(last, {mask}, length); put(boundary, {mask}, t + length)")
    lines.close()
    lines.add("pauses = at ^ begins")
    wait = f"t + {plan.tick}" if plan.has_plant else "lanes.next_due()"
    if plan.hung is not OFF:
        lines.add("hangs &= running")
        lines.add(f"if hangs: put(last, mask_of(hangs, octets), last + ({wait}) - t)")
    lines.add(f"if pauses: put(boundary, mask_of(pauses, octets), {wait})")
    lines.add("next_boundary = int(boundary.min())")


def _overrun(run: Frame) -> None:
    section = run.section()
    section.work_out([run.plan.overruns])
    word = section.word(run.plan.overruns)
    run.lines.add(f"if {word}: length = np.where(mask_of({word}, octets), {OVERRUN} * length, length)")
    section.release()
