"""Hazards: is anything asked against them, of the machine, and with one thing failed?"""

from __future__ import annotations

from collections.abc import Iterator

from rungproof.logic.meaning.program import Hazard, Requirement
from rungproof.logic.report.questions.question import Question
from rungproof.logic.report.questions.spoken import Spoken


def ask_of_hazards(spoken: Spoken) -> Iterator[Question]:
    """Hazards without a requirement, a safe state, a look at the machine, a fault; and whether there are more."""
    program = spoken.program
    if not program.hazards and spoken.moving():
        moved = ", ".join(spoken.moving())
        yield Question(
            spoken.moving(), f"Which hazards are there? Something moves by {moved}.", "The files name no hazard."
        )
    for hazard in program.hazards:
        against = [each for each in program.requirements if hazard.name in each.against]
        yield from _of(spoken, hazard, against)


def _of(spoken: Spoken, hazard: Hazard, against: list[Requirement]) -> Iterator[Question]:
    name = (hazard.name,)
    if hazard.safe_state is None:
        yield Question(name, f"What is the machine's safe state against {hazard.name}?", "The file names none.")
    if not against:
        yield Question(name, f"What keeps {hazard.name} from happening?", "No requirement stands against it.")
        return
    if spoken.plant is not None and all(each.looked_at != "at the machine" for each in against):
        yield Question(
            name,
            f"Does the machine obey, and not the program alone, where {hazard.name} is about to happen?",
            "All that stands against it looks at the program or its terminals, nothing at the machine.",
        )
    if spoken.plant is not None and not any(each.any_one_fault for each in against):
        yield Question(
            name,
            f"What may fail before {hazard.name} happens?",
            "Nothing that stands against it is asked to hold `even with any one fault`: all is judged with every part "
            "sound.",
        )
    if spoken.plant is not None and not any(each.outputs_free for each in against):
        yield Question(
            name,
            f"Does anything stand against {hazard.name} whatever the program does?",
            "Nothing that stands against it is asked `with outputs free`.",
        )
