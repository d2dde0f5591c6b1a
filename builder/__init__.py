"""Shotbook: from a mold's files to a page that a stranger can shoot it by.

The rooms. Each imports only rooms that stand above it in this list; tests/test_floors.py holds it to that.

    model      every record that crosses a stage: frozen, its units in the names of its fields
    base       problems, units, texts, records as JSON, files on disk, the store, workers
    spec       YAML and locks to records: mold.yaml, released versions, requests, material tables
    mesh       STL bytes to closed solids, and what is done with solids: cuts, sections, flat regions
    physics    heat and flow: one pure function for each published formula
    measure    solids to Measurement: closing the mold, its cavity, the flow tree, features
    advice     Measurement and materials to Advice: amounts, temperatures, times, findings
    pictures   solids to images and drawings
    build      one mold: the stages called in order
    history    released versions: the numbers they are compared by, and what reads differently today
    site       all molds to pages, data and files by address
    release    a version frozen, bundled, described
    plugin     MkDocs
    cli        the command shotbook

Beside them: tables (material values), texts (sentences), templates (pages), theme (the site's frame).
"""

__all__: list[str] = []
