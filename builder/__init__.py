"""Shotbook: from a mold's files to a page that a stranger can shoot it by.

The stages, in reading order (each module imports lower floors only; tests/test_floors.py holds the table):

floor 0, words
    disk       writing whole or not at all
    model      every record that crosses a stage
    problems   what is told when something is wrong
    records    records to JSON and back
    texts      sentences of the language file, filled in
    units      numbers to text, metric and US

floor 1, pure computation and doors
    heat       contact temperature, cooling: published formulas
    recipes    how much of everything for a batch
    published  what anybody may read as data
    conduction two layers: temperatures, set time, skin
    cycle      shot after shot: how the mold's wall softens
    clamping   opening force, the gap between bolts
    flow       filling, pressure, venting, feeding
    mesh       STL bytes to vouched solids, and what is done with solids
    reader     YAML text to values with lines
    engines    here, on all cores, or on a cluster
    pack       zip, 3MF, STL and checksums as bytes
    plots      records to drawings of lines and bands
    kinds      the types a value of a file can have
    keys       the keys of a file, declared once: checks, schema, reference

floor 2, the stages
    mold_keys  the keys of mold.yaml
    spec       mold.yaml to MoldSpec
    requests   what people asked for
    materials  tables to Plastisol and MoldMaterial
    measure    solids to Measurement
    checks     values from outside, computed by our formulas
    advice     Measurement and materials to Advice
    pictures   solids to images
    pages      records to Markdown
    compare    the numbers that versions are compared by
    leaflet    text that travels with a version
    report     records to text for a terminal
    pagetables records to the tables that a page's script puts down
    pagedata   records to what a page's scripts know

floor 3, orchestra
    store      content-addressed results, safe to delete
    versions   released versions, checked against their locks
    build      one mold: the stages called in order
    draft      a first mold.yaml from the STL files
    fleet      all molds, read on an engine

floor 4, the collection
    catalogue  all molds and versions
    site       the whole generated site as plain data
    rendered   HTML of generated pages, kept by their Markdown
    giveaway   the files of a version, and its zip
    release    a version frozen

floor 5, shells
    plugin     MkDocs
    cli        the command shotbook
"""

__all__: list[str] = []
