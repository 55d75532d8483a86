"""What is customary for each form of connector, from `connectors/forms.yaml`: pads, footprints, ratings, seatings."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from .body import MATES, Body, Corner, Form, Numbering, Scheme

#: The library nickname of footprints that are pinmap's own: for bodies that no open library has.
OWN = "pinmap:"

Along = Literal["any", "one place", "none"]
Possible = Literal["possible", "impossible"]
Turning = Literal["possible", "only without a bump", "impossible"]
Between = Literal["wall", "nothing"]


class FormSeating(Struct, frozen=True):
    """The ways in which a form can be plugged, as the keys of `seating` in the file say; `source` is cited in full.

    `cure` is advice: what prevents wrong seatings for good ("" where there is none).
    By default everything is possible: what is not known must not be taken for safe.
    """

    along: Along = "any"
    across: Possible = "possible"
    turned: Turning = "possible"
    part: Possible = "possible"
    sections: Between = "nothing"
    why: str = "Nothing is known of this form: every seating is taken as possible."
    source: str = ""
    cure: str = ""


class FormFacts(Struct, frozen=True):
    """The customs of one form.

    `footprint` may hold {rows} and {places}; it holds for `footprint_rows`, `footprint_places` and
    `footprint_pitch_mm` only: the sizes that the open library has.
    `rating_a` is ampere per contact. `seating` says in which ways it can be plugged.
    """

    pads: tuple[Scheme, Corner] | None = None
    footprint: str = ""
    footprint_rows: int = 0
    footprint_places: frozenset[int] = frozenset()
    footprint_pitch_mm: float = 0.0
    rating_a: float | None = None
    rating_source: str = ""
    seating: FormSeating = FormSeating()


def complete(body: Body, customs: Mapping[Form, FormFacts]) -> Body:
    """Return `body` with pads, footprints and rating filled in from the customs of its form and its mate's."""
    own, mates = customs.get(body.form, FormFacts()), customs.get(MATES[body.form], FormFacts())
    sources = dict(body.sources)
    rating = body.rating_a
    if rating is None and own.rating_a is not None:
        # The weaker half of the pair limits what passes.
        rating, source = min((f.rating_a, f.rating_source) for f in (own, mates) if f.rating_a is not None)
        sources["rating"] = source
    footprint = body.footprint or _footprint(body, body.form, own)
    mate_footprint = body.mate_footprint or _footprint(body, MATES[body.form], mates)
    return replace(
        body,
        footprint=footprint,
        pads=body.pads or _pads(body, own, footprint, mirrored=False),
        mate_footprint=mate_footprint,
        mate_pads=body.mate_pads or _pads(body, mates, mate_footprint, mirrored=True),
        rating_a=rating,
        sources=tuple(sources.items()),
    )


def _pads(body: Body, customs: FormFacts, footprint: str, *, mirrored: bool) -> Numbering | None:
    """Lay the form's pad numbering over the body: turned by 180° where the labels begin at the other end.

    Footprints of pinmap's own carry the labels themselves: None.
    """
    if customs.pads is None or footprint.startswith(OWN) or len(body.sections) != 1 or body.sections[0].rows != 2:
        return None
    scheme, corner = customs.pads
    vertical, horizontal = corner.split()
    end = body.first.split()[1]
    if mirrored:  # the mate is seen from its own mating face: left and right change places
        end = "left" if end == "right" else "right"
    if horizontal != end:
        vertical = "bottom" if vertical == "top" else "top"
    return Numbering(scheme, f"{vertical} {end}")  # type: ignore[arg-type]


def _footprint(body: Body, form: Form, customs: FormFacts) -> str:
    section = body.sections[0]
    fits = (
        len(body.sections) == 1
        and section.rows == customs.footprint_rows
        and section.places in customs.footprint_places
        and abs(body.pitch_mm - customs.footprint_pitch_mm) < 0.005
        and abs(body.row_pitch_mm - customs.footprint_pitch_mm) < 0.005
    )
    if customs.footprint and fits:
        return customs.footprint.format(rows=section.rows, places=section.places)
    size = "_".join(f"{s.rows}x{s.places}" for s in body.sections)
    return f"{OWN}{form.title().replace(' ', '')}_{size}_P{body.pitch_mm:g}mm"
