"""Misconceptions about contacts: the rows of the table."""

from __future__ import annotations

from rungproof.logic.teaching.misconceptions import contacts
from rungproof.logic.teaching.misconceptions.entry import Misconception, Sample

_RUN = "rung run\nrising start_pb or motor\nstop_ok\n=> motor"

CONTACTS = (
    Misconception(
        "seal-in-round-the-stop",
        "The branch that holds goes round a contact",
        contacts.seal_in_round,
        "It is running. Now follow the power through the branch that keeps it running: which contacts does it pass, "
        "and which does it not?",
        "One of your branches has more contacts in series than the other.",
        "A contact that must be able to stop it stands in series with both branches, the one that starts and the one "
        "that holds: on a line of its own below them.",
        Sample(
            "rung run\n(rising start_pb and guard_ok) or motor\nstop_ok\n=> motor",
            "never motor and not guard_ok",
        ),
        Sample(_RUN, "never motor and not guard_ok"),
    ),
    Misconception(
        "start-held-down",
        "A start that is read as a level",
        contacts.level_for_edge,
        "Suppose somebody tapes the button down. What stopped it (a stop button, a guard, a power cut) is over. What "
        "happens?",
        "{tag} passes power for as long as it is held.",
        "A start counts only at the moment it comes: write `rising` before it, so that a held or taped button starts "
        "nothing a second time.",
        Sample(
            "rung run\nstart_pb or motor\nstop_ok\n=> motor",
            "after not stop_ok never motor until rising start_pb",
        ),
        Sample(_RUN, "never motor and not guard_ok"),
    ),
    Misconception(
        "release-not-remembered",
        "Nothing remembers that the buttons were let go",
        contacts.release_not_remembered,
        "The buttons are on. How can your rungs know whether all of them have been off since the last time?",
        "This path looks at the buttons as they are now. Nothing in it knows what they were before.",
        "What has to be known later needs a memory: `set` while all the buttons are off, a contact in series "
        "with them, and `reset` once the output has gone off (`falling` and its name).",
        Sample(
            "rung press\nleft_pb\nright_pb\nguard_ok\n=> down",
            "after scanning and falling down never down until not left_pb and not right_pb\n"
            "never down and not guard_ok",
        ),
        Sample("rung run\nstart_pb or motor\nstop_ok\n=> motor", "after not stop_ok never motor until rising start_pb"),
    ),
    Misconception(
        "nothing-holds-it",
        "No seal-in",
        contacts.no_seal_in,
        "What started it has gone: a button has sprung back, or a level has moved on. What lets power through to the "
        "coil now?",
        "Every way through this path ends as soon as its start has gone.",
        "To stay on after its start has gone, a coil needs a branch in parallel with the start that its own contact "
        "keeps closed, such as `rising start_pb or motor`.",
        Sample(
            "rung run\nrising start_pb\nstop_ok\n=> motor",
            "whenever scanning and falling motor then not stop_ok\nnever motor and not stop_ok",
        ),
        Sample("rung run\nstart_pb or motor\nstop_ok\n=> motor", "after not stop_ok never motor until rising start_pb"),
    ),
    Misconception(
        "stop-read-backwards",
        "`not` before a contact that opens when operated",
        contacts.make_for_break,
        "Nobody touches anything. Is {tag} on or off then? Read its remark again.",
        "{tag} lets power through here only while it is off.",
        "A device whose contact opens when it is operated reads on while all is well. So its tag stands without `not` "
        "in the path, and a broken wire stops as the button does.",
        Sample("rung run\nrising start_pb or motor\nnot stop_ok\n=> motor", "never motor and not stop_ok"),
        Sample("rung run\nrising start_pb or motor\nguard_ok\n=> motor", "never motor and not stop_ok"),
    ),
    Misconception(
        "must-be-off-here",
        "A contact that lets power through when it should block",
        contacts.break_for_make,
        "For this output to be allowed, must {tag} be on or off?",
        "{tag} lets power through here while it is on.",
        "Where something must not be there, its contact stands with `not`.",
        Sample("rung lift\nleft_pb\nsensor\n=> up", "never up and sensor"),
        Sample("rung lift\nleft_pb\n=> up", "never up and sensor"),
    ),
    Misconception(
        "interlock-forgotten",
        "An input that nobody looks at",
        contacts.interlock_missing,
        "Count the things that the task says must be as they should for this output. Now count the lines of your rung.",
        "{tag} does not stand in this rung.",
        "Each condition that must hold the whole time is a line of its own, in series with all the others.",
        Sample(_RUN, "never motor and not guard_ok"),
        Sample(
            "rung run\n(rising start_pb and guard_ok) or motor\nstop_ok\n=> motor",
            "never motor and not guard_ok",
        ),
    ),
    Misconception(
        "both-at-once",
        "Two outputs that do not know of each other",
        contacts.partner_missing,
        "Suppose both are asked for in the same moment. Which outputs come on?",
        "This rung does not look at {tag}.",
        "Of two outputs that must never be on together, each has the other's contact with `not` in its path; and on "
        "the real machine the same stands in the wiring.",
        Sample("rung lift\nleft_pb\n=> up\nrung lower\nright_pb\n=> down", "never up and down"),
        Sample("rung run\nstart_pb or motor\nstop_ok\n=> motor", "after not stop_ok never motor until rising start_pb"),
    ),
    Misconception(
        "one-needs-the-other",
        "An output that may be on only while another one is",
        contacts.needs_the_other,
        "Of these two, which one must never be on alone?",
        "This rung does not look at {tag}.",
        "What may run only while something else runs has the contact of the other in its path; better still, the "
        "contact that proves it moves.",
        Sample("rung fan\nstop_ok\n=> up\nrung heat\nsensor\n=> down", "never down and not up"),
        Sample("rung lift\nleft_pb\n=> up\nrung lower\nright_pb\n=> down", "never up and down"),
    ),
    Misconception(
        "second-comes-through",
        "First-out that lets the second in",
        contacts.first_out_open,
        "The first fault has come. A second one comes a moment later. Which lamps are lit?",
        "This rung sets its memory whether or not {tag} has been set before.",
        "Whichever came first must lock the others out: each of them sets only while none of the others is set.",
        Sample(
            "rung a\nnot guard_ok\nnot second\n=> set first\nrung b\nnot stop_ok\n=> set second\n"
            "rung off\nrising reset_pb\n=> reset first\n=> reset second",
            "never first and second",
            "first memory bool retained\nsecond memory bool retained",
        ),
        Sample("rung lift\nleft_pb\n=> up\nrung lower\nright_pb\n=> down", "never up and down"),
    ),
    Misconception(
        "edges-never-meet",
        "Two edges in series",
        contacts.edges_together,
        "An edge lasts one single scan. How likely is it that both buttons come on in the very same scan?",
        "There are two `rising` or `falling` in this rung, and both would have to come at once.",
        "Only the last thing that happens can be an edge. What must be there already is read as a level.",
        Sample(
            "rung run\nrising left_pb\nrising right_pb\n=> motor",
            "whenever scanning and left_pb and rising right_pb and not rising left_pb and not power_up then motor",
        ),
        Sample(
            "rung run\nrising left_pb\n=> motor",
            "whenever scanning and left_pb and not power_up then motor",
        ),
    ),
    Misconception(
        "one-scan-only",
        "An edge where the state should count",
        contacts.edge_for_level,
        "In which scans does this line let power through: while {tag} is on, or only when it comes on?",
        "`rising` and `falling` let power through for one single scan.",
        "What must hold the whole time is read as it stands, without `rising` or `falling`.",
        Sample("rung show\nrising sensor\n=> lamp", "whenever scanning and sensor then lamp"),
        Sample("rung show\nnot sensor\n=> lamp", "whenever scanning and sensor then lamp"),
    ),
    Misconception(
        "wrong-edge",
        "Letting go for pressing",
        contacts.wrong_edge,
        "Does your line act when {tag} comes on, or when it goes off? Which of the two does the task mean?",
        "This is the edge of the other movement.",
        "`rising` is the moment it comes on, `falling` the moment it goes off.",
        Sample(
            "rung run\nfalling start_pb or motor\nstop_ok\n=> motor",
            "after not stop_ok never motor until rising start_pb and stop_ok",
        ),
        Sample(_RUN, "never motor and not guard_ok"),
    ),
    Misconception(
        "one-is-enough",
        "Parallel where series is meant",
        contacts.or_for_and,
        "One of the two is enough for your rung. Is one enough for the task?",
        "These branches stand in parallel: any of them lets power through.",
        "`or` is either; conditions that must all hold stand in series, a line each.",
        Sample("rung press\nleft_pb or right_pb\n=> motor", "never motor and not left_pb"),
        Sample("rung press\nright_pb\n=> motor", "never motor and not left_pb"),
    ),
    Misconception(
        "all-at-once-wanted",
        "Series where parallel is meant",
        contacts.and_for_or,
        "Each of them alone should do it. What does your path need?",
        "These conditions stand in series: power passes only while all of them hold.",
        "Lines of a path stand in series. Conditions of which one is enough are branches in parallel: `a or b`.",
        Sample("rung show\nnot guard_ok\nnot stop_ok\n=> lamp", "whenever scanning and not guard_ok then lamp"),
        Sample("rung show\nguard_ok\n=> lamp", "whenever scanning and not guard_ok then lamp"),
    ),
    Misconception(
        "own-contact-backwards",
        "A memory or output read the wrong way round",
        contacts.own_tag_inverted,
        "When this output is to come on, is {tag} on or off at that moment?",
        "{tag} is read the other way round here.",
        "Write the story down scan by scan, with the value of each memory: then you see which way round its contact "
        "must be.",
        Sample(
            "rung tell\nnot sensor\n=> far\nrung show\nfar\n=> lamp",
            "whenever scanning and sensor then lamp\nnever far and sensor",
            "far memory bool",
        ),
        Sample("rung show\nrising sensor\n=> lamp", "whenever scanning and sensor then lamp"),
    ),
    Misconception(
        "a-way-is-missing",
        "A branch that the task asks for",
        contacts.branch_missing,
        "In how many ways can it come on, by the task? And in your rung?",
        "{tag} has no branch here.",
        "Each way to switch it on is a branch in parallel with the others.",
        Sample(
            "rung show\nnot guard_ok\n=> lamp",
            "whenever scanning and sensor then lamp\nwhenever scanning and not guard_ok then lamp",
        ),
        Sample("rung show\nguard_ok\n=> lamp", "whenever scanning and not guard_ok then lamp"),
    ),
    Misconception(
        "step-out-of-turn",
        "A step without the one before it",
        contacts.step_without_predecessor,
        "Can this step begin although the one before it has not been?",
        "This rung does not look at {tag}.",
        "A step begins where two things meet: the step before it is active, and its own condition comes.",
        Sample(
            "rung one\nrising start_pb\n=> set first\nrung two\nsensor\n=> set second\n"
            "rung off\nrising reset_pb\n=> reset first\n=> reset second\nrung go\nsecond\n=> motor",
            "first before motor",
            "first memory bool\nsecond memory bool",
        ),
        Sample("rung lift\nleft_pb\n=> up\nrung lower\nright_pb\n=> down", "never up and down"),
    ),
    Misconception(
        "worked-out-for-nothing",
        "A trip or permission that nobody reads",
        contacts.trip_not_read,
        "Your program works {tag} out. Which rung does anything because of it?",
        "This rung does not look at {tag}.",
        "A memory does something only where its contact stands in the path of what it should stop or allow.",
        Sample(
            "rung trip\nnot guard_ok\n=> set tripped\nrung off\nrising reset_pb\nguard_ok\n=> reset tripped\n"
            "rung run\nrising start_pb or motor\nstop_ok\n=> motor",
            "after not guard_ok never motor until reset_pb",
            "tripped memory bool retained",
        ),
        Sample(_RUN, "never motor and not guard_ok"),
    ),
    Misconception(
        "a-line-too-many",
        "A condition that the task does not ask for",
        contacts.contact_too_many,
        "Which of your lines keeps power away in this story? Does the task ask for it?",
        "This line stands in the way.",
        "Only what the task asks for belongs into the path. A condition for starting stands in the branch that starts.",
        Sample(
            "rung show\nsensor\nguard_ok\n=> lamp", "whenever scanning and sensor then lamp\nnever lamp and not sensor"
        ),
        Sample("rung show\nrising sensor\n=> lamp", "whenever scanning and sensor then lamp"),
    ),
    Misconception(
        "wrong-contact",
        "Another input than the one that is meant",
        contacts.wrong_contact,
        "Read the remark of {tag} again. Is that the device the task speaks of?",
        "{tag} is read here.",
        "Go through the list of tags with the task beside you, and say for each contact which device it is.",
        Sample("rung show\nstart_pb\n=> lamp", "whenever scanning and sensor then lamp"),
        Sample("rung show\nrising sensor\n=> lamp", "whenever scanning and sensor then lamp"),
    ),
)
