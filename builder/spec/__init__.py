"""Readers of YAML and lock files: mold.yaml, released versions, requests, material tables."""
