"""Files of a project: what `use` and a path may name, and what one project may hold once."""

from __future__ import annotations

from rungproof.grammar.diagnosis import Entry, Sample

_SMALL = """controller "Small" every 10 ms

tags
    start_pb  input   bool
    stop_ok   input   bool
    running   output  bool

rung run
    rising start_pb or running
    stop_ok
    => running
"""


def _uses(file: str, more: dict[str, str] | None = None) -> Sample:
    return Sample({"small.rung": f'use "{file}"\n\n{_SMALL}', **(more or {})})


ENTRIES: tuple[Entry, ...] = (
    Entry(
        "path-missing",
        "error",
        "There is no file or folder `{path}`.",
        (Sample({}),),
        expected="a `.rung` file, or a folder with `.rung` files",
    ),
    Entry(
        "path-not-rung",
        "error",
        "`{path}` is no `.rung` file.",
        (Sample({"notes.txt": "nothing\n"}),),
        expected="a `.rung` file, or a folder with `.rung` files",
    ),
    Entry(
        "folder-without-rungs",
        "error",
        "The folder `{path}` holds no `.rung` file.",
        (Sample({}),),
        mend="`rungproof new PATH` writes a starter that checks clean",
    ),
    Entry(
        "folder-unreadable",
        "error",
        "The folder `{path}` cannot be read: {reason}.",
        (Sample({}),),
    ),
    Entry(
        "link-outside-folder",
        "error",
        "`{file}` is a link that leads out of the folder.",
        (Sample({"small.rung": _SMALL}),),
        mend="copy the file into the folder",
        why="A project is one folder: opening it must not read anything elsewhere.",
    ),
    Entry(
        "use-outside-folder",
        "error",
        "`{file}` lies outside the folder of this file.",
        (_uses("../other.rung"), _uses("/etc/other.rung")),
        expected="the bare name of a file of the same folder",
        mend="copy the file into the folder and use its bare name",
        why="A project is one folder: opening it must not read anything elsewhere.",
    ),
    Entry(
        "use-not-rung",
        "error",
        "`{file}` is no `.rung` file.",
        (_uses("plant.txt", {"plant.txt": ""}),),
        expected="a name that ends in `.rung`",
    ),
    Entry(
        "use-missing",
        "error",
        "The folder holds no file `{file}`.",
        (_uses("plnt.rung", {"plant.rung": ""}), _uses("elsewhere.rung")),
        expected="the name of a file of the same folder",
    ),
    Entry(
        "use-itself",
        "error",
        "The file uses itself.",
        (_uses("small.rung"),),
        mend="take the line out",
    ),
    Entry(
        "use-cycle",
        "error",
        "The files use each other in a circle: {path}.",
        (_uses("b.rung", {"b.rung": 'use "small.rung"\n'}),),
        expected="a file used by others and using none of them",
        mend="take one of these lines out; what is joined once is seen by all",
    ),
    Entry(
        "use-twice",
        "warning",
        "`{file}` is used twice in this file.",
        (
            Sample(
                {
                    "small.rung": f'use "b.rung"\nuse "b.rung"\n\n{_SMALL}',
                    "b.rung": 'requirement R1 "B"\n    never running and not stop_ok\n',
                }
            ),
        ),
        mend="take one of the lines out",
    ),
    Entry(
        "two-plants",
        "error",
        "A project has one plant, and this is the second.",
        (
            Sample(
                {"a.rung": 'plant "A" every 5 ms\n    supply P1   24 V\n\nplant "B" every 5 ms\n    supply P2   24 V\n'}
            ),
        ),
        expected="one `plant` block in all files of the folder",
        mend="put the parts into one block; or, if these are two projects, into two folders",
    ),
    Entry(
        "same-name-twice",
        "error",
        "There are two of the name `{name}`; each {word} needs a name of its own.",
        (
            Sample(
                {"a.rung": _SMALL + 'requirement R1 "A"\n    never running\n\nrequirement R1 "B"\n    never start_pb\n'}
            ),
            Sample(
                {
                    "a.rung": _SMALL + '\nhazard H1 "A"\n\nhazard h1 "B"\n\n'
                    'requirement R1 "C" against H1, h1\n    never running\n'
                }
            ),
        ),
        expected="names that differ by more than letter case",
    ),
    Entry(
        "nothing-to-run",
        "error",
        "There is neither a controller nor a plant here: nothing can run.",
        (Sample({"a.rung": 'scenario "A"\n    ends at 1 s\n    expect on\n'}),),
        expected='a `controller "NAME" every 20 ms` line with tags and rungs, or a `plant` block',
        mend="`rungproof new PATH` writes a starter that checks clean",
    ),
)
