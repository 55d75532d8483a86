"""What does the map rest on?"""

from __future__ import annotations

from collections.abc import Iterator

from ..findings import Finding, found
from ..model import PinMap


def guesses(pin_map: PinMap) -> Iterator[Finding]:
    """Contacts that rest on a guess; a guessed supply or return is a danger."""
    for contact in pin_map.contacts:
        if contact.seen != "guessed" or contact.role == "undescribed":
            continue
        power = contact.signal is not None and contact.signal.is_power
        why = f" ({contact.note})" if contact.note else ""
        yield found(
            "guess-supply" if power else "guess",
            f"{contact.label} = {contact.name} rests on a guess{why}",
            "Measure it before power is applied to anything connected here"
            if power
            else "Measure it, or leave it unconnected",
            contact.place,
            contacts=[contact.label],
            signals=[contact.name],
        )
