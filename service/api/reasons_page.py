"""The reference of reasons as one page for people, in the manner of the schema's page."""

from collections.abc import Iterator
from html import escape

from service.api.page import text, whole_page
from service.fit.wording import reference
from service.fit.wording.entries import Section


def reasons_page() -> str:
    """Every code that an answer bears, as HTML."""
    return whole_page(reference.TITLE, _lines())


def _lines() -> Iterator[str]:
    yield from (f"<p>{text(paragraph)}</p>" for paragraph in reference.ABOUT)
    yield '<p>Questions, fields and limits: <a href="/schema">the schema</a>.</p>'
    for section in reference.SECTIONS:
        yield f"<h2>{escape(section.title)}</h2><p>{text(section.about)}</p>"
        yield from _entries(section)


def _entries(section: Section) -> Iterator[str]:
    kind = section.title.lower().replace(" ", "-")
    for entry in section.entries:
        yield f'<section id="{escape(kind)}-{escape(entry.code)}"><h3>{escape(entry.heading)}</h3>'
        yield f"<p>{text(entry.meaning)}</p><table>"
        for label, told in reference.facts_of(entry):
            yield f"<tr><th>{escape(label)}</th><td>{text(told)}</td></tr>"
        yield "</table></section>"
