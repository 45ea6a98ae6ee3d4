"""Passports for things made of reclaimed plastic: weighed records in, pages and tags out."""

__version__ = "0.1.0"
