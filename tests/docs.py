"""The two reference pages of site_src, written from the code: `python -m tests.docs` writes them anew."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator, Mapping, Sequence
from html import escape
from pathlib import Path

import click

from builder.cli import main
from builder.spec import mold_file
from builder.spec.schema import Row

SITE = Path(__file__).parent.parent / "site_src"

_FILE_HEAD = """\
---
foot: true
title: The mold file
description: Every key of mold.yaml, what it means, its unit and an example.
---

# The mold file

A mold is a folder with its STL files and a `mold.yaml` beside them. Four keys are enough:

```yaml
title: Reed minnow
parts: [half-a.stl, half-b.stl]
cavities: 2
plastisol: soft
```

Everything else is there for when you know better than the reading, or want to say more. A number says its
unit in its key; where a second key is given, the same number may be written in US units instead. Points lie
in the closed mold, in millimetres: the parting face at z = 0, the first half below it.

Write text that looks like something else in quotes (`"NO"`, `"010"`). Each key stands once; references, tags
and links that lead out of the mold's folder are refused. `shotbook check` lists every fault with its line,
all at once.

An editor with a YAML language server completes and checks the file as you type when its first line is

```yaml
# yaml-language-server: $schema=../../site/data/mold-file.schema.json
```

That file is there once the site is built. The address or path of another copy does as well:
[this one](data/mold-file.schema.json), or one that you wrote with `shotbook schema > mold.schema.json`.
"""
_COMMANDS_HEAD = """\
---
foot: true
title: The commands
description: What shotbook does on the command line, with an example for each command.
---

# The commands

Each fault in your files is one sentence: file, line and key, what is wrong, what was expected, what to do.

| exit code | means |
|---|---|
| 0 | done |
| 1 | a fault in your files, a build that MkDocs ended, or, with `check --strict`, a STOP |
| 2 | the command was called incorrectly |

Results go to the standard output, everything else to the standard error. Bars and colours appear only in a
terminal. For completion in bash put `eval "$(_SHOTBOOK_COMPLETE=bash_source shotbook)"` into
`~/.bashrc`; `zsh_source` and `fish_source` do the same for zsh and fish.

Options that several commands have are listed here once; a command that has one names it.
"""
_SHARED = ("--molds", "--store", "--language", "--help")
"""Options of several commands, told once."""


def pages() -> dict[Path, str]:
    """Both pages as they should be."""
    return {SITE / "mold-file.md": _mold_file(), SITE / "commands.md": _commands()}


def commands() -> Iterator[tuple[str, click.Command, click.Context]]:
    """Each command with its name and the context of a call."""
    parent = click.Context(main, info_name="shotbook", terminal_width=78)
    for name in main.list_commands(parent):
        command = main.get_command(parent, name)
        assert command is not None
        yield name, command, click.Context(command, info_name=name, parent=parent, terminal_width=78)


def _commands() -> str:
    told = list(commands())
    shared = _shared()
    parts = [_COMMANDS_HEAD, "\n", _listed(list(shared))]
    for name, command, context in told:
        parts.append(_folded(name, escape(command.short_help or ""), _command(command, context, shared)))
    return "".join(parts)


def _shared() -> dict[tuple[str, str], str]:
    """Options that several commands have in the same words: how the help writes each, and its name."""
    _, command, context = next(one for one in commands() if one[0] == "check")
    found = {record: name for name, record in _options(command, context)}
    return {record: name for record, name in found.items() if name in _SHARED}


def _options(command: click.Command, context: click.Context) -> Iterator[tuple[str, tuple[str, str]]]:
    """Each option of a command: its first name, and how the help writes and explains it."""
    for parameter in command.get_params(context):
        if isinstance(parameter, click.Option) and (record := parameter.get_help_record(context)):
            yield parameter.opts[0], record


def _command(command: click.Command, context: click.Context, shared: Mapping[tuple[str, str], str]) -> str:
    """What `--help` says of a command, as HTML."""
    usage = " ".join([context.command_path, *command.collect_usage_pieces(context)])
    about = inspect.cleandoc(command.help or "").split("\n\n")
    records = [record for _, record in _options(command, context)]
    also = ", ".join(f"<code>{shared[one]}</code>" for one in records if one in shared)
    example = inspect.cleandoc((command.epilog or "").partition("Example:\n")[2])
    return "\n".join(
        [
            f"<p><code>{escape(usage)}</code></p>",
            *(f"<p>{escape(' '.join(one.split()))}</p>" for one in about),
            _listed([one for one in records if one not in shared]),
            f"<p>Also: {also}.</p>",
            f"<pre><code>{escape(example)}</code></pre>",
        ]
    )


def _listed(records: Sequence[tuple[str, str]]) -> str:
    """Options with what they do, as HTML."""
    rows = "\n".join(
        f"<div><dt><code>{escape(name)}</code></dt><dd>{escape(' '.join(does.split()))}</dd></div>"
        for name, does in records
    )
    return f'<dl class="sb-list">\n{rows}\n</dl>\n' if rows else ""


def _folded(head: str, more: str, inside: str, *, id_: str = "") -> str:
    """A section of reference that a tap or a link to its heading opens, as HTML."""
    return (
        f'\n<details class="sb-fold sb-reference"><summary><h2 id="{id_ or head}">{head}</h2> '
        f"<small>{more}</small></summary>\n{inside}\n</details>\n"
    )


_GROUPS = {
    "What it is": (
        "kind",
        "mold_material",
        "units",
        "summary",
        "bait_type",
        "target",
        "hook",
        "bolts",
        "stands",
    ),
    "Name and version": ("licence", "author", "version", "renamed_from"),
    "For visitors": (
        *("photos", "sources", "video", "links", "contact", "thanks", "ask", "credits", "hardware", "eyes"),
        *("colours", "print", "prices", "bed_mm"),
    ),
    "For the reading": ("hints", "declared", "shots"),
}
"""Keys of a mold that may be left out, by what they are for."""
_LEADS = {
    "hints": """<p>All places are in millimetres in the closed mold's frame, not in that of the files:</p>
<ul>
<li>the origin is the middle of the parting face of the first half in the list of parts, at z = 0;</li>
<li>x runs along the mold's longer side, towards the end with more material; y across it;</li>
<li>z points out of the first half, into the second.</li>
</ul>
<p><code>shotbook measure</code> and the pictures use the same frame. When the reading asks a question, it
offers each answer as a line to paste.</p>
""",
}


def _mold_file() -> str:
    rows = list(mold_file.reference())
    own = {row.key: row for row in rows if "." not in row.key}
    parts = [_FILE_HEAD, "\n## Keys that every mold needs\n\n"]
    parts.append(_entries([row for row in own.values() if row.required]))
    grouped = {name for names in _GROUPS.values() for name in names}
    parts += [_keys(head, [own[name] for name in names]) for head, names in _GROUPS.items()]
    if others := [row for name, row in own.items() if not row.required and name not in grouped]:
        parts.append(_keys("Others", others))
    inner = dict.fromkeys(row.key.rpartition(".")[0] for row in rows if "." in row.key)
    for group in inner:
        of_group = [row for row in rows if row.key.rpartition(".")[0] == group]
        parts.append(_keys(f"Keys inside <code>{group}</code>", of_group, _LEADS.get(group, "")))
    return "".join(parts)


def _keys(head: str, rows: Sequence[Row], lead: str = "") -> str:
    """A group of keys, folded, their names in view."""
    id_ = re.sub(r"[^\w\s-]", "", re.sub(r"<[^>]*>", "", head)).lower().replace(" ", "-")
    names = ", ".join(row.key.rpartition(".")[2] for row in rows)
    return _folded(head, names, lead + _entries(rows), id_=id_)


def _entries(rows: Sequence[Row]) -> str:
    return "<ul>\n" + "".join(map(_entry, rows)) + "</ul>\n"


def _entry(row: Row) -> str:
    """A key as an item of a list, which a phone shows better than a table of five columns."""
    name = row.key.rpartition(".")[2]
    either = f" or <b><code>{row.twin}</code></b>" if row.twin else ""
    without = (
        "needed"
        if row.required
        else f"without it: {escape(row.default)}"
        if row.default
        else "may be left out"
    )
    takes = escape(row.type)
    for names in ("plastisols", "mold materials"):
        takes = takes.replace(f"list of {names}", f'<a href="materials.html">list of {names}</a>')
    example = escape(f"{name}: {row.example}")
    return (
        f"<li><b><code>{name}</code></b>{either} ({without}). {escape(row.doc)} Takes {takes}: "
        f"<code>{example}</code></li>\n"
    )


if __name__ == "__main__":
    for file, text in pages().items():
        file.write_text(text, encoding="utf-8", newline="\n")
