"""A page's numbers, each with its place as a reader finds it: heading, and label or sentence."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from lxml import html

from tests.numbers import sentences
from tests.numbers.quantity import LETTERS
from tests.numbers.sentences import MARK, TELLING, clean

INLINE = {
    "a",
    "abbr",
    "b",
    "br",
    "code",
    "em",
    "i",
    "output",
    "small",
    "span",
    "strong",
    "sub",
    "sup",
    "u",
    "var",
}
UNREAD = {"script", "style", "svg", "template"}
"""What a reader never sees as text; drawings are looked at for themselves."""
TOLD = ("alt", "title", "aria-label", "placeholder")
"""Attributes that are read out or shown."""


@dataclass(frozen=True, slots=True)
class Found:
    """A number as it stands on a page; `key` is its place in the page's data, if it has one."""

    place: str
    text: str
    key: str = ""


@dataclass(slots=True)
class Reader:
    """Reads a page from top to bottom; `scripts` tells whether scripts have run."""

    language: str
    scripts: bool = False
    section: str = ""
    label: str = ""
    row: str = ""
    columns: list[str] = field(default_factory=list)
    column: int = 0
    text: str = ""
    figures: list[tuple[str, str]] = field(default_factory=list)
    found: list[Found] = field(default_factory=list)

    def read(self, element: html.HtmlElement) -> None:
        """One element with everything in it."""
        tag = element.tag
        if tag == "svg":
            self.labels(element)
        if not isinstance(tag, str) or tag in UNREAD or "hidden" in element.attrib:
            return
        if tag == "noscript" and self.scripts:
            return
        self.attributes(element)
        outer = (self.section, self.label)
        inline = tag in INLINE and element.getparent().tag != "nav"
        if not inline:
            self.flush("")
            self.opened(element)
        if _is_figure(element):
            self.text += chr(0xE000 + len(self.figures))
            self.figures.append((written(element, self.language), element.get("data-n", "")))
        else:
            self.inside(element)
        if not inline:
            self.closed(element)
        if tag == "article":
            self.section, self.label = outer

    def inside(self, element: html.HtmlElement) -> None:
        """What an element holds."""
        self.text += (element.text or "") if element.tag != "br" else " "
        for child in element:
            self.read(child)
            self.text += child.tail or ""

    def labels(self, drawing: html.HtmlElement) -> None:
        """The words over a picture: a name, and under it its figure in both systems."""
        if drawing.getparent().get("data-over"):
            for text in drawing.iter("text"):
                lines = {line.get("class", ""): clean(line.text_content()) for line in text}
                figure = [lines[system] for system in ("m", "u") if system in lines]
                self.found.append(Found(f"over | {lines['']}", " · ".join(figure)))

    def attributes(self, element: html.HtmlElement) -> None:
        """Texts in attributes, and what a field holds at first."""
        told = [(f"@{name}", element.get(name)) for name in TOLD]
        if element.tag == "meta" and element.get("name") == "description":
            told.append(("@description", element.get("content")))
        if element.tag == "input" and (
            element.get("type") == "number" or element.get("inputmode") == "numeric"
        ):
            told.append((f"@{element.get('name')}", element.get("value")))
        for name, text in told:
            if text and TELLING.search(text):
                self.note(clean(text), [], name)

    def opened(self, element: html.HtmlElement) -> None:
        """Remember where in a table or list the reader is."""
        if element.tag == "table":
            self.columns = [_label(cell) for cell in element.xpath("./thead/tr/th")]
        elif element.tag == "tr":
            self.row, self.column = "", -1
        elif element.tag in ("td", "th"):
            self.column += 1
        elif element.tag == "article":
            self.section = next((_label(head) for head in element.iter("h2")), "")

    def closed(self, element: html.HtmlElement) -> None:
        """Take in what was read, then remember it if it is a label."""
        tag = element.tag
        names = {"dd": self.label, "td": f"{self.row} | {self._column()}", "th": "th"}
        self.flush(names.get(tag, tag))
        if tag == "dt":
            self.label = _label(element)
        elif tag == "th":
            self.row = _label(element)
        elif tag in ("h2", "h3") and element.get("id"):
            self.section = element.get("id")

    def _column(self) -> str:
        return self.columns[self.column] if self.column < len(self.columns) else "?"

    def flush(self, name: str) -> None:
        """Take in the text read so far."""
        text, figures = clean(self.text), self.figures
        self.text, self.figures = "", []
        if TELLING.search(text):
            self.note(text, figures, name)

    def note(self, text: str, figures: list[tuple[str, str]], name: str) -> None:
        """Every number of a text with its place: the sentence's gap, or the label."""
        left, gaps = sentences.taken_apart(text, self.language)
        for key, gap, told in sentences.telling(gaps):
            self.add(f"{self.section} | {key}:{gap}", told, figures)
        marks = MARK.findall(left)
        for mark in marks:
            self.add(f"{self.section} | {name}", mark, figures)
        rest = MARK.sub("▢", left)
        if TELLING.search(rest):
            place = f"{self.section} | {name}{' | rest' if marks else ''}"
            self.found.append(Found(place, rest))

    def add(self, place: str, told: str, figures: list[tuple[str, str]]) -> None:
        """One number: a figure, or plain text."""
        if MARK.fullmatch(told):
            text, key = figures[ord(told) - 0xE000]
            self.found.append(Found(place, text, key))
        else:
            text = MARK.sub(lambda mark: figures[ord(mark[0]) - 0xE000][0], told)
            self.found.append(Found(place, text))


def _is_figure(element: html.HtmlElement) -> bool:
    parts = {child.get("class") for child in element if isinstance(child.tag, str)}
    marked = element.tag == "var" or "data-n" in element.attrib or {"m", "u"} <= parts
    return marked and bool(TELLING.search(element.text_content()))


def written(element: html.HtmlElement, language: str = "en") -> str:
    """A figure's line as the builder writes it, also once a script took it apart; its title as a letter."""
    spans = [child for child in element if child.tag == "span"]
    text = (
        " · ".join(clean(span.text_content()) for span in spans) if spans else clean(element.text_content())
    )
    said = sentences.entries(language)
    letters = {said[f"page.origin.{origin}"]: letter for origin, letter in LETTERS.items()}
    title = element.get("title")
    return text + (letters.get(title, "?") if title else "")


def _label(element: html.HtmlElement) -> str:
    """A heading as it is seen: without the small print under it, and without a stop above it."""
    small = "".join(one.text_content() for one in element.iter("small"))
    stop = "".join(one.text_content() for one in element.iter("p"))
    return clean(_seen(element).removesuffix(small).removeprefix(stop))


def _seen(element: html.HtmlElement) -> str:
    """The text of an element without what is hidden in it."""
    parts = [element.text or ""]
    for child in element:
        if isinstance(child.tag, str) and "hidden" not in child.attrib:
            parts.append(_seen(child))
        parts.append(child.tail or "")
    return "".join(parts)


def page(text: str, language: str = "en", *, scripts: bool = False) -> list[Found]:
    """Every number that a reader of the page meets, from top to bottom."""
    reader = Reader(language=language, scripts=scripts)
    reader.read(html.document_fromstring(text))
    reader.flush("")
    return reader.found


def lines(text: str, language: str = "en") -> Iterator[Found]:
    """Every number of a plain text, line by line; a line "- label: value" has its label as its place."""
    for line in text.splitlines():
        reader = Reader(language=language)
        label, parted, value = line.strip("-* ").replace("**", "").partition(": ")
        if line.startswith("- ") and parted:
            reader.note(clean(value), [], label)
        elif TELLING.search(line):
            reader.note(clean(line.removeprefix("- ")), [], "line")
        yield from reader.found
