"""The MkDocs theme `shotbook`: its templates and assets lie beside this file; MkDocs finds them by it."""
