"""Documentation does not rot: every command, option and key is told, with an example that works."""

from __future__ import annotations

import re
import shlex
from dataclasses import fields
from pathlib import Path

import click
import pytest

from builder import measure
from builder.model import Hints
from builder.spec import mold_file, yaml_reader
from builder.spec.mold_keys import MOLD
from builder.spec.schema import Row
from builder.spec.types import Scope
from tests.docs import commands, pages

COMMANDS = list(commands())


@pytest.mark.parametrize("file", list(pages()), ids=lambda file: file.name)
def test_the_reference_page_is_the_one_that_the_code_writes(file: Path) -> None:
    assert file.read_text(encoding="utf-8") == pages()[file], "run python -m tests.docs"


@pytest.mark.parametrize(("name", "command", "context"), COMMANDS, ids=[name for name, _, _ in COMMANDS])
def test_help_tells_what_a_command_does_and_every_option_of_it(
    name: str, command: click.Command, context: click.Context
) -> None:
    text = command.get_help(context)
    assert (command.help or "").split("\n\n")[0].rstrip().endswith(".")
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help, f"{name} {parameter.opts[0]} has no help"
            assert parameter.help.endswith(".")
        assert (parameter.opts[0] if isinstance(parameter, click.Option) else "[") in text


@pytest.mark.parametrize(("name", "command", "context"), COMMANDS, ids=[name for name, _, _ in COMMANDS])
def test_the_example_in_the_help_can_be_parsed_as_it_stands(
    name: str, command: click.Command, context: click.Context
) -> None:
    _, _, after = command.get_help(context).partition("Example:")
    examples = re.findall(r"shotbook (\S+)(.*)", after)
    assert examples
    for called, rest in examples:
        assert called == name
        command.make_context(name, shlex.split(rest.split(">")[0]))


def test_the_mold_file_in_the_documentation_is_read_as_it_stands() -> None:
    page = next(text for file, text in pages().items() if file.name == "mold-file.md")
    first = page.split("```yaml\n")[1].split("```")[0]
    MOLD.read(yaml_reader.read_yaml(first, "mold-file.md"), Scope())


def test_every_hint_that_the_reading_asks_for_is_a_key_that_can_be_written() -> None:
    sources = "".join(
        file.read_text(encoding="utf-8") for file in Path(measure.__file__).parent.rglob("*.py")
    )
    asked = set(re.findall(r"[\"'` ]((?:hints|declared)\.[a-z_]+)\b(?!\()", sources))
    assert asked
    assert asked <= {row.key for row in mold_file.reference()} | {
        f"hints.{row.twin}" for row in mold_file.reference()
    }


def test_every_hint_of_the_record_can_be_written() -> None:
    written = {row.key.removeprefix("hints.") for row in mold_file.reference() if row.key.count(".") == 1}
    assert {field.name.replace("gates_at_mm", "gates") for field in fields(Hints)} <= written


@pytest.mark.parametrize("row", mold_file.reference(), ids=lambda row: row.key)
def test_every_key_that_can_be_written_is_used_by_a_stage(row: Row) -> None:
    """A key that no stage reads would promise what is not kept."""
    field = row.key.rpartition(".")[2].replace("gates", "gates_at_mm")
    package = Path(mold_file.__file__).parent.parent
    declared = {
        package / name
        for name in ("spec/mold_file.py", "model/spec.py", "spec/mold_keys.py", "cli/scaffold.py")
    }
    sources = [f for ending in ("py", "jinja") for f in package.rglob(f"*.{ending}") if f not in declared]
    used = (
        f
        for f in sources
        if "model" not in f.parts and re.search(rf"\.{field}\b", f.read_text(encoding="utf-8"))
    )
    assert next(used, None), f"no stage reads {row.key}"
