"""The two reference pages of site_src, written from the code: `python -m tests.docs` writes them anew."""

from __future__ import annotations

from collections.abc import Iterator
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
and links that lead out of the mold's folder are refused. `shotbook check` tells every fault with its line at
once.

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

Faults of your files are told in one sentence each, with the line.

| exit code | means |
|---|---|
| 0 | done |
| 1 | a fault in your files, a build that MkDocs ended, or, with `check --strict`, a STOP |
| 2 | the command was called the wrong way |

What is asked for is printed to the standard output, all else to the standard error. Bars and colours are
only for a terminal. For completion in bash put `eval "$(_SHOTBOOK_COMPLETE=bash_source shotbook)"` into
`~/.bashrc`; `zsh_source` and `fish_source` do the same for zsh and fish.
"""


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
    parts = [_COMMANDS_HEAD]
    for name, command, context in commands():
        parts.append(f"\n## {name}\n\n```text\n{command.get_help(context)}\n```\n")
    return "".join(parts)


_LEADS = {
    "hints": """All places are in millimetres in the closed mold's frame, whatever the files' own origin:

- the origin is the middle of the parting face of the first half in the list of parts, which lies at z = 0;
- x runs along the mold's longer side, towards the end with more material; y across it;
- z points out of the first half, into the second.

`shotbook measure` and the pictures tell places in the same frame. Where the reading asks, it offers each
answer as a line that works when it is pasted.

""",
}


def _mold_file() -> str:
    parts = [_FILE_HEAD]
    groups: dict[str, list[Row]] = {}
    for row in mold_file.reference():
        groups.setdefault(row.key.rpartition(".")[0], []).append(row)
    for group, rows in groups.items():
        head = f"Keys inside `{group}`" if group else "Keys"
        parts += [f"\n## {head}\n\n", _LEADS.get(group, ""), *map(_entry, rows)]
    return "".join(parts)


def _entry(row: Row) -> str:
    """A key as an item of a list, which a phone shows better than a table of five columns."""
    name = row.key.rpartition(".")[2]
    either = f" or **`{row.twin}`**" if row.twin else ""
    without = "needed" if row.required else f"without it: {row.default}" if row.default else "may be left out"
    takes = row.type
    for names in ("plastisols", "mold materials"):
        takes = takes.replace(f"list of {names}", f"[list of {names}](materials.md)")
    return f"- **`{name}`**{either} ({without}). {row.doc} Takes {takes}: `{name}: {row.example}`\n"


if __name__ == "__main__":
    for file, text in pages().items():
        file.write_text(text, encoding="utf-8", newline="\n")
