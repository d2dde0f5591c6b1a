"""What is read from YAML and locks: mold.yaml, released versions, requests, tables of material values."""
