"""Shotbook: from a mold's files to a page that a stranger can shoot it by.

The rooms of the package. Each imports only rooms above it in this list; tests/test_floors.py checks that.

    model      the records that stages exchange: frozen, with the unit in each field name
    base       faults, units, sentences, records as JSON, writing to disk, the store, workers
    spec       reads YAML: mold.yaml, released versions, requests, material tables
    mesh       STL bytes to closed solids; cuts, cross-sections, flat regions
    physics    heat and flow: one pure function for each published formula
    measure    solids to Measurement: closes the mold, finds the cavity, the flow tree, features
    advice     Measurement and materials to Advice: amounts, temperatures, times, findings
    pictures   solids to images and drawings
    stages     what each stage is given of a mold, the store keys of the results, their test vectors
    build      runs the stages for one mold
    history    released versions: the numbers they are compared by, and what reads differently today
    site       all molds to pages, data and files by address
    release    freezes, bundles and describes a version
    theme      the MkDocs theme: templates, styles and scripts of the site's frame
    plugin     the MkDocs plugin
    cli        the command shotbook

Beside them: tables (material values), texts (sentences), templates (pages).
"""

__all__: list[str] = []
