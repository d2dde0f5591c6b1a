"""The tables with one value of one plastisol changed, as a new edition of them would be."""

from __future__ import annotations

from dataclasses import replace

from builder.model import Tables


def changed(tables: Tables, plastisol: str, name: str, value: float, spread: float = 0.03) -> Tables:
    """The value with a range of `spread` of it to each side."""
    entries, off = [], spread * value
    for entry in tables.plastisols:
        values = dict(entry.values)
        if entry.id == plastisol:
            values[name] = replace(values[name], value=value, low=value - off, high=value + off)
        entries.append(replace(entry, values=values))
    return replace(tables, plastisols=tuple(entries))
