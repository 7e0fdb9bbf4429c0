"""The clauses that give a part its contacts, and how those are numbered.

`make contact`, `break contact`, `make contacts 3`, `break contacts 2`: numbered from 1 in
the order in which the clauses stand, so `make contacts 2, break contact` gives make
contacts 1 and 2 and break contact 3. Make and break are the words of IEC 60050-444 for a
contact that is closed, or open, while its part is operated.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from rungproof.plant.part import Clause, Contact, Given, PartError

CONTACT_CLAUSES = (
    Clause("make contact", flag="make_contact"),
    Clause("break contact", flag="break_contact"),
    Clause("make contacts {make_contacts:int}"),
    Clause("break contacts {break_contacts:int}"),
)

#: More contacts than any one device of the trade carries: a slip of the pen, not a part.
MOST_CONTACTS = 32

_KINDS: dict[str, Literal["make", "break"]] = {
    "make_contact": "make",
    "make_contacts": "make",
    "break_contact": "break",
    "break_contacts": "break",
}


def contacts_of(given: Mapping[str, Given], needed: bool = True) -> tuple[Contact, ...]:
    """The contacts that the clauses ask for; none is an error where the part is wired by them alone."""
    contacts: list[Contact] = []
    for slot, value in given.items():
        kind = _KINDS.get(slot)
        if kind is None:
            continue
        count = 1 if value is True else value
        if not isinstance(count, int) or not 1 <= count <= MOST_CONTACTS:
            raise PartError(slot, f"the number of contacts must lie between 1 and {MOST_CONTACTS}")
        contacts += [Contact(str(len(contacts) + 1 + i), kind) for i in range(count)]
    if needed and not contacts:
        raise PartError("make_contact", "has no contact", "write `make contact` or `break contact`")
    return tuple(contacts)
