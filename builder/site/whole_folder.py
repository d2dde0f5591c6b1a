"""The generated pages as a folder that needs nothing else: for another generator, or to open as it is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from builder.site import embedding, policy
from builder.site.offline import Generated, Thing
from builder.spec import yaml_reader


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A generated page taken apart."""

    head: str
    """Its front matter as it stands."""
    title: str
    description: str
    scripts: Sequence[str]
    body: str


def whole(generated: Generated, shell: Mapping[str, str], *, html: bool) -> Generated:
    """Everything that the pages need beside them; `html` makes whole pages of what is Markdown otherwise.

    `shell` are the words of the frame (`site_map.shell`).
    """
    return {**embedding.assets(material=False), **dict(_written(generated, shell, html=html))}


def apart(text: str) -> Page:
    """The parts of a generated page.

    >>> apart('---\\ntitle: "A"\\ndescription: "B"\\n---\\n<p>C</p>').title
    'A'
    """
    _, head, body = text.split("---\n", 2)
    told = yaml_reader.read_plain(head, "front matter")
    meta = told if isinstance(told, dict) else {}
    listed = meta.get("scripts", [])
    scripts = [str(name) for name in listed] if isinstance(listed, list) else []
    title, description = str(meta.get("title", "")), str(meta.get("description", ""))
    if "<h1" not in body:
        body = f"<h1>{escape(title)}</h1>\n{body}"
    return Page(head=head, title=title, description=description, scripts=scripts, body=body)


def _written(generated: Generated, shell: Mapping[str, str], *, html: bool) -> Iterator[tuple[str, Thing]]:
    for uri, thing in generated.items():
        if not uri.endswith(".md"):
            yield uri, thing
            continue
        page, base = apart(str(thing)), "/".join([".."] * uri.count("/")) or "."
        body = embedding.wrapped(page.body, base, shell, scripts=page.scripts)
        if html:
            yield f"{uri.removesuffix('.md')}.html", _document(page, body, base, shell["language"])
        else:
            yield uri, f"---\n{page.head}---\n{_in_one_block(body)}"


def _in_one_block(body: str) -> str:
    """HTML that Markdown leaves as it is: a blank line would end the block."""
    return "".join(f"{line}\n" for line in body.splitlines() if line.strip())


def _document(page: Page, body: str, base: str, language: str) -> str:
    """A whole page."""
    return (
        f'<!doctype html>\n<html lang="{language}">\n<head>\n<meta charset="utf-8">\n'
        f"{policy.meta(policy.of_page())}\n"
        '<meta name="viewport" content="width=device-width,initial-scale=1">\n'
        f"<title>{escape(page.title)}</title>\n"
        f'<meta name="description" content="{escape(page.description)}">\n'
        f'<link rel="icon" href="{base}/assets/icon.svg">\n</head>\n'
        f"<body>\n<main>\n{body}</main>\n</body>\n</html>\n"
    )
