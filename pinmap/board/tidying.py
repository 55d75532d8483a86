"""Tidies a routed channel: puts trunks on better tracks, so that jogs, vias and length go."""

from __future__ import annotations

from collections import defaultdict

from msgspec import Struct


class Piece(Struct, eq=False):
    """A trunk that may be moved, and the posts that end or cross at it; it `enters` or `leaves` at a channel's end."""

    net: int
    track: int
    first: int
    last: int
    enters: bool
    leaves: bool
    posts: list[Post]

    @property
    def mask(self) -> int:
        """The columns it covers, as bits."""
        return (1 << (self.last + 1)) - (1 << self.first)


class Post(Struct, eq=False):
    """A branch with all it joins: `edges` are the rows of the edges it reaches."""

    net: int
    column: int
    edges: list[int]
    pieces: list[Piece]

    def rows(self, but: Piece | None = None) -> list[int]:
        """Give the rows it has to reach; without those of a piece."""
        return self.edges + [piece.track for piece in self.pieces if piece is not but]


#: (net, track or column, first, last)
Line = tuple[int, int, int, int]


class Board:
    """The copper of a channel of `tracks` tracks, as pieces and posts.

    Columns count from 0 to `end`; the nets `left` and `right` leave the channel there.
    """

    def __init__(
        self, tracks: int, end: int, left: frozenset[int], right: frozenset[int], lines: tuple[list[Line], list[Line]]
    ):
        self.tracks = tracks
        trunks, branches = lines
        self.pieces = [
            Piece(net, track, first, last, first == 0 and net in left, last == end and net in right, [])
            for net, track, first, last in trunks
        ]
        self.columns: dict[int, list[Post]] = defaultdict(list)
        self.taken = [0] * tracks
        self.own: dict[int, list[int]] = defaultdict(lambda: [0] * tracks)
        self.of_net: dict[int, list[Piece]] = defaultdict(list)
        self.posts_of: dict[int, list[Post]] = defaultdict(list)
        for piece in self.pieces:
            self._take(piece)
            self.of_net[piece.net].append(piece)
        for net, column, upper, lower in branches:
            post = Post(net, column, [row for row in (upper, lower) if row in (-1, tracks)], [])
            for piece in self.of_net[net]:
                if upper <= piece.track <= lower and piece.first <= column <= piece.last:
                    post.pieces.append(piece)
                    piece.posts.append(post)
            self.columns[column].append(post)
            self.posts_of[net].append(post)

    def _take(self, piece: Piece) -> None:
        self.taken[piece.track] |= piece.mask
        self.own[piece.net][piece.track] |= piece.mask

    def gain(self, piece: Piece, track: int) -> tuple[int, int] | None:
        """Give the vias and the length saved by putting `piece` on `track`; None where it cannot go there."""
        mask = piece.mask
        if self.taken[track] & mask & ~self.own[piece.net][track]:
            return None
        vias = length = 0
        own = [other for other in self.of_net[piece.net] if other is not piece]
        joined = None
        for other in own:
            if other.track == track and other.mask & (mask | mask << 1 | mask >> 1):
                if joined or not other.mask & mask or not any(post in other.posts for post in piece.posts):
                    return None
                joined = other
        if joined:
            length += (joined.mask & mask).bit_count() - 1
        for post in piece.posts:
            old, rest = post.rows(), post.rows(but=piece)
            length += max(old) - min(old)
            if joined and joined in post.pieces:
                vias += 1 if len(rest) > 1 else 2
                if len(rest) == 1:
                    continue
            upper, lower = min(track, *rest), max(track, *rest)
            length -= lower - upper
            if upper >= min(old) and lower <= max(old):
                continue
            for neighbour in self.columns[post.column]:
                if neighbour is not post:
                    there = neighbour.rows()
                    if min(there) <= lower and max(there) >= upper:
                        return None
            for other in own:
                crossed = upper <= other.track <= lower and other.first <= post.column <= other.last
                if crossed and other not in post.pieces and other is not joined:
                    return None
        for post in self.posts_of[piece.net]:
            if (
                piece.first <= post.column <= piece.last
                and post not in piece.posts
                and not (joined and joined in post.pieces)
                and min(rows := post.rows()) <= track <= max(rows)
            ):
                return None
        return vias, length

    def move(self, piece: Piece, track: int) -> None:
        """Put `piece` on `track`, where `gain` allows it."""
        self.taken[piece.track] &= ~piece.mask
        self.own[piece.net][piece.track] &= ~piece.mask
        for other in self.of_net[piece.net]:
            if other is not piece and other.track == piece.track:
                self._take(other)
        joined = None
        for other in self.of_net[piece.net]:
            if other is not piece and other.track == track and other.mask & piece.mask:
                joined = other
        piece.track = track
        if joined:
            self.taken[track] &= ~joined.mask
            self.own[piece.net][track] &= ~joined.mask
            self.of_net[piece.net].remove(joined)
            self.pieces.remove(joined)
            for post in joined.posts:
                post.pieces.remove(joined)
                if post not in piece.posts:
                    piece.posts.append(post)
                    post.pieces.append(piece)
                elif len(post.rows()) == 1:
                    piece.posts.remove(post)
                    self.columns[post.column].remove(post)
                    self.posts_of[post.net].remove(post)
            reached = [post.column for post in piece.posts]
            if joined.enters or not piece.enters:
                piece.first = min([joined.first] if joined.enters else reached)
            if joined.leaves or not piece.leaves:
                piece.last = max([joined.last] if joined.leaves else reached)
            piece.enters, piece.leaves = piece.enters or joined.enters, piece.leaves or joined.leaves
        self._take(piece)

    def tidy(self, budget: int) -> None:
        """Move pieces as long as that saves vias, or length without costing vias; at most `budget` looks."""
        better = True
        while better and budget > 0:
            better = False
            for piece in list(self.pieces):
                if piece not in self.pieces:
                    continue
                budget -= self.tracks
                best, place = (0, 0), -1
                for track in range(self.tracks):
                    if track != piece.track and (gain := self.gain(piece, track)) and gain > best:
                        best, place = gain, track
                if place >= 0:
                    self.move(piece, place)
                    better = True

    def lines(self) -> tuple[list[Line], list[Line]]:
        """Give the trunks and the branches."""
        posts = [post for column in self.columns.values() for post in column]
        return (
            [(piece.net, piece.track, piece.first, piece.last) for piece in self.pieces],
            [(post.net, post.column, min(post.rows()), max(post.rows())) for post in posts],
        )
