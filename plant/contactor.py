"""A contactor: a relay with main contacts for a motor, and auxiliaries that mirror them."""

from __future__ import annotations

from collections.abc import Mapping

from rungproof.plant.contacts import contacts_of
from rungproof.plant.part import Contact, Fault, Given
from rungproof.plant.relay import Relay


class Contactor(Relay):
    """A relay with a make contact `main` besides its auxiliary contacts.

        contactor Q1  pulls in 30 ms, drops out 20 ms, make contact, break contact

    The poles of the main contact count as one. Auxiliary contacts are numbered from 1. Fault
    `sticks` is a welded main contact with mirror contacts: the armature stays in and the
    auxiliaries show it. Fault `main!welded` is one that the auxiliaries do not show.
    Source: mirror contacts, IEC 60947-4-1 Annex F (from memory).
    """

    kind = "contactor"
    faults = (
        Fault("coil_open", "the coil is broken: the contactor cannot pull in"),
        Fault("sticks", "a main contact has welded and holds the armature in"),
        Fault("slow", "the armature takes five times as long"),
    )

    def _contacts(self, given: Mapping[str, Given]) -> tuple[Contact, ...]:
        return (Contact("main", "make"), *contacts_of(given, needed=False))
