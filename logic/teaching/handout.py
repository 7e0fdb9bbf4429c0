"""What a student is given: the task, a file to write into, the plant, the requirements that are shown. Nothing else."""

from __future__ import annotations

from rungproof.logic.teaching.exercise import GIVEN, PLANT, SHOWN, STORY, Exercise
from rungproof.logic.teaching.grade import NO_LICENCE
from rungproof.logic.teaching.predict import TABLE, run_of, sheet
from rungproof.logic.teaching.submission import ANSWER

#: The task in words, and the rungs that are given where they are.
TASK, PROGRAM = "task.md", "program.rung"

_CAUTION = (
    "This is an exercise on a model. Emergency stop, guarding, two-hand control and overfill protection belong in "
    "hardwired, rated equipment. " + NO_LICENCE
)

_HOW = {
    "rungs": f"""\
Write your rungs into `{ANSWER}`, below the tags. A rung begins with a line `rung NAME`; below it stand its contacts,
one a line, and then what they drive, such as `=> lamp`. A memory that you need is a line of its own, under `tags`:
`fresh  memory  bool  "what it remembers"`. Try it as often as you like: `rungproof check .` in this folder. Hand in
`{ANSWER}`, or the whole folder. There are requirements that you do not see: think of what the task says, not only of
what is checked here.""",
    "predict": f"""\
Read the rungs in `{PROGRAM}` and the story in `story.rung`. Then fill the empty cells of `{TABLE}`: a row is one scan,
with the inputs as that scan read them; write `on` or `off` for what each tag is when the scan has ended. Do it on paper
first, and do NOT run it: only then do you learn from it. Hand in `{TABLE}`.""",
    "requirements": f"""\
The rungs in `{PROGRAM}` are right. Write into `{ANSWER}` the requirements that they keep to, so that a mistake in them
would be noticed: `requirement R1 "the sentence"`, and below it the formula. Your requirements must hold for
`{PROGRAM}`: try `rungproof check .`. They are judged by how many mistakes, made one at a time, they notice.""",
}


def handout(exercise: Exercise, student: str | None = None) -> dict[str, str]:
    """The files of a student's sheet, by name."""
    files = {TASK: _task(exercise, student)}
    if exercise.kind == "rungs":
        files[ANSWER] = exercise.texts[GIVEN].rstrip("\n") + "\n\n# Write your rungs below.\n"
        for name in (PLANT, SHOWN):
            if name in exercise.texts:
                files[name] = exercise.texts[name]
        return files
    files[PROGRAM] = exercise.texts[GIVEN]
    if exercise.kind == "predict":
        files[STORY] = exercise.texts[STORY]
        files[TABLE] = sheet(run_of(exercise))
    else:
        files[ANSWER] = f'use "{PROGRAM}"\n\n# Write your requirements below.\n'
        if PLANT in exercise.texts:
            files[PLANT] = exercise.texts[PLANT]
    return files


def _task(exercise: Exercise, student: str | None) -> str:
    name = "" if student is None else f"For {' '.join(student.split())}. "
    minutes = f"{name}A beginner needs about {exercise.minutes} minutes."
    return f"# {exercise.title}\n\n{minutes}\n\n{exercise.task}\n\n## How\n\n{_HOW[exercise.kind]}\n\n{_CAUTION}\n"
