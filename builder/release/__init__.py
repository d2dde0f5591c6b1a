"""Released versions: frozen, bundled for download, described."""
