"""What a printed report is made of: sections of sentences, facts, tables and pictures. Texts are written already."""

from collections.abc import Iterator
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Words:
    """A sentence or two. `warns`: it is to be seen before all the others."""

    text: str
    warns: bool = False


@dataclass(frozen=True, slots=True)
class Facts:
    """Names with their values, both as texts."""

    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a head. `empty` is said where there is no row. `title` says what it is about."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str = "Nothing on record."


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing. `name` is that of its file, without a folder; `svg` is the whole file; `caption` says what it is."""

    name: str
    svg: str
    caption: str


Block = Words | Facts | Table | Picture


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a report, under a heading of its own."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """A report that can be printed. `made` says when and from what it was made."""

    title: str
    subtitle: str
    site_name: str
    made: str
    sections: tuple[Section, ...]

    def pictures(self) -> Iterator[Picture]:
        """Give all drawings in it."""
        for section in self.sections:
            for block in section.blocks:
                if isinstance(block, Picture):
                    yield block
