"""Molds that strangers published, read as a maker would."""
