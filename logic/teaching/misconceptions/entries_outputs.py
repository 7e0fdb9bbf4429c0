"""Misconceptions about outputs: the rows of the table."""

from __future__ import annotations

from rungproof.logic.teaching.misconceptions import outputs
from rungproof.logic.teaching.misconceptions.entry import Misconception, Sample

_TRIP = "first memory bool retained"
_SHOW = Sample("rung show\nrising sensor\n=> lamp", "whenever scanning and sensor then lamp")

OUTPUTS = (
    Misconception(
        "never-driven",
        "An output that no rung drives",
        outputs.never_written,
        "Which of your rungs ends at {tag}?",
        "No rung of yours drives {tag}.",
        "Every output of the task needs a rung that ends at it: `=> name`.",
        Sample("rung run\nguard_ok\n=> motor", "whenever scanning and sensor then lamp"),
        _SHOW,
    ),
    Misconception(
        "two-coils-one-output",
        "One output with two coils",
        outputs.two_coils,
        "The controller solves the rungs from the first to the last. What is left of the first coil's work?",
        "This output has been given its value already, further up.",
        "One output, one coil. Join both paths with `or` in one rung, then put what must stop it in series below.",
        Sample("rung a\nleft_pb\n=> lamp\nrung b\nright_pb\n=> lamp", "whenever scanning and left_pb then lamp"),
        Sample("rung a\nright_pb\n=> lamp", "whenever scanning and left_pb then lamp"),
    ),
    Misconception(
        "set-has-the-last-word",
        "Set stands after reset",
        outputs.set_stands_last,
        "Both conditions hold in the same scan. Which of your two rungs has the last word?",
        "This rung stands below the one that resets {tag}, and so it wins.",
        "Rungs are solved from the first to the last, and the last write stands. What must win stands last: a stop "
        "below a start.",
        Sample(
            "rung off\nnot stop_ok\n=> reset motor\nrung on\nrising start_pb\n=> set motor",
            "never motor and not stop_ok",
        ),
        Sample(
            "rung on\nrising start_pb\n=> set motor\nrung off\nrising reset_pb\n=> reset motor",
            "never motor and not stop_ok",
        ),
    ),
    Misconception(
        "reset-beats-a-live-cause",
        "A reset that works while the cause is there",
        outputs.reset_while_cause_stands,
        "The fault is still there, and somebody presses reset. Is the trip gone?",
        "This rung resets {tag} whatever its cause does.",
        "A reset works only once the cause has gone: put the healthy contact in series with the reset.",
        Sample(
            "rung trip\nnot guard_ok\n=> set first\nrung off\nrising reset_pb\n=> reset first",
            "whenever scanning and not guard_ok then first",
            _TRIP,
        ),
        Sample(
            "rung trip\nnot guard_ok\n=> first",
            "after not guard_ok never not first until reset_pb",
            _TRIP,
        ),
    ),
    Misconception(
        "reset-has-the-last-word",
        "Reset stands after set",
        outputs.reset_stands_last,
        "The cause is there, and in the same scan somebody resets. Which of your two rungs has the last word?",
        "This rung stands below the one that sets {tag}, and so it wins.",
        "Rungs are solved from the first to the last, and the last write stands.",
        Sample(
            "rung trip\nguard_ok and stop_ok and left_pb\n=> set first\n"
            "rung off\nreset_pb or right_pb\nsensor\n=> reset first",
            "whenever scanning and guard_ok and stop_ok and left_pb then first\n"
            "whenever scanning and right_pb and sensor and not left_pb then not first\n"
            "whenever scanning and right_pb and sensor and not guard_ok then not first\n"
            "whenever scanning and right_pb and sensor and not stop_ok then not first",
            _TRIP,
        ),
        _SHOW,
    ),
    Misconception(
        "trip-clears-itself",
        "A coil where set is meant",
        outputs.coil_for_set,
        "The cause has gone again. Should this go with it?",
        "A plain coil is on exactly while power reaches it.",
        "What must stay until somebody acknowledges it is `set` by its cause and `reset` by hand.",
        Sample(
            "rung trip\nnot guard_ok\n=> first",
            "after not guard_ok never not first until reset_pb",
            _TRIP,
        ),
        _SHOW,
    ),
    Misconception(
        "nothing-takes-it-off",
        "Set and never reset",
        outputs.nothing_resets_it,
        "It is on now. Which of your rungs can ever take it off again?",
        "{tag} is set here, and reset nowhere.",
        "Every `set` needs a rung with `reset` for the same tag.",
        Sample("rung on\nrising start_pb\n=> set motor", "never motor and not stop_ok"),
        Sample("rung show\nguard_ok\n=> set lamp\nrung off\nsensor\n=> reset lamp", "never lamp and not guard_ok"),
    ),
    Misconception(
        "step-left-standing",
        "A step that stays when the next one comes",
        outputs.step_left_standing,
        "The next step has begun. What has become of the one before it?",
        "{tag} let this step begin, and nothing takes it off here.",
        "The rung that begins a step ends the one before it: `=> set second` and `=> reset first` under one path.",
        Sample(
            "rung one\nrising start_pb\n=> set first\nrung two\nfirst\nsensor\n=> set second\n"
            "rung off\nrising reset_pb\n=> reset second\nrung up\nfirst\n=> up\nrung down\nsecond\n=> down",
            "whenever scanning and sensor and rising down then not up",
            "first memory bool\nsecond memory bool",
        ),
        Sample("rung lift\nleft_pb\n=> up\nrung lower\nright_pb\n=> down", "never up and down"),
    ),
    Misconception(
        "stays-on",
        "Set where a coil is meant",
        outputs.set_for_coil,
        "Its cause has gone. Should it stay on?",
        "`set` keeps {tag} on until something resets it.",
        "What follows its conditions the whole time is a plain coil: `=> name`.",
        Sample("rung show\nguard_ok\n=> set lamp", "never lamp and not guard_ok"),
        Sample("rung run\nrising start_pb or motor\nstop_ok\n=> motor", "never motor and not guard_ok"),
    ),
    Misconception(
        "upside-down",
        "An output that is on when it should be off",
        outputs.coil_inverted,
        "Power reaches this coil. Is its output on or off then, by the task?",
        "Compare when power reaches this line with when {tag} should be on.",
        "`=> name` is on with power, `=> not name` is on without. Without power in the cabinet both are off.",
        Sample(
            "rung show\nsensor and guard_ok and left_pb and stop_ok\n=> not lamp",
            "whenever scanning and sensor and guard_ok and left_pb and stop_ok then lamp",
        ),
        _SHOW,
    ),
    Misconception(
        "set-for-reset",
        "Set and reset exchanged",
        outputs.set_and_reset_exchanged,
        "What should become of {tag} when power reaches this line?",
        "This line does the opposite.",
        "`set` switches on and leaves it so, `reset` switches off and leaves it so.",
        Sample(
            "rung on\nrising start_pb\n=> set motor\nrung off\nnot stop_ok\n=> set motor",
            "never motor and not stop_ok",
        ),
        _SHOW,
    ),
    Misconception(
        "one-scan-late",
        "Rungs in an order that costs a scan",
        outputs.one_scan_late,
        "The rungs are solved from the first to the last. When this rung reads it, has it been worked out already?",
        "This rung and the one whose result it needs stand in the wrong order.",
        "What is read is worked out above. Otherwise a rung sees what was true one scan ago.",
        Sample(
            "rung go\nfree\n=> motor\nrung free\nguard_ok\nsensor\n=> free",
            "never motor and not guard_ok",
            "free memory bool",
        ),
        Sample("rung run\nrising start_pb or motor\nstop_ok\n=> motor", "never motor and not guard_ok"),
    ),
    Misconception(
        "value-left-standing",
        "A number that keeps its last value",
        outputs.value_left_standing,
        "The condition goes. Which value has {tag} then?",
        "Without power this line leaves {tag} as it was.",
        "A value that is given under a condition needs a second rung for the other case, such as `:= 0 V` while "
        "stopped.",
        Sample(
            "rung speed\nsensor\n=> speed := 6 V",
            "never speed > 1 V and not sensor",
        ),
        _SHOW,
    ),
    Misconception(
        "wrong-output",
        "The rung drives another output",
        outputs.wrong_coil,
        "Read the remark of {tag} again. Is that what this rung should drive?",
        "This rung ends at {tag}.",
        "Go through your rungs from below: for each output, say what it is and when it should be on.",
        Sample("rung up\nleft_pb\n=> down\nrung other\nright_pb\n=> lamp", "whenever scanning and left_pb then up"),
        _SHOW,
    ),
)
