"""Reading a finished page with the standard library's parser, for the tests of the pages."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

_VOID = {"meta", "br", "input", "path", "line", "rect", "use", "link", "img", "hr"}


@dataclass
class Element:
    """An element with its attributes and the text inside."""

    tag: str
    attributes: dict[str, str]
    text: str = ""
    inside: list[str] = field(default_factory=list)


class Page(HTMLParser):
    """All elements of a page in their order."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[Element] = []
        self._open: list[Element] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(
            tag,
            {name: value or "" for name, value in attrs},
            inside=[outer.tag for outer in self._open],
        )
        self.elements.append(element)
        if tag not in _VOID:
            self._open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in _VOID:
            self._open.pop()

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop().tag != tag:
            pass

    def handle_data(self, data: str) -> None:
        for element in self._open:
            element.text += data

    def all(self, tag: str) -> list[Element]:
        """The elements of a tag."""
        return [element for element in self.elements if element.tag == tag]

    def with_class(self, name: str) -> list[Element]:
        """The elements that carry a class."""
        return [element for element in self.elements if name in element.attributes.get("class", "").split()]

    def by_id(self, name: str) -> Element:
        """The element of that id."""
        return next(element for element in self.elements if element.attributes.get("id") == name)
