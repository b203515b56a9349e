"""Pure: a report as one HTML file: styles inside, no scripts, nothing loaded from anywhere. Every text is escaped."""

from collections.abc import Iterator
from html import escape

from daemon.reports.style import STYLE
from daemon.reports.values import Block, Facts, Picture, Report, Section, Table, Words

_BEHIND_XML = "?>"


def html_of(report: Report) -> str:
    """Write the whole file."""
    return "\n".join(
        [
            "<!DOCTYPE html>",
            '<html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            f"<title>{escape(report.title)} · {escape(report.site_name)}</title>",
            f"<style>{STYLE}</style></head><body>",
            f"<header><p>{escape(report.site_name)}</p><h1>{escape(report.title)}</h1>",
            f"<p>{escape(report.subtitle)}</p></header><main>",
            *(line for section in report.sections for line in _section(section)),
            f"</main><footer><p>{escape(report.made)}</p></footer></body></html>\n",
        ]
    )


def _section(section: Section) -> Iterator[str]:
    yield f"<section><h2>{escape(section.title)}</h2>"
    for block in section.blocks:
        yield _block(block)
    yield "</section>"


def _block(block: Block) -> str:
    match block:
        case Words():
            begin = '<p class="warns"><b>!</b> ' if block.warns else "<p>"
            return f"{begin}{escape(block.text)}</p>"
        case Facts():
            rows = "".join(f"<dt>{escape(name)}</dt><dd>{escape(value)}</dd>" for name, value in block.rows)
            return f"<dl>{rows}</dl>"
        case Table():
            return _table(block)
        case Picture():
            return f"<figure>{_inline(block.svg)}<figcaption>{escape(block.caption)}</figcaption></figure>"


def _table(table: Table) -> str:
    if not table.rows:
        return f"<p>{escape(table.title)}: {escape(table.empty)}</p>"
    head = "".join(f'<th scope="col">{escape(each)}</th>' for each in table.head)
    rows = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in table.rows)
    caption = f"<caption>{escape(table.title)}</caption>"
    return f'<div class="wide"><table>{caption}<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table></div>'


def _inline(svg: str) -> str:
    """A drawing inside a page has no declaration before it."""
    _, found, rest = svg.partition(_BEHIND_XML)
    return rest.lstrip() if found else svg
